"""Forms made of pieces: what they are by themselves, and turned.

A form has axes of its own; x and y count from the `centre` of the body, or from that of the piece.
"""

from __future__ import annotations

from abc import abstractmethod
from dataclasses import dataclass
from math import pi
from typing import TYPE_CHECKING, Annotated, Any, Literal, TypeAlias

from pydantic import Field, model_validator

from ...errors import CaseError
from ...shapes.pieces import FormPiece
from ...shapes.placement import Placement, about, lying
from ..keys import Quantity, Table
from .table import Level, Place, levels, one_height

if TYPE_CHECKING:
    from ...kernel.measure import Measures

Angle = Annotated[float, Quantity("angle", -2 * pi, 2 * pi)]
Lies: TypeAlias = Literal["upright", "along the strings", "across the strings"]
LIES: dict[Lies, int] = {"upright": 2, "along the strings": 0, "across the strings": 1}
Pieces: TypeAlias = tuple[FormPiece, ...]


class Rotation(Table):
    """One turn about an axis through the middle of the form."""

    about: Annotated[
        Literal["x", "y", "z"],
        Field(description="The axis: x along the strings, y across them, z up."),
    ]
    by: Annotated[Angle, Field(description="How far; from y to z about x, from z to x about y, from x to y about z.")]


Rotations = Annotated[
    tuple[Rotation, ...],
    Field(max_length=6, description="Turns about the middle of its form, one after the other."),
]


@dataclass(frozen=True, kw_only=True)
class Made:
    """What a form is by itself, in its own axes.

    Attributes
    ----------
    kind : str
        What reports call it.
    joined, cut : tuple of FormPiece
    thickness : float
        What elements are sized by, m.
    bar : bool
        Whether formulas take it for a bar; else for a rod.
    """

    kind: str
    joined: Pieces
    cut: Pieces = ()
    thickness: float
    bar: bool = True


class FormTable(Table):
    """Anything with a form of its own, a body or a piece of one."""

    @abstractmethod
    def made(self) -> Made:
        """The form in its own axes.

        Raises
        ------
        CaseError
            If its sizes cannot be; the sentence begins with the key.
        """


class PieceTable(FormTable):
    """What is joined to a body or cut from it: a form in its place on the body."""

    centre: Annotated[
        tuple[Place, Place], Field(description="Place [x, y] of its middle, from that of the body.")
    ] = (0.0, 0.0)
    bottom: Annotated[
        Level | None, Field(description="Height of its underside over the body's upper side; or give top.")
    ] = None
    top: Annotated[
        Level | None, Field(description="Height of its upper side over the body's upper side; or give bottom.")
    ] = None
    rotated: Rotations = ()

    @model_validator(mode="after")
    def _at_one_height(self) -> PieceTable:
        one_height(self.bottom, self.top)
        refused(self.made)
        return self

    def pieces(self, upper: float) -> Pieces:
        """In the axes of the body, whose upper side lies at `upper`."""
        made = self.made()
        joined, _ = turned(made.joined, (), self.rotated)
        now = measured(joined)
        low, _ = levels(self.bottom, self.top, now.high[2] - now.low[2])
        return tuple(FormPiece(shape=p.shape, placement=p.placement.moved(*self.centre, upper + low - now.low[2]))
                     for p in joined)


def turned(joined: Pieces, cut: Pieces, rotations: tuple[Rotation, ...], main: Made | None = None,
            ) -> tuple[Pieces, Pieces]:
    """Everything turned about the middle of the box round the main form, or round all."""
    if not rotations:
        return joined, cut
    box = measured(joined, cut) if main is None else measured(main.joined, main.cut)
    x, y, z = ((a + b) / 2 for a, b in zip(box.low, box.high, strict=True))
    way = Placement(shift=(-x, -y, -z))
    for rotation in rotations:
        way = way.then(about("xyz".index(rotation.about), rotation.by))
    way = way.moved(x, y, z)
    return tuple(p.then(way) for p in joined), tuple(p.then(way) for p in cut)


def laid(shapes: tuple[FormPiece, ...], lies: Lies, length: float) -> Pieces:
    """What runs up from z = 0 to `length`, laid along an axis; what lies has its middle over the centre."""
    if lies == "upright":
        return shapes
    low = Placement(shift=(0.0, 0.0, -length / 2))
    return tuple(p.then(low).then(lying(LIES[lies])) for p in shapes)


def refused(check: Any) -> None:
    """Sentences of geometry are a reader's faults."""
    try:
        check()
    except CaseError as error:
        raise ValueError(str(error)) from None


def measured(joined: Pieces, cut: Pieces = (), own: int = 0) -> Measures:
    """As of the kernel, which is loaded when it is needed."""
    from ...kernel import measure

    return measure.measured(joined, cut, own)
