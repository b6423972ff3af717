"""How fine a build is meshed: elements of bodies, of their tips and rims, of sheets and of strings, and the air."""

from __future__ import annotations

from dataclasses import dataclass, field

from .string_rod import RodSizes


@dataclass(frozen=True, kw_only=True)
class SolidQuality:
    """How fine to mesh.

    Attributes
    ----------
    divisions : float
        Elements over a body's thickness.
    largest : float
        Size of elements of thick bodies at most, m.
    tip : float
        Size on faces that look at the strings, m.
    edge : float
        Size along upper rims, in sizes of the body.
    growth : float
        By how much the size grows per metre of distance from the bodies.
    far : float
        Radius of the air in half diagonals of all bodies.
    rod : RodSizes
        How strings are divided.
    least : float
        Size of elements in and on sheets (thin boxes and covers) at least, m.
    """

    divisions: float
    largest: float
    tip: float
    edge: float
    growth: float
    far: float
    rod: RodSizes = field(default_factory=RodSizes)
    least: float = 0.0


SOLID_QUALITIES = {
    "draft": SolidQuality(divisions=3.0, largest=1.6e-3, tip=0.7e-3, edge=0.4, growth=0.40, far=6.0, least=0.9e-3),
    "normal": SolidQuality(divisions=4.5, largest=1.1e-3, tip=0.5e-3, edge=0.27, growth=0.40, far=8.0, least=0.6e-3),
    "fine": SolidQuality(divisions=7.0, largest=0.7e-3, tip=0.35e-3, edge=0.25, growth=0.20, far=10.0, least=0.4e-3),
}
