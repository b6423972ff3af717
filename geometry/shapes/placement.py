"""Where a piece of a body stands, and how it is turned: p' = R p + s, R a rotation, lengths in m."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeAlias

Vector: TypeAlias = tuple[float, float, float]
Rows: TypeAlias = tuple[Vector, Vector, Vector]
_STILL: Rows = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
_LYING: tuple[Rows, Rows, Rows] = (
    ((0.0, 0.0, 1.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)),
    ((1.0, 0.0, 0.0), (0.0, 0.0, -1.0), (0.0, 1.0, 0.0)),
    _STILL,
)


@dataclass(frozen=True, kw_only=True)
class Placement:
    """A rotation, then a shift.

    Attributes
    ----------
    rows : three rows of three numbers
        Of the rotation matrix.
    shift : (float, float, float)
        m.
    """

    rows: Rows = _STILL
    shift: Vector = (0.0, 0.0, 0.0)

    def at(self, point: Vector) -> Vector:
        """Where a point comes to."""
        x, y, z = (sum(r * p for r, p in zip(row, point, strict=True)) + s
                   for row, s in zip(self.rows, self.shift, strict=True))
        return x, y, z

    def then(self, other: Placement) -> Placement:
        """This one first, the other after it."""
        columns = tuple(zip(*self.rows, strict=True))
        a, b, c = (_row(row, columns) for row in other.rows)
        return Placement(rows=(a, b, c), shift=other.at(self.shift))

    def moved(self, x: float, y: float, z: float) -> Placement:
        """The same, elsewhere; to a picometre, so that what stands in one place is equal however it came there."""
        p, q, r = (round(s + by, 12) for s, by in zip(self.shift, (x, y, z), strict=True))
        return Placement(rows=self.rows, shift=(p, q, r))


def _row(row: Vector, columns: tuple[tuple[float, ...], ...]) -> Vector:
    x, y, z = (_tidy(sum(r * c for r, c in zip(row, column, strict=True))) for column in columns)
    return x, y, z


def _tidy(value: float) -> float:
    """Right angles without their rounding."""
    return round(value) + 0.0 if abs(value - round(value)) < 1e-14 else value


HERE = Placement()
"""Neither turned nor shifted."""


def about(axis: int, angle: float) -> Placement:
    """A rotation about x, y or z (0, 1, 2) by an angle in rad, counter-clockwise seen against the axis.

    Examples
    --------
    >>> about(2, math.pi / 2).at((1.0, 0.0, 0.0))
    (0.0, 1.0, 0.0)
    """
    c, s = _tidy(math.cos(angle)), _tidy(math.sin(angle))
    if axis == 0:
        return Placement(rows=((1.0, 0.0, 0.0), (0.0, c, -s), (0.0, s, c)))
    if axis == 1:
        return Placement(rows=((c, 0.0, s), (0.0, 1.0, 0.0), (-s, 0.0, c)))
    return Placement(rows=((c, -s, 0.0), (s, c, 0.0), (0.0, 0.0, 1.0)))


def lying(along: int) -> Placement:
    """What ran up comes to run along x (0) or y (1), or goes on to run up (2); the other two directions become
    [y, z], [x, z] or [x, y]."""
    return Placement(rows=_LYING[along])
