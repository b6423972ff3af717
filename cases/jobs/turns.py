r"""What a quarter of a turn of each screw does to the strings, by solving the pickup as it is set then.

A pole is moved by P/4 with all its parts, the strings stay, and its own strings are heard anew::

    change = 20 log10 S(face + P/4)/S(face)

In a row every pole is moved alone. In a build, where each movement is another 3-D solution, every second pole of a
row is moved at once: what neighbours' neighbours do to a string is under 0.01 dB. By a screw of the whole pickup only
gaps change: straight from it to the other one, which stays.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import PlacedString, placed_strings, side_names
from stringflux.geometry.case.rows import PoleRow
from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.moved import setting_changes
from stringflux.geometry.reading.read import changed_case
from stringflux.postprocess.records.turns import QuarterTurn
from stringflux.postprocess.string.heard import heard_slopes
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.neighbours import StringsTogether
from stringflux.solver.seam import SolvedField

from ..files.load import built_in_uses
from ..solved.abstract import SolvedCase, quiet
from ..solved.solve import solved_case
from ..solved.solve_row import one_thread

Stage = Callable[[str], None]


def has_screws(case: Case) -> bool:
    """Whether any height of a case is set by a screw whose thread is given."""
    return case.height_screws is not None or any(body.screw for body in case.body) or any(
        screw for row in case.rows() for screw in row.screws())


def quarter_turns(solved: SolvedCase, stage: Stage = quiet) -> tuple[QuarterTurn, ...]:
    """What a quarter of a turn of every screw does; () where the case gives no thread.

    Raises
    ------
    SolveError
        Where a solution does not settle.
    """
    if not has_screws(solved.case):
        return ()
    with one_thread():
        field = solved.unit_fields().field
        levels = {s.number: _level(solved, solved.among(field), s) for s in solved.strings}
        out = [turn for row in solved.case.rows() for turn in _of_row(solved, row, levels, stage)]
        out += _of_bodies(solved, levels, stage)
        return (*out, *_of_pickup(solved, field, levels, stage))


def _of_row(solved: SolvedCase, row: PoleRow, levels: Mapping[int, float], stage: Stage) -> list[QuarterTurn]:
    screws = {j: screw for j, screw in enumerate(row.screws()) if screw is not None}
    alone = solved.choice.solver == "row"
    groups = [[j] for j in screws] if alone else [[j for j in screws if j % 2 == odd] for odd in (0, 1)]
    out: list[QuarterTurn] = []
    for group in filter(None, groups):
        stage(f"quarter turn of pole {row.before + group[0] + 1}" + ("" if len(group) == 1 else " and others"))
        found = _moved(solved, row, {j: screws[j].quarter for j in group})
        if found is None:
            continue
        sign, there = found
        among = there.among(there.unit_fields().field)
        for j in group:
            over = [s for s in there.strings if row.nearest(s.y) == j]
            out.append(QuarterTurn(
                kind="pole", name=f"pole {row.before + j + 1}", pole=row.before + j + 1, pitch=screws[j].pitch,
                clockwise=screws[j].clockwise, movement=sign * screws[j].quarter,
                strings=tuple(s.number for s in over),
                change=tuple(_level(there, among, s) - levels[s.number] for s in over)))
    return sorted(out, key=lambda turn: turn.pole)


def _of_bodies(solved: SolvedCase, levels: Mapping[int, float], stage: Stage) -> list[QuarterTurn]:
    """Of bodies that are screws, each moved alone; told is the string nearest to it."""
    case, out = solved.case, list[QuarterTurn]()
    for n, body in enumerate(case.body, start=1):
        if (screw := body.screw) is None:
            continue
        name, level = body.name or f"body {n}", "top" if body.top is not None else "bottom"
        stage(f"quarter turn of {name}")
        nearest = min(solved.strings, key=lambda s: abs(s.y - body.centre[1])).number
        for sign in (1, -1):
            moved = _possible(case, {f"body.{n}.{level}": float(getattr(body, level)) + sign * screw.quarter})
            # a gap may count from what has moved: the strings stay where they were
            moved = None if moved is None else _possible(moved, setting_changes(
                moved, (), [s.underside for s in solved.strings]))
            if moved is None:
                continue
            there = _solved_like(solved, moved)
            among = there.among(there.unit_fields().field)
            change = _level(there, among, there.strings[nearest - 1]) - levels[nearest]
            out.append(QuarterTurn(kind="body", name=name, pole=0, pitch=screw.pitch, clockwise=screw.clockwise,
                                   movement=sign * screw.quarter, strings=(nearest,), change=(change,)))
            break
    return out


def _solved_like(solved: SolvedCase, case: Case) -> SolvedCase:
    return solved_case(case, solved.quality, solver=solved.choice.solver, keep=solved.keep, history=solved.history,
                       numerics=solved.numerics)


def _moved(solved: SolvedCase, row: PoleRow, by: Mapping[int, float]) -> tuple[int, SolvedCase] | None:
    """The case with poles of a row moved up, or down where they cannot come up; None where they can do neither."""
    lows = [s.underside for s in solved.strings]
    for sign in (1, -1):
        faces = [face + sign * by.get(j, 0.0) for j, face in enumerate(row.row.faces())]
        if (case := _possible(solved.case, setting_changes(solved.case, faces, lows, row))) is not None:
            return sign, _solved_like(solved, case)
    return None


def _of_pickup(solved: SolvedCase, field: SolvedField, levels: Mapping[int, float],
               stage: Stage) -> list[QuarterTurn]:
    """Of the two screws of the whole pickup."""
    case, out = solved.case, list[QuarterTurn]()
    if case.height_screws is None:
        return out
    screw, places = case.height_screws.screw(), case.height_screws.places()
    for name, here, other in zip(side_names(case), places, places[::-1], strict=True):
        stage(f"quarter turn of the {name}")
        for sign in (1, -1):
            lows = [s.underside - sign * screw.quarter * (s.y - other) / (here - other) for s in solved.strings]
            faces = case.rows()[0].row.faces() if case.is_plain_row else ()
            if (moved := _possible(case, setting_changes(case, faces, lows))) is None:
                continue
            strings = placed_strings(moved)
            among = StringsTogether(field, [s.shape for s in strings], solved.materials, solved.numerics.string)
            out.append(QuarterTurn(
                kind="side", name=name, pole=0, pitch=screw.pitch, clockwise=screw.clockwise,
                movement=sign * screw.quarter, strings=tuple(levels),
                change=tuple(_level(solved, among, s) - levels[s.number] for s in strings)))
            break
    return out


def _possible(case: Case, changes: Mapping[str, Any]) -> Case | None:
    try:
        return changed_case(case, changes, materials=built_in_uses())
    except CaseError:
        return None


def _level(solved: SolvedCase, among: StringsTogether, string: PlacedString) -> float:
    """Of a string among the others, dB; nan where it is not heard."""
    layers = layers_of(string.shape, solved.materials)
    slopes = heard_slopes(among.over(string.number), string.shape, layers, solved.numerics.string)
    return 20 * math.log10(abs(slopes.z)) if slopes.heard else math.nan
