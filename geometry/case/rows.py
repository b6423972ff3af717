"""Rows of poles as they stand: the poles of one row with their places, and their bodies for the solid solver."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from ..shapes.bodies import Form, Revolved, SolidBody
from ..shapes.row import FormedShape, PartShape, PlacedPole, PoleShape
from .poles import Pole, Row
from .threads import Screw


@dataclass(frozen=True, kw_only=True)
class Face:
    """What a string's gap counts from.

    Attributes
    ----------
    height : float
        Over the top plate, m.
    x : float
        Its place along the strings, m.
    name : str
        What messages call it.
    away : float
        How far beside the string it stands, m.
    pole : int
        Number of the pole through all rows; 0 for a body.
    body : int
        Number of the body, from 1; 0 for a pole.
    """

    height: float
    x: float
    name: str
    away: float = 0.0
    pole: int = 0
    body: int = 0


@dataclass(frozen=True, kw_only=True)
class PoleRow:
    """One row of a case.

    Attributes
    ----------
    row : Row
        Where its poles stand.
    pole : tuple of Pole
        How they are made.
    where : str
        What a sentence about it begins with: "" for the first row, "second_coil 1, " for the row of a second coil.
    before : int
        Poles in the rows before it; they count on through all rows.
    """

    row: Row
    pole: tuple[Pole, ...]
    where: str = ""
    before: int = 0

    def numbers(self, entry: int) -> tuple[int, ...]:
        """Numbers (from 1, in this row) of the poles made like the `entry`-th (from 0) item of `pole`."""
        at = self.pole[entry].at
        if at is not None:
            return at
        named = {n for pole in self.pole for n in pole.at or ()}
        return tuple(n for n in range(1, len(self.row.places()) + 1) if n not in named)

    @property
    def coil(self) -> int:
        """Which coil, counted from 0, goes round the row: 0 for [row], the number of the second coil that has it."""
        return int(self.where.removeprefix("second_coil ").removesuffix(", ")) if self.where else 0

    @property
    def path_of_faces(self) -> str:
        """Where the heights of its faces stand in the file: "row.face" or "second_coil.2.row.face"."""
        return f"second_coil.{self.coil}.row.face" if self.coil else "row.face"

    def screws(self) -> tuple[Screw | None, ...]:
        """What sets the height of each pole along the row; None where it has no thread."""
        found: dict[int, Screw | None] = {}
        for entry, pole in enumerate(self.pole):
            found.update(dict.fromkeys(self.numbers(entry), pole.screw))
        return tuple(found[n] for n in range(1, len(self.row.places()) + 1))

    def placed(self) -> tuple[PlacedPole, ...]:
        """The poles in their order along the row; equal poles share one shape."""
        return self._placed

    @cached_property
    def _placed(self) -> tuple[PlacedPole, ...]:
        shapes: dict[int, PoleShape] = {}
        for entry, pole in enumerate(self.pole):
            shape = pole.pole_shape()
            shapes.update(dict.fromkeys(self.numbers(entry), shape))
        places = zip(self.row.places(), self.row.faces(), strict=True)
        return tuple(
            PlacedPole(y=y, face=face, shape=shapes[n]) for n, (y, face) in enumerate(places, start=1)
        )

    def nearest(self, y: float) -> int:
        """Index (from 0, in this row) of the pole nearest to a place across the strings."""
        places = self.row.places()
        return min(range(len(places)), key=lambda i: abs(places[i] - y))

    def face_under(self, y: float) -> Face:
        """The face of the pole nearest to a place across the strings."""
        n = self.nearest(y)
        number = self.before + n + 1
        away = abs(self.row.places()[n] - y)
        if not self.is_round:  # a pole may be a blade under several strings
            low, high = self.bounds(n + 1)
            away = max(low - y, y - high, 0.0)
        return Face(height=self.row.faces()[n], x=self.row.x, name=f"the face of pole {number}", away=away,
                    pole=number)

    def holds(self, y: float) -> bool:
        """Whether a place across the strings is over this row: between its ends, or half a space beyond them."""
        places = sorted(self.row.places())
        if len(places) == 1:
            return abs(y - places[0]) <= max(part.radius for part in self.placed()[0].shape.parts)
        first, last = (places[1] - places[0]) / 2, (places[-1] - places[-2]) / 2
        return places[0] - first <= y <= places[-1] + last

    @property
    def is_round(self) -> bool:
        """Whether all its poles are bodies of revolution on their axes."""
        return all(pole.is_round for pole in self.pole)

    def bodies(self) -> tuple[SolidBody, ...]:
        """Every part of every pole, from the first pole on and from the top down."""
        return tuple(body for n in range(1, len(self.row.places()) + 1) for body in self.standing(n))

    def standing(self, number: int) -> tuple[SolidBody, ...]:
        """Every part of the pole with that number (from 1, in this row), from the top down."""
        pole, names = self._placed[number - 1], self._names[number]
        return tuple(_body(part, f"pole {self.before + number}, part {name}", self.row.x, pole)
                     for name, part in zip(names, pole.shape.parts, strict=True))

    def bounds(self, number: int) -> tuple[float, float]:
        """From where to where the pole with that number (from 1, in this row) reaches across the strings, m."""
        pole = self.placed()[number - 1]
        ends = [(pole.y + low, pole.y + high) for low, high in (part.across for part in pole.shape.parts)]
        return min(low for low, _ in ends), max(high for _, high in ends)

    def tables(self, number: int) -> tuple[int, ...]:
        """Which item of `part` (from 1) each shape of the pole with that number (from 1, in this row) is of."""
        entry = next(e for e in range(len(self.pole)) if number in self.numbers(e))
        return tuple(j for j, own in enumerate(self.pole[entry].shapes(), start=1) for _ in own)

    @cached_property
    def _names(self) -> dict[int, tuple[str, ...]]:
        """What the shapes of each pole are called after it: "2", and "2 below" what is under a step of it."""
        found: dict[int, tuple[str, ...]] = {}
        for entry, pole in enumerate(self.pole):
            names = tuple(f"{j}{' below' * k}" for j, own in enumerate(pole.shapes(), start=1)
                          for k in range(len(own)))
            found.update(dict.fromkeys(self.numbers(entry), names))
        return found


def _body(part: PartShape, name: str, x: float, pole: PlacedPole) -> SolidBody:
    form: Form
    if isinstance(part, FormedShape):
        form = part.form.moved(x, pole.y, pole.face)
    else:
        form = Revolved(outline=tuple((r, round(z + pole.face, 12)) for r, z in part.outline), x=x, y=pole.y)
    return SolidBody(
        name=name,
        material=part.material,
        form=form,
        magnetisation=(0.0, 0.0, float(part.polarity)) if part.polarity else None,
        state=part.state,
        axis_at=(x, pole.y) if isinstance(part, FormedShape) else None,
    )
