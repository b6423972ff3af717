"""The coils of a verification as they are connected, and the planes that halve its meshes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from stringflux.geometry.case.model import Case
from stringflux.geometry.shapes.bodies import SolidBody
from stringflux.geometry.shapes.coil_path import PathCoil
from stringflux.geometry.shapes.row import Racetrack
from stringflux.geometry.shapes.symmetry import Symmetry, mirror_parity
from stringflux.solver.coil.several import inductance_matrix_air

from ..solved.solve_build import connected_turns


def coils_in_air(case: Case) -> tuple[Racetrack, ...]:
    """The coils in series with the turns that b is made of, as far as is known before anything is solved: in parallel
    shared as if there were no bodies."""
    tracks = case.racetracks()
    if len(tracks) == 1:
        return tracks
    per_turn = inductance_matrix_air([replace(c, turns=1.0, sense=1) for c in tracks])
    return tuple(replace(c, turns=abs(float(w)), sense=1 if w > 0 else -1)
                 for c, w in zip(tracks, connected_turns(case, per_turn), strict=True) if w)


def symmetry(bodies: Sequence[SolidBody], y: float,
             coils: Sequence[Racetrack]) -> tuple[Symmetry, tuple[int, ...]]:
    """Which halves need not be meshed for a level string at `y`, and the planes about which both fields are odd."""
    parity = [mirror_parity(bodies, axis) for axis in (0, 1)]
    same = [p != 0 and p == _coil_parity(coils, axis) for axis, p in enumerate(parity)]
    halves = Symmetry(x=same[0], y=same[1] and abs(y) < 1e-9)
    return halves, tuple(axis for axis in halves.axes if parity[axis] < 0)


def _coil_parity(coils: Sequence[Racetrack], axis: int) -> int:
    if any(isinstance(c, PathCoil) for c in coils):
        return 1 if all(c.is_its_image(axis) for c in coils) else 0
    for parity in (1, -1):
        images = [replace(c, x_centre=-c.x_centre, sense=parity * c.sense) if axis == 0
                  else replace(c, y_centre=-c.y_centre, sense=parity * c.sense) for c in coils]
        if set(images) == set(coils):
            return parity
    return 0
