"""Poles that stand among the bodies of a build: stacks of bodies of revolution, and faces of poles of any form."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .bodies import Revolved, SolidBody
from .row import PartShape, PoleShape


@dataclass(frozen=True, kw_only=True)
class StandingPole:
    """A stack of bodies of revolution on one axis, its face up; `bodies` are their numbers from the top down."""

    x: float
    y: float
    face: float
    shape: PoleShape
    bodies: tuple[int, ...]


@dataclass(frozen=True, kw_only=True)
class PoleFace:
    """The place of a pole's axis and the height of its face, m."""

    x: float
    y: float
    face: float


def pole_faces(bodies: Sequence[SolidBody]) -> tuple[PoleFace, ...]:
    """Of all poles among the bodies, of any form, in their order."""
    tops: dict[tuple[float, float], float] = {}
    for body in bodies:
        if body.stands_on is not None:
            at = round(body.stands_on[0], 9), round(body.stands_on[1], 9)
            tops[at] = max(tops.get(at, -np.inf), body.form.bounds[1][2])
    return tuple(PoleFace(x=x, y=y, face=top) for (x, y), top in tops.items())


def standing_poles(bodies: Sequence[SolidBody]) -> tuple[StandingPole, ...]:
    """The poles among the bodies, in their order."""
    stacks: dict[tuple[float, float], list[int]] = {}
    for i, body in enumerate(bodies):
        if isinstance(body.form, Revolved):
            stacks.setdefault((round(body.form.x, 9), round(body.form.y, 9)), []).append(i)
    out = []
    for (x, y), numbers in stacks.items():
        ordered = sorted(numbers, key=lambda i: -bodies[i].form.bounds[1][2])
        face = bodies[ordered[0]].form.bounds[1][2]
        out.append(StandingPole(x=x, y=y, face=face, bodies=tuple(ordered),
                                shape=PoleShape(parts=tuple(_part(bodies[i], face) for i in ordered))))
    return tuple(out)


def _part(body: SolidBody, face: float) -> PartShape:
    outline = body.form.outline if isinstance(body.form, Revolved) else ()
    up = 0 if body.magnetisation is None else int(np.sign(body.magnetisation[2]))
    return PartShape(material=body.material, outline=tuple((r, round(z - face, 12)) for r, z in outline), polarity=up,
                     state=body.state)
