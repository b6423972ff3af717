"""Records of poles and coils from a solution, whichever solver it came from."""

from __future__ import annotations

import math
from itertools import combinations
from typing import Any

import numpy as np

from stringflux.geometry.case import Case
from stringflux.geometry.shapes import StringShape
from stringflux.geometry.string_heights import rows_under
from stringflux.postprocess.records import CoilRecord, PairRecord, PlaceRecord, PoleRecord
from stringflux.solver.solved_row import SolvedRow
from stringflux.solver.solved_solid import SolvedSolid

from .case_solve import Solved


def pole_records(case: Case, solved: Solved, materials: dict[str, Any]) -> tuple[PoleRecord, ...]:
    """Every pole with its field at the probe's height and what the doubt about μ_⊥ makes of it."""
    height = case.probe_height
    field = solved.face_field(height)
    if isinstance(solved, SolvedRow):
        factors = solved.face_factors(height)
        places = [(0.0, p.y, p.face) for p in solved.places]
        ends = [sorted(factors[p.shape]) for p in solved.places]
    else:
        places = [(p.x, p.y, p.face) for p in solved.poles]
        ends = solved.face_factors(height, materials).tolist()
    out = []
    for i, ((x, y, face), b, factor) in enumerate(zip(places, field, ends, strict=True), start=1):
        low, high = sorted(float(b * f) for f in factor) if b else (0.0, 0.0)
        out.append(PoleRecord(number=i, x=x, y=y, face=face, field=float(b), field_band=(low, high)))
    return tuple(out)


def coil_records(case: Case, solved: Solved) -> tuple[tuple[CoilRecord, ...], tuple[PairRecord, ...]]:
    """Every coil alone, and how each two are coupled."""
    if isinstance(solved, SolvedRow):
        return (CoilRecord(name=case.coil_names()[0], turns=case.coil.turns,
                           inductance_air=abs(solved.inductance_air), inductance=abs(solved.inductance)),), ()
    tracks = case.racetracks()
    turns = np.array([c.turns * c.sense for c in tracks])
    air, full = (m * np.outer(turns, turns) for m in (solved.matrix_air, solved.matrix))
    coils = tuple(CoilRecord(name=name, turns=track.turns, inductance_air=float(air[i, i]),
                             inductance=float(full[i, i]))
                  for i, (name, track) in enumerate(zip(case.coil_names(), tracks, strict=True)))
    pairs = tuple(PairRecord(first=case.coil_names()[i], second=case.coil_names()[j], mutual=float(full[i, j]),
                             coupling=float(full[i, j] / np.sqrt(full[i, i] * full[j, j])))
                  for i, j in combinations(range(len(coils)), 2))
    return coils, pairs


def place_records(case: Case, solved: Solved, shape: StringShape) -> tuple[PlaceRecord, ...]:
    """The fields at a string over the middle of every coil, the first coil first; () where all are at x = 0."""
    named: dict[float, list[str]] = {}
    for name, coil in zip(case.coil_names(), case.racetracks(), strict=True):
        named.setdefault(round(coil.x_centre, 6), []).append(name)
    if not isinstance(solved, SolvedSolid) or list(named) == [0.0]:
        return ()
    out = []
    for x, names in named.items():
        axis = shape.axis_height + shape.slope * x
        at = np.array([[x], [shape.y], [axis]])
        rows = [row for row in rows_under(case, shape.y) if abs(row.row.x - x) < 1e-6]
        face = rows[0].row.faces()[rows[0].nearest(shape.y)] if rows else math.nan
        out.append(PlaceRecord(name=" and ".join(names), x=x, gap=axis - shape.outer_radius - face,
                               bias=solved.field.bias(at)[:, 0],
                               reciprocal=solved.field.reciprocal(at)[:, 0]))
    return tuple(out)
