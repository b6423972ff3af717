"""Whether a build is one of long bars across the strings in one coil, and the section that it then has.

A planar solver takes a build whose magnetic bodies are boxes that all go on along y about as far as each other, in
the same place, and much farther than the section is wide. Everything else is for three dimensions.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..errors import CaseError
from .bodies import Box, SolidBody
from .coil_path import PathCoil
from .row import Racetrack
from .section import CoilSides, PlanePart, PlaneShape, box

LENGTHS = 0.15
"""By how much of the longest bar the shortest may be shorter. The section under a bar's end still has all bars."""

SLENDER = 3.0
"""A bar is at least this many times as long as the section of all bars is wide."""

_OFF = 0.5e-3  # metres: how far from y = 0 the middle of a bar may lie
_SAME = 1e-9


@dataclass(frozen=True, kw_only=True)
class LongBuild:
    """Bars of finite length and their coil.

    Attributes
    ----------
    shape : PlaneShape
        Their section.
    halves : tuple of float
        Half the length of each part, m.
    coil : Racetrack
    """

    shape: PlaneShape
    halves: tuple[float, ...]
    coil: Racetrack

    @property
    def sides(self) -> CoilSides:
        """The straight sides of the coil, of one turn."""
        c = self.coil
        return CoilSides(inner=c.inner_radius, build=c.build, bottom=c.bottom, top=c.top, builds=c.builds,
                         centre=c.x_centre)


def why_no_section(bodies: Sequence[SolidBody], coils: Sequence[Racetrack]) -> str:
    """What keeps a build of these magnetic bodies and coils from being a section of bars; "" if nothing does."""
    if not bodies:
        return "nothing magnetic"
    if len(coils) != 1:
        return f"{len(coils)} coils"
    if isinstance(coils[0], PathCoil):
        return "a coil on a path of its own"
    for body in bodies:
        if not isinstance(body.form, Box):
            return f"{body.name}, which is no box"
        (_, left, _), (_, right, _) = body.form.bounds
        if abs(left + right) / 2 > _OFF:
            return f"{body.name}, whose middle is {abs(left + right) / 2 * 1e3:.3g} mm off the middle of the strings"
        if body.magnetisation is not None and abs(body.axis[1]) > _SAME:
            return f"{body.name}, which is magnetised across the strings"
    lengths = [_length(b) for b in bodies]
    low, high = min(lengths), max(lengths)
    if low < (1 - LENGTHS) * high:
        short, long = bodies[lengths.index(low)].name, bodies[lengths.index(high)].name
        return (f"{short} of {low * 1e3:.3g} mm beside {long} of {high * 1e3:.3g} mm across the strings, which is no "
                "section that goes on")
    wide = _width(bodies)
    if low < SLENDER * wide:
        return (f"bars of {low * 1e3:.3g} mm, not {SLENDER:g} times as long as their section is wide "
                f"({wide * 1e3:.3g} mm)")
    if abs(coils[0].y_centre) > _OFF:
        return "a coil off the middle of the strings"
    if coils[0].straight <= 0:
        return "a round coil"
    return ""


def long_build(bodies: Sequence[SolidBody], coils: Sequence[Racetrack]) -> LongBuild:
    """The section of a build.

    Raises
    ------
    CaseError
        If it is none: with what :func:`why_no_section` says.
    """
    why = why_no_section(bodies, coils)
    if why:
        raise CaseError(f"this case has {why}: no section of long bars")
    parts = []
    for body in bodies:
        (x0, _, z0), (x1, _, z1) = body.form.bounds
        parts.append(PlanePart(material=body.material, outline=box(x0, x1, z0, z1),
                               magnetisation=None if body.magnetisation is None else (body.axis[0], body.axis[2]),
                               state=body.state))
    return LongBuild(shape=PlaneShape(parts=tuple(parts)), halves=tuple(_length(b) / 2 for b in bodies),
                     coil=coils[0])


def _length(body: SolidBody) -> float:
    (_, left, _), (_, right, _) = body.form.bounds
    return right - left


def _width(bodies: Sequence[SolidBody]) -> float:
    """The wider side of the box round all sections, m."""
    bounds = [b.form.bounds for b in bodies]
    return max(max(high[i] for _, high in bounds) - min(low[i] for low, _ in bounds) for i in (0, 2))
