"""Outlines of DXF: lines, arcs, circles and polylines, joined where they meet."""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import Any

from ..errors import CaseError
from ..shapes.loops import Loop, area, flattened, within
from ..units import mm
from .files import LARGEST, SMALLEST, content, stamp_of

_MEET = 2e-6  # m: ends as near are one
_WORDS = ("TEXT", "MTEXT", "DIMENSION", "LEADER", "MULTILEADER", "POINT", "VIEWPORT", "HATCH", "ATTDEF")
_UNITS = {1: ("in", 0.0254), 4: ("mm", 1e-3), 5: ("cm", 1e-2), 6: ("m", 1.0), 13: ("um", 1e-6)}
_Side = tuple[tuple[float, float], tuple[float, float], float]


def outlines_of(path: str, unit: float, word: str) -> tuple[Loop, tuple[Loop, ...]]:
    """The outline of a drawing, and its holes, m.

    Parameters
    ----------
    path : str
        Whole path.
    unit : float
        Metres in one unit of its numbers.
    word : str
        That unit as the case writes it.

    Raises
    ------
    CaseError
        If there is no such file, it is no DXF, or holds anything but one closed outline with holes.
    """
    return _read(path, unit, word, stamp_of(path))


@lru_cache(maxsize=64)
def _read(path: str, unit: float, word: str, stamp: tuple[int, int]) -> tuple[Loop, tuple[Loop, ...]]:
    import ezdxf

    name = Path(path).name
    data = content(path, name)
    try:
        document = ezdxf.readfile(path)
    except (ezdxf.DXFError, OSError, ValueError):
        raise CaseError(f"{name}: it cannot be read as DXF; export it anew") from None
    # a file that says none is given one in the reading
    said = _UNITS.get(document.units) if b"$INSUNITS" in data else None
    if said is not None and not math.isclose(said[1], unit):
        raise CaseError(f'{name}: it says that its unit is {said[0]}, and unit is {word}; write unit = "{said[0]}", '
                        "or set the drawing right")
    closed: list[Loop] = []
    loose: list[_Side] = []
    for entity in document.modelspace():
        _take(entity, unit, name, closed, loose)
    closed += _joined(loose, name)
    if not closed:
        raise CaseError(f"{name}: it holds no closed outline; draw lines, arcs, circles or polylines")
    rim, *holes = sorted(closed, key=lambda loop: -abs(area(loop)))
    edge = flattened(rim)
    sizes = [max(c) - min(c) for c in zip(*edge, strict=True)]
    if not SMALLEST <= min(sizes) <= max(sizes) <= LARGEST:
        raise CaseError(f"{name}: its outline is {' × '.join(mm(round(s, 8)) for s in sizes)} large; a body is from "
                        f"{mm(SMALLEST)} to {mm(LARGEST)}, so check its unit")
    for hole in holes:
        if not within(hole[0][:2], edge):
            raise CaseError(f"{name}: it holds several outlines beside each other; write each into a file of its own")
    return rim, tuple(holes)


def _take(entity: Any, unit: float, name: str, closed: list[Loop], loose: list[_Side]) -> None:
    """One thing of the drawing: a closed loop, or sides that others go on."""
    kind = entity.dxftype()
    if kind in _WORDS:
        return
    if kind not in ("LINE", "ARC", "CIRCLE", "LWPOLYLINE"):
        raise CaseError(f"{name}: it holds a {kind}; only LINE, ARC, CIRCLE and LWPOLYLINE are read, so turn it into "
                        "those")
    if entity.dxf.get("extrusion", (0, 0, 1))[2] < 0:
        raise CaseError(f"{name}: a {kind} is drawn from behind (its extrusion points down); draw it in the plane of "
                        "x and y")
    if kind == "LINE":
        start, end = entity.dxf.start, entity.dxf.end
        loose.append(((unit * start.x, unit * start.y), (unit * end.x, unit * end.y), 0.0))
    elif kind == "ARC":
        turn = math.radians((entity.dxf.end_angle - entity.dxf.start_angle) % 360.0)
        first, last = entity.start_point, entity.end_point
        loose.append(((unit * first.x, unit * first.y), (unit * last.x, unit * last.y), math.tan(turn / 4)))
    elif kind == "CIRCLE":
        c, r = entity.dxf.center, unit * entity.dxf.radius
        closed.append(((unit * c.x - r, unit * c.y, 1.0), (unit * c.x + r, unit * c.y, 1.0)))
    else:
        corners = [(unit * x, unit * y, float(b)) for x, y, b in entity.get_points("xyb")]
        if entity.closed or math.dist(corners[0][:2], corners[-1][:2]) < _MEET:
            closed.append(tuple(corners if entity.closed else corners[:-1]))
        else:
            loose += [(a[:2], b[:2], a[2]) for a, b in pairwise(corners)]


def _joined(loose: list[_Side], name: str) -> list[Loop]:
    """Sides put end to end until they close."""
    left, found = [s for s in loose if math.dist(s[0], s[1]) > _MEET], list[Loop]()
    while left:
        start, end, bulge = left.pop(0)
        ring = [(*start, bulge)]
        while math.dist(end, start) > _MEET:
            nearest = min(((math.dist(end, p), i, way) for i, side in enumerate(left)
                           for way, p in ((1, side[0]), (-1, side[1]))), default=None)
            if nearest is None or nearest[0] > _MEET:
                gap = math.dist(end, start) if nearest is None else min(nearest[0], math.dist(end, start))
                raise CaseError(f"{name}: its outline is open, an end at [{mm(round(end[0], 9))}, "
                                f"{mm(round(end[1], 9))}] is {mm(round(gap, 9))} from the next; close it where it "
                                "was drawn")
            first, second, b = left.pop(nearest[1])
            if nearest[2] < 0:
                second, b = first, -b
            ring.append((*end, b))
            end = second
        found.append(tuple(ring))
    return found
