"""The coils of a verification as they are connected, and the planes that halve its meshes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from stringflux.geometry.case.model import Case
from stringflux.geometry.shapes.bodies import SolidBody
from stringflux.geometry.shapes.row import Racetrack
from stringflux.geometry.shapes.symmetry import mirror_parity
from stringflux.solver.coil.several import inductance_matrix_air

from ..solved.solve_build import connected_turns


def connected_coils(case: Case, chain: Any) -> tuple[Racetrack, ...]:
    """The coils in series with the turns that b is made of."""
    weights = getattr(chain.field, "weights", None)
    coils = case.racetracks()
    if weights is None:
        return coils
    return tuple(replace(c, turns=abs(float(w)), sense=1 if w > 0 else -1)
                 for c, w in zip(coils, weights, strict=True) if w)


def coils_in_air(case: Case) -> tuple[Racetrack, ...]:
    """The same as far as is known before anything is solved: in parallel, shared as if there were no bodies."""
    tracks = case.racetracks()
    if len(tracks) == 1:
        return tracks
    per_turn = inductance_matrix_air([replace(c, turns=1.0, sense=1) for c in tracks])
    return tuple(replace(c, turns=abs(float(w)), sense=1 if w > 0 else -1)
                 for c, w in zip(tracks, connected_turns(case, per_turn), strict=True) if w)


def symmetry(bodies: Sequence[SolidBody], y: float,
             coils: Sequence[Racetrack]) -> tuple[tuple[bool, bool], tuple[int, ...]]:
    """Which halves need not be meshed for a level string at `y`, and the planes about which both fields are odd."""
    allowed = (True, abs(y) < 1e-9)
    mirrored, odd = [], []
    for axis in (0, 1):
        parity = mirror_parity(bodies, axis)
        same = parity != 0 and parity == _coil_parity(coils, axis)
        mirrored.append(allowed[axis] and same)
        if mirrored[-1] and parity < 0:
            odd.append(axis)
    return (mirrored[0], mirrored[1]), tuple(odd)


def _coil_parity(coils: Sequence[Racetrack], axis: int) -> int:
    for parity in (1, -1):
        images = [replace(c, x_centre=-c.x_centre, sense=parity * c.sense) if axis == 0
                  else replace(c, y_centre=-c.y_centre, sense=parity * c.sense) for c in coils]
        if set(images) == set(coils):
            return parity
    return 0
