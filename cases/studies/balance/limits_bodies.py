"""What bodies of a build leave to the poles of a row that move up and down, and to the strings over them.

Each part of a moving pole against every body, winding and string. Two convex pieces of which one moves straight up
meet over one interval of the movement; its near end is the limit. Exact for boxes, upright cylinders and
windings, and found by halving for cylinders that lie: the same tests as the case's own checks. What is made of
pieces need not be convex: there the room that the part passes through is looked at, for a part of any form the box
round it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial
from itertools import combinations

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.case.rows import PoleRow
from stringflux.geometry.kernel.overlaps import cuts_winding, leaves_core, overlap
from stringflux.geometry.reading.check_strings import CLEARANCE
from stringflux.geometry.shapes.bodies import Box, Cylinder, Form, SolidBody
from stringflux.geometry.shapes.coil_path import PathCoil
from stringflux.geometry.shapes.overlaps import pieces
from stringflux.geometry.shapes.pieces import Shaped
from stringflux.geometry.shapes.row import Racetrack
from stringflux.geometry.units import mm

from .limits_row import HIGHEST_FACE, Bound

_HALVINGS = 40  # of some centimetres: below a picometre
_SWEEPS = 16  # of the same through what is made of pieces: below a micrometre


def limits_of_build(case: Case, row: PoleRow | None, face_map: Array, low_map: Array) -> list[Bound]:
    """Everything that bodies, poles and coils of a build forbid; no pole moves without a row."""
    parts = [] if row is None else _parts(row)
    out = [] if row is None else [*_heights(row, face_map), *_windings(case, row, parts, face_map),
                                  *_bodies(case, row, parts, face_map), *_each_other(row, parts, face_map)]
    out += _strings(case, parts, face_map, low_map)
    return [k for k in out if np.any(k.row)]


def least_gaps_over_other_rows(case: Case, row: PoleRow | None, least_gap: float, low_map: Array) -> list[Bound]:
    """The smallest gap over poles of other rows, where a string passes over one; it may stay where it is closer."""
    out, counted = [], row or (case.rows() or (None,))[0]
    for other in case.rows():
        if counted is None or other.before == counted.before:
            continue
        poles = other.placed()
        for i, string in enumerate(placed_strings(case)):
            face = other.face_under(string.y)
            if face.away > poles[other.nearest(string.y)].shape.parts[0].radius + string.shape.outer_radius:
                continue
            gap = string.gap_over(face)
            least = min(least_gap, gap)
            out.append(Bound(row=-low_map[i], most=gap - least,
                             words=f"string {i + 1} is at the smallest gap over pole {face.pole}, "
                                   f"{mm(round(least, 8))}"))
    return out


def _parts(row: PoleRow) -> list[tuple[int, SolidBody]]:
    """Every part of the row's poles with the index of its pole in the row."""
    owners = [j for j, pole in enumerate(row.placed()) for _ in pole.shape.parts]
    return list(zip(owners, row.bodies(), strict=True))


def _heights(row: PoleRow, face_map: Array) -> list[Bound]:
    out = []
    for j, face in enumerate(row.row.faces()):
        name = f"pole {row.before + j + 1}"
        out += [Bound(row=face_map[j], most=HIGHEST_FACE - face, words=f"{name} is as high as a face may be"),
                Bound(row=-face_map[j], most=face + HIGHEST_FACE, words=f"{name} is as low as a face may be")]
    return out


def _windings(case: Case, row: PoleRow, parts: list[tuple[int, SolidBody]], face_map: Array) -> list[Bound]:
    out = []
    for number, (name, coil) in enumerate(zip(case.coil_names(), case.racetracks(), strict=True)):
        of = "the winding" if len(case.coils()) == 1 else f"the winding of {name}"
        forbidden = partial(_outside_its_coil if number == row.coil else _in_winding, coil)
        for j, part in parts:
            out += _limits(part, (coil.bottom, coil.top), forbidden, face_map[j],
                           f"{_words(row, j, part)} would run into {of}")
    return out


def _in_winding(coil: Racetrack, form: Form) -> bool:
    return cuts_winding(form, coil)


def _outside_its_coil(coil: Racetrack, form: Form) -> bool:
    """Whether a form at the winding's height is not wholly inside the coil, as poles of its row must be."""
    return cuts_winding(form, coil) if isinstance(coil, PathCoil) else leaves_core(form, coil)


def _bodies(case: Case, row: PoleRow, parts: list[tuple[int, SolidBody]], face_map: Array) -> list[Bound]:
    others = [b for other in case.rows() if other.before != row.before for b in other.bodies()]
    out = []
    for body in (*others, *case.own_bodies()):
        if isinstance(body.form, Shaped):
            for j, part in parts:
                out += _swept(part, body.form, face_map[j], f"{_words(row, j, part)} would run into {_name(body)}")
            continue
        for piece in pieces(body.form):
            for j, part in parts:
                if isinstance(part.form, Shaped):
                    out += _swept(part, piece, face_map[j], f"{_words(row, j, part)} would run into {_name(body)}")
                    continue
                out += _limits(part, _span(piece), partial(overlap, piece), face_map[j],
                               f"{_words(row, j, part)} would run into {_name(body)}")
    return out


def _each_other(row: PoleRow, parts: list[tuple[int, SolidBody]], face_map: Array) -> list[Bound]:
    out = []
    for (j, first), (k, second) in combinations(parts, 2):
        if j != k:
            out += _limits(first, _span(second.form), partial(overlap, second.form), face_map[j] - face_map[k],
                           f"poles {row.before + j + 1} and {row.before + k + 1} would run into each other")
    return out


def _span(form: Form) -> tuple[float, float]:
    low, high = form.bounds
    return low[2], high[2]


def _limits(part: SolidBody, span: tuple[float, float], meets: Callable[[Form], bool], up: Array,
            words: str) -> list[Bound]:
    """The limit of a part that moves by up·x to something between the heights `span`, or none."""
    low, high = _span(part.form)
    first, last = span[0] - high, span[1] - low  # the movements between which they are at one height
    middle = (first + last) / 2

    def met(by: float) -> bool:
        return meets(part.moved(0.0, 0.0, by).form)

    if not met(middle):
        return []
    end = _edge(met, middle, first if middle > 0 else last)
    return [Bound(row=up, most=end, words=words) if middle > 0 else Bound(row=-up, most=-end, words=words)]


def _swept(part: SolidBody, form: Form, up: Array, words: str) -> list[Bound]:
    """How far a part can go up and down before what it passes through meets a form of any kind."""
    (x0, y0, z0), (x1, y1, z1) = part.form.bounds
    out = []
    for way in (1.0, -1.0):
        far = form.bounds[1][2] - z0 if way > 0 else z1 - form.bounds[0][2]
        if far <= 0.0:
            continue

        def met(by: float, way: float = way) -> bool:
            low, high = (z0, z1 + by) if way > 0 else (z0 - by, z1)
            if isinstance(part.form, Shaped):
                return overlap(Box(low=(x0, y0, low), high=(x1, y1, high)), form)
            room = Cylinder(base=((x0 + x1) / 2, y0 + (x1 - x0) / 2, low), along=2, length=high - low,
                            radius=(x1 - x0) / 2)
            return overlap(room, form)

        if met(far):
            end = _edge(met, far, 0.0, _SWEEPS)
            out.append(Bound(row=way * up, most=end, words=words))
    return out


def _edge(met: Callable[[float], bool], inside: float, outside: float, halvings: int = _HALVINGS) -> float:
    """Where meeting ends between two movements, m; most often at the outer one."""
    if met(outside + (inside - outside) * 1e-6):
        return outside
    for _ in range(halvings):
        half = (inside + outside) / 2
        inside, outside = (half, outside) if met(half) else (inside, half)
    return outside


def _words(row: PoleRow, j: int, part: SolidBody) -> str:
    return f"pole {row.before + j + 1} ({part.material})"


def _name(body: SolidBody) -> str:
    return body.name.split(", part")[0]


def _strings(case: Case, parts: list[tuple[int, SolidBody]], face_map: Array, low_map: Array) -> list[Bound]:
    """Strings stay clear of bodies, by the boxes about them, and of coils."""
    out, rise = [], math.tan(case.strings.plane_angle)
    owner = {part.name: j for j, part in parts}
    still = np.zeros(low_map.shape[1])
    boxes = [(body.name, *body.form.bounds, face_map[owner[body.name]] if body.name in owner else still)
             for body in case.solid_bodies()]
    for name, coil in zip(case.coil_names(), case.racetracks(), strict=True):
        boxes.append((f"the coil {name}", *coil.bounds, still))
    for i, string in enumerate(placed_strings(case)):
        low, radius = string.underside, string.shape.outer_radius
        for name, lower, upper, up in boxes:
            if lower[1] - radius < string.y < upper[1] + radius:
                there = low + min(rise * lower[0], rise * upper[0])
                out.append(Bound(row=up - low_map[i], most=there - (upper[2] + CLEARANCE),
                                 words=f"string {i + 1} would run into {name}"))
    return out
