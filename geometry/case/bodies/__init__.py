"""The bodies of a case besides the poles of a row: bars, plates, blades, screws, covers, spacers of any form.

A body stands on its `bottom` or hangs from its `top` over (x, y) = `centre`. x runs along the strings towards the
bridge, y across them, z up from the bobbin's top plate.
"""

from typing import Annotated, TypeAlias

from pydantic import Field

from .kinds import BoxBody, CoverBody, CylinderBody, PlateBody, PrismBody, RevolvedBody, ScrewBody, WedgeBody
from .table import DIRECTIONS, NON_MAGNETIC, BodyTable, Direction, Magnetised

Body: TypeAlias = Annotated[
    BoxBody | CylinderBody | CoverBody | PrismBody | RevolvedBody | WedgeBody | PlateBody | ScrewBody,
    Field(discriminator="shape"),
]

__all__ = [
    "DIRECTIONS",
    "NON_MAGNETIC",
    "Body",
    "BodyTable",
    "BoxBody",
    "CoverBody",
    "CylinderBody",
    "Direction",
    "Magnetised",
    "PlateBody",
    "PrismBody",
    "RevolvedBody",
    "ScrewBody",
    "WedgeBody",
]
