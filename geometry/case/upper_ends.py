r"""Which end of every pole looks up, north or south, from the case alone.

A pole with a magnet has the polarity of its uppermost magnet. A pole or body of steel takes that of the magnets near
it: steel is nearly an equipotential, and its free end sends flux out where their potential in it is positive ::

    φ = (1/4π) ∮ M·n dS / |r − r'|          over the faces of every magnet, taken as its box

averaged over the steel's height. Only the sign is used; all magnets count as strong as their charge. The tests hold
it against the solved field over every pole of a row and of a build with two.

References
----------
The potential of a uniformly magnetised body by charges on its faces: any textbook of magnetostatics (memory). The
rule for steel: derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..arrays import Array
from ..shapes.bodies import SolidBody
from .model import Case

FACE = 12
"""Points along each edge of a magnet's face."""
HEIGHTS = 9
LEAST = 0.02
"""A potential under this part of the largest is told as none."""
WORDS = {1: "N", -1: "S", 0: "–"}


@dataclass(frozen=True, kw_only=True)
class UpperEnd:
    """The upper end of a pole, or of a body of magnet or steel.

    Attributes
    ----------
    name : str
        "pole 3", or the body's own name.
    pole : int
        Number through all rows; 0 for a body.
    x, y, radius : float
        Of its middle along and across the strings, and half its width along them, m.
    sign : int
        1 north up, −1 south up, 0 neither.
    """

    name: str
    pole: int
    x: float
    y: float
    radius: float
    sign: int

    @property
    def letter(self) -> str:
        """N, S, or a dash."""
        return WORDS[self.sign]


def upper_ends(case: Case) -> tuple[UpperEnd, ...]:
    """Of all poles in their order, then of the bodies that are magnetic.

    Examples
    --------
    >>> from stringflux.cases import load_case
    >>> "".join(end.letter for end in upper_ends(load_case("side-by-side-six")))
    'NNNNNNSSSSSS–'
    """
    charges = [_charges(body) for body in case.solid_bodies() if body.polarity and body.state.charge > 0]
    at, q = (np.hstack(c) for c in zip(*charges, strict=True)) if charges else (np.zeros((3, 0)), np.zeros(0))
    out: list[tuple[UpperEnd, float]] = []
    for row in case.rows():
        for n, pole in enumerate(row.placed(), start=row.before + 1):
            magnets = [p.polarity for p in pole.shape.parts if p.polarity and p.state.charge > 0]
            top = pole.shape.parts[0]
            own = _potential(at, q, row.row.x, pole.y, pole.face + top.bottom - top.top, pole.face)
            end = UpperEnd(name=f"pole {n}", pole=n, x=row.row.x, y=pole.y, radius=(top.along[1] - top.along[0]) / 2,
                           sign=magnets[0] if magnets else 0)
            out.append((end, 0.0 if magnets else own))
    for body in case.own_bodies():
        if not case.is_magnetic(body.material):
            continue
        low, high = body.form.bounds
        x, y = (low[0] + high[0]) / 2, (low[1] + high[1]) / 2
        magnet = bool(body.polarity)
        own = 0.0 if magnet else _potential(at, q, x, y, low[2], high[2])
        up = int(np.sign(round(body.axis[2], 9))) if magnet and body.state.charge > 0 else 0
        out.append((UpperEnd(name=body.name, pole=0, x=x, y=y, radius=(high[0] - low[0]) / 2, sign=up), own))
    most = max((abs(v) for _, v in out), default=0.0)
    return tuple(end if end.sign or abs(v) <= LEAST * most else
                 UpperEnd(name=end.name, pole=end.pole, x=end.x, y=end.y, radius=end.radius, sign=1 if v > 0 else -1)
                 for end, v in out)


def _charges(body: SolidBody) -> tuple[Array, Array]:
    """Points (3, m) on the faces of a magnet's box, and their charge for M = 1."""
    low, high = (np.array(corner) for corner in body.form.bounds)
    points, charge = [], []
    for axis in range(3):
        along = body.axis[axis] * body.state.charge
        if abs(along) < 1e-9:
            continue
        others = [i for i in range(3) if i != axis]
        u, v = (low[i] + (high[i] - low[i]) * (np.arange(FACE) + 0.5) / FACE for i in others)
        grid = np.array(np.meshgrid(u, v)).reshape(2, -1)
        area = float(np.prod(high[others] - low[others])) / FACE**2
        for end, sign in ((high, 1.0), (low, -1.0)):
            face = np.empty((3, grid.shape[1]))
            face[others], face[axis] = grid, end[axis]
            points.append(face)
            charge.append(np.full(grid.shape[1], sign * along * area))
    return np.hstack(points), np.hstack(charge)


def _potential(at: Array, q: Array, x: float, y: float, low: float, high: float) -> float:
    """4π φ averaged over a height, m."""
    heights = low + (high - low) * (np.arange(HEIGHTS) + 0.5) / HEIGHTS
    away = [np.sqrt((at[0] - x) ** 2 + (at[1] - y) ** 2 + (at[2] - z) ** 2) for z in heights]
    return float(np.mean([np.sum(q / np.maximum(d, 1e-4)) for d in away]))
