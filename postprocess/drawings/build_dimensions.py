"""Sizes, and numbers of strings, in the three views of a build; lengths in mm.

Every size stands once: across and along in the view from the strings, heights and lengths across in the one along
the strings, thicknesses along in the one across them. At most three lines of them stand on one side.
"""

from __future__ import annotations

from matplotlib.axes import Axes

from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.shapes.bodies import Cover, SolidBody
from stringflux.geometry.shapes.coil_path import PathCoil
from stringflux.geometry.shapes.row import FormedShape, Racetrack

from ..figures.style import SOFT
from . import dimensions as dim

FIRST, NEXT, MOST = 2.6, 3.5, 3  # of the lines on one side: from what is drawn, from line to line, mm; how many
ROOM = FIRST + (MOST - 1) * NEXT + 3.2
"""What they take round a view, mm of paper."""
_SIZE = 7.5
Ends = tuple[float, float]
Corner = list[float]


def from_above(ax: Axes, case: Case, low: Corner, high: Corner) -> None:
    """Coils over all and inside, spaces of strings and of rows; y to the right, x down."""
    strings, coils = placed_strings(case), case.racetracks()
    for string in strings:
        ax.text(1e3 * string.y, low[0] - FIRST - 4.5, str(string.number), fontsize=8, fontweight="bold",
                ha="center", va="center", zorder=8, bbox=dim.PAPER)
    if len(strings) > 1:
        a, b = (1e3 * s.y for s in strings[:2])
        dim.across(ax, a, b, low[0] - FIRST, low[0] - 0.5, size=_SIZE)
    longest = max(coils, key=_length)
    left, right = (1e3 * p[1] for p in longest.bounds)
    dim.across(ax, left, right, high[0] + FIRST, 1e3 * longest.x_centre, size=_SIZE)
    outer, inner = ([(1e3 * a[0], 1e3 * b[0]) for a, b in ends]
                    for ends in ([c.bounds for c in coils], [c.inner_bounds for c in coils]))
    half = 0.0 if isinstance(longest, PathCoil) else 5e2 * longest.straight
    _upright(ax, outer, high[1], 1, 1e3 * longest.y_centre + half)
    _upright(ax, inner, low[1], -1, 1e3 * longest.y_centre - half)
    places = sorted({round(1e3 * row.row.x, 6) for row in case.rows()})
    if len(places) > 1:
        dim.upright(ax, places[0], places[1], high[1] + FIRST + 1.6 * NEXT, high[1], size=_SIZE)


def along(ax: Axes, case: Case, low: Corner, high: Corner) -> None:
    """Heights of coils, poles and bodies, their lengths across, and every string's gap; y to the right, z up."""
    top = high[2]
    for string in placed_strings(case):
        y = 1e3 * string.y
        ax.text(y, top + 4.8, str(string.number), fontsize=8, fontweight="bold", ha="center", va="center", zorder=8)
        ax.text(y, top + 2.2, dim.text_mm(round(1e3 * string.gap, 2)), fontsize=_SIZE, ha="center", va="center",
                zorder=8)
    for head, up in (("string", 4.8), ("gap", 2.2)):
        ax.text(low[1] - 1.0, top + up, head, fontsize=_SIZE, color=SOFT, ha="right", va="center")
    boxes, poles = _boxes(case), [p for row in case.rows()[:1] for p in row.placed()]
    heights = [(1e3 * c.bottom, 1e3 * c.top) for c in case.racetracks()]
    _upright(ax, [*heights, *(_ends(b, 2) for b in boxes)], high[1], 1, high[1])
    levels = {(1e3 * (p.face + p.shape.bottom), 1e3 * p.face) for p in poles[:1]}
    if poles and abs(poles[0].face) > 0.05e-3:
        levels.add((0.0, 1e3 * poles[0].face))
    _upright(ax, sorted(levels, key=lambda ends: ends[1] - ends[0]), low[1], -1,
             1e3 * (poles[0].y + min(part.across[0] for part in poles[0].shape.parts)) if poles else low[1])
    spans = [_ends(b, 1) for b in boxes]
    if len(poles) > 1:
        spans.insert(0, (1e3 * poles[0].y, 1e3 * poles[1].y))
    _across(ax, spans, low[2], low[2])


def across(ax: Axes, case: Case, low: Corner, high: Corner) -> None:
    """Thicknesses along the strings: of bodies below, of the first pole of each row above; x to the right, z up."""
    _across(ax, [_ends(b, 0) for b in _boxes(case)], low[2], low[2])
    for row in case.rows():
        first = row.placed()[0]
        top, face = first.shape.parts[0], 1e3 * first.face
        left, right = (1e3 * (row.row.x + end) for end in top.along)
        dim.across(ax, left, right, high[2] + FIRST, face, " ", 1.0)
        mark = "" if isinstance(top, FormedShape) else "∅ "
        ax.text((left + right) / 2, high[2] + FIRST + 1.6, f"{mark}{dim.text_mm(right - left)}", fontsize=_SIZE,
                ha="center", va="center")


def _upright(ax: Axes, spans: list[Ends], edge: float, side: int, reach: float) -> None:
    """Dimensions upwards beside `edge`, each kind of size once; those that share no height share a line."""
    lines: list[list[Ends]] = []
    for ends in _told(spans):
        line = next((k for k in lines if all(ends[0] >= o[1] + 1.0 or ends[1] <= o[0] - 1.0 for o in k)), None)
        if line is None:
            if len(lines) == MOST:
                return
            lines.append(line := [])
        line.append(ends)
        dim.upright(ax, *ends, edge + side * (FIRST + lines.index(line) * NEXT), reach, size=_SIZE)


def _across(ax: Axes, spans: list[Ends], edge: float, reach: float) -> None:
    """Dimensions across below `edge`."""
    for n, ends in enumerate(_told(spans)[:MOST]):
        dim.across(ax, *ends, edge - FIRST - n * NEXT, reach, size=_SIZE)


def _told(spans: list[Ends]) -> list[Ends]:
    """Each size once where it lies, short ones first, so that long ones go round them."""
    return sorted({(round(a, 3), round(b, 3)) for a, b in spans}, key=lambda ends: ends[1] - ends[0])


def _boxes(case: Case) -> list[SolidBody]:
    """The bodies whose sizes are told: all of [[body]] but covers, whose walls go round everything."""
    return [b for b in case.own_bodies() if not isinstance(b.form, Cover)]


def _ends(body: SolidBody, i: int) -> Ends:
    low, high = body.form.bounds
    return 1e3 * low[i], 1e3 * high[i]


def _length(coil: Racetrack) -> float:
    """Of a coil over all, m."""
    low, high = coil.bounds
    return high[1] - low[1]
