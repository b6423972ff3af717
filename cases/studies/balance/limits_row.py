"""What keeps poles and strings apart, as rows a·x ≤ b of the movements.

The same rules as the case's own checks: a pole may not run into the winding or its neighbour, a string not into
a pole or the coil, and a face lies at most 30 mm over or under the top plate.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.reading.check_strings import CLEARANCE

HIGHEST_FACE = 30e-3


@dataclass(frozen=True, kw_only=True, eq=False)
class Bound:
    """a·x ≤ b.

    Attributes
    ----------
    row : array (k,)
    most : float
        b, m.
    words : str
        What is so when it binds.
    """

    row: Array
    most: float
    words: str


def limits_of_bodies(case: Case, face_map: Array, low_map: Array) -> list[Bound]:
    """Everything that the bodies of one row of poles in one coil forbid; of builds: `balance_bodies`."""
    return [*_poles_and_coil(case, face_map), *_poles_and_poles(case, face_map), *_strings(case, face_map, low_map)]


def _poles_and_coil(case: Case, face_map: Array) -> list[Bound]:
    out, coil = [], case.racetrack()
    for j, pole in enumerate(case.placed_poles()):
        up = face_map[j]
        out.append(Bound(row=up, most=HIGHEST_FACE - pole.face, words=f"pole {j + 1} is as high as a face may be"))
        out.append(Bound(row=-up, most=pole.face + HIGHEST_FACE, words=f"pole {j + 1} is as low as a face may be"))
        off = max(0.0, abs(pole.y - coil.y_centre) - coil.straight / 2)
        for part in pole.shape.parts:
            if off + part.radius <= coil.inner_radius:
                continue
            words = f"pole {j + 1} ({part.material}) would run into the winding"
            if pole.face + part.top <= coil.bottom + 1e-9:
                out.append(Bound(row=up, most=coil.bottom - part.top - pole.face, words=words))
            else:
                out.append(Bound(row=-up, most=pole.face + part.bottom - coil.top, words=words))
    return out


def _poles_and_poles(case: Case, face_map: Array) -> list[Bound]:
    out = []
    for (i, p), (j, q) in combinations(enumerate(case.placed_poles()), 2):
        for a in p.shape.parts:
            for b in q.shape.parts:
                if abs(p.y - q.y) >= a.radius + b.radius - 1e-9:
                    continue
                above = p.face + a.bottom - q.face - b.top  # p's part lies over q's, or under it
                row, room = face_map[j] - face_map[i], above
                if above < -1e-9:
                    row, room = -row, q.face + b.bottom - p.face - a.top
                out.append(Bound(row=row, most=room, words=f"poles {i + 1} and {j + 1} would run into each other"))
    return out


def _strings(case: Case, face_map: Array, low_map: Array) -> list[Bound]:
    out, coil = [], case.racetrack()
    slope = abs(math.tan(case.strings.plane_angle))
    for i, string in enumerate(placed_strings(case)):
        down, low, radius = -low_map[i], string.underside, string.shape.outer_radius
        for j, pole in enumerate(case.placed_poles()):
            near = [p for p in pole.shape.parts if abs(string.y - pole.y) < p.radius + radius]
            room = [low - slope * p.radius - (pole.face + p.top + CLEARANCE) for p in near]
            if room:
                out.append(Bound(row=down + face_map[j], most=min(room),
                                 words=f"string {i + 1} would run into pole {j + 1}"))
        off, reach = max(0.0, abs(string.y - coil.y_centre) - coil.straight / 2), coil.inner_radius + coil.build
        if off < reach + radius:
            out.append(Bound(row=down, most=low - slope * reach - (coil.top + CLEARANCE),
                             words=f"string {i + 1} would run into the coil"))
    return [k for k in out if np.any(k.row)]
