"""Pieces that forms of any kind are made of, each in axes of its own and placed by a turn and a shift.

Lengths in metres. A prism carries an outline in (u, v) on from w = 0 to its length; a turned piece goes round the
w axis; a hull is what its points hold between them; a piece from a file is what the file says.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TypeAlias

from .loops import Loop
from .placement import HERE, Placement


@dataclass(frozen=True, kw_only=True)
class Prism:
    """An outline carried on along a straight line.

    Attributes
    ----------
    outline : Loop
        Its rim.
    holes : tuple of Loop
        Inside it.
    length : float
        m.
    """

    outline: Loop
    holes: tuple[Loop, ...] = ()
    length: float


@dataclass(frozen=True, kw_only=True)
class Turned:
    """A closed outline (r, w, bulge) turned about the w axis, r ≥ 0."""

    outline: Loop


@dataclass(frozen=True, kw_only=True)
class Hull:
    """The convex body between points."""

    points: tuple[tuple[float, float, float], ...]


@dataclass(frozen=True, kw_only=True)
class FromFile:
    """One closed solid of a file.

    Attributes
    ----------
    path : str
        Whole path of the file.
    digest : str
        Of its content, so that a file that changes meanwhile is noticed.
    unit : float
        Metres in one unit of its numbers; 0 where the file says that itself.
    """

    path: str
    digest: str
    unit: float


PieceShape: TypeAlias = Prism | Turned | Hull | FromFile


@dataclass(frozen=True, kw_only=True)
class FormPiece:
    """A piece in its place."""

    shape: PieceShape
    placement: Placement = HERE

    def then(self, placement: Placement) -> FormPiece:
        """Turned and shifted once more."""
        return replace(self, placement=self.placement.then(placement))


@dataclass(frozen=True, kw_only=True)
class Shaped:
    """A form made of pieces: some joined, some cut away.

    Attributes
    ----------
    kind : str
        What it is called, such as "prism".
    joined, cut : tuple of FormPiece
        What it is made of, and what is taken away from that.
    bounds : ((float, float, float), (float, float, float))
        Least and greatest x, y, z, m.
    volume : float
        m³.
    thickness : float
        What elements are sized by, m: the shortest way through its main piece.
    bar : bool
        Whether formulas that know bars and rods alone take it for a bar; else for a rod.
    """

    kind: str
    joined: tuple[FormPiece, ...]
    cut: tuple[FormPiece, ...] = ()
    bounds: tuple[tuple[float, float, float], tuple[float, float, float]]
    volume: float
    thickness: float
    bar: bool = True

    def moved(self, x: float, y: float, z: float) -> Shaped:
        """The same elsewhere, to a picometre."""
        low, high = (_shifted(corner, (x, y, z)) for corner in self.bounds)
        return replace(
            self, joined=tuple(FormPiece(shape=p.shape, placement=p.placement.moved(x, y, z)) for p in self.joined),
            cut=tuple(FormPiece(shape=p.shape, placement=p.placement.moved(x, y, z)) for p in self.cut),
            bounds=(low, high))


def _shifted(point: tuple[float, float, float], by: tuple[float, float, float]) -> tuple[float, float, float]:
    x, y, z = (round(p + d, 12) for p, d in zip(point, by, strict=True))
    return x, y, z
