"""A shape as files: a table of points, a DXF for the lathe, the case that holds it.

The DXF has its x across the axis (r) and its y along it (z), units mm: the closed half section of every part on
layer OUTLINE, the axis on layer AXIS, nothing else. Free of colours and texts that a machine would have to ignore.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.read import read_case
from stringflux.geometry.shapes.profiles import Edge
from stringflux.geometry.shapes.row import PoleShape

from ...files.changed import with_changes
from ...files.load import built_in_uses
from ...output.csv_table import csv_text

HEADS = ("point", "r mm", "diameter mm", "depth mm")
OUTLINE, AXIS = "OUTLINE", "AXIS"


def write_table(path: Path, edge: Edge) -> None:
    """Points of the upper surface: number, radius, diameter, and depth below the highest point, mm."""
    rows = [(i, 1e3 * r, 2e3 * r, -1e3 * z + 0.0) for i, (r, z) in enumerate(edge, start=1)]
    text = csv_text(HEADS, rows, form=".4g")
    path.write_text(text, encoding="utf-8", newline="")


def write_dxf(path: Path, shape: PoleShape) -> None:
    """Closed half sections and the axis, mm."""
    import ezdxf
    from ezdxf import units

    document = ezdxf.new("R2010")
    document.units = units.MM
    document.layers.add(OUTLINE)
    # a centre line; only this line type is known to every reader without a table of its own
    document.layers.add(AXIS)
    space = document.modelspace()
    for part in shape.parts:
        points = [(1e3 * r, 1e3 * z) for r, z in part.outline]
        space.add_lwpolyline(points, close=True, dxfattribs={"layer": OUTLINE})
    space.add_line((0.0, 1e3 * shape.bottom - 1), (0.0, 1e3 * shape.top + 1), dxfattribs={"layer": AXIS})
    document.saveas(path)


def changed_case(text: str, data: Mapping[str, Any], case: Case, entry: int, poles: Sequence[int],
                 parts: Sequence[Mapping[str, Any]], changes: Mapping[str, Any], remark: str) -> tuple[str, Case]:
    """The text of a case whose `poles` have other parts, and that case.

    Parameters
    ----------
    text, data : str, mapping
        The file as it is, and its content with the changes of the command line.
    entry : int
        Item of `pole` (from 0) that makes these poles, perhaps with others.
    parts : sequence of mapping
        Of the changed poles, as the file writes them.
    changes : mapping
        Those of the command line, by dotted path.

    Raises
    ------
    CaseError
        When no such case is possible.
    """
    wanted = copy.deepcopy(dict(data))
    raw = wanted["pole"]
    others = [n for n in case.pole_numbers(entry) if n not in poles]
    new = [dict(copy.deepcopy(dict(part))) for part in parts]
    if others:
        kept = {**raw[entry], "at": others}
        made = {**{k: v for k, v in raw[entry].items() if k != "part"}, "at": sorted(poles), "part": new}
        raw[entry:entry + 1] = [kept, made]
        dotted: dict[str, Any] = {"pole": raw}
    else:
        dotted = _changed_keys(entry, raw[entry]["part"], new)
        raw[entry]["part"] = new
    try:
        made_case = read_case(wanted, materials=built_in_uses())
    except CaseError as error:
        raise CaseError(f"the shape that was found makes no possible case: {error}") from None
    return with_changes(text, wanted, {**changes, **dotted}, remark), made_case


def _changed_keys(entry: int, old: Sequence[Mapping[str, Any]], new: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    if len(old) != len(new):
        return {f"pole.{entry + 1}.part": new}
    return {f"pole.{entry + 1}.part.{j}.{key}": value
            for j, (before, after) in enumerate(zip(old, new, strict=True), start=1)
            for key, value in after.items() if before.get(key) != value}
