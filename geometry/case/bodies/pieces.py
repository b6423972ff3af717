"""What can be joined to a body or cut from it, and where it is on the body."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from pydantic import Field

from .blocks import BoxForm, CylinderForm, WedgeForm
from .made import PieceTable
from .prism import PrismForm
from .revolved import RevolvedForm


class BoxPiece(BoxForm, PieceTable):
    """A box."""

    shape: Literal["box"]


class CylinderPiece(CylinderForm, PieceTable):
    """A cylinder."""

    shape: Literal["cylinder"]


class PrismPiece(PrismForm, PieceTable):
    """A prism."""

    shape: Literal["prism"]


class RevolvedPiece(RevolvedForm, PieceTable):
    """A body of revolution."""

    shape: Literal["revolved"]


class WedgePiece(WedgeForm, PieceTable):
    """A wedge."""

    shape: Literal["wedge"]


OfABody: TypeAlias = Annotated[
    BoxPiece | CylinderPiece | PrismPiece | RevolvedPiece | WedgePiece, Field(discriminator="shape")
]
