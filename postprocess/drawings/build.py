"""A build of bodies and several coils to scale: seen from the strings, along them and across them.

Each view is the outline of everything, one behind the other; lengths in mm, heights over the bobbin's top plate.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Circle, Patch, PathPatch, Polygon, Rectangle
from matplotlib.path import Path

from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.case.upper_ends import upper_ends
from stringflux.geometry.kernel.views import edges_seen, silhouette
from stringflux.geometry.shapes.bodies import Cover, Cylinder, Revolved, SolidBody
from stringflux.geometry.shapes.coil_path import PathCoil
from stringflux.geometry.shapes.pieces import Shaped
from stringflux.geometry.shapes.row import Racetrack

from ..figures.style import ACCENT, INK, SOFT, heading, new_figure
from . import build_dimensions as sizes
from . import dimensions as dim

_AXES = ("x", "y", "z")
_SCALE, _MARGIN = 0.075, sizes.ROOM  # inches per mm; mm of paper round each view
_VIEWS = (
    (1, 0, "Seen from the strings"), (1, 2, "Along the strings, seen from the bridge"), (0, 2, "Across the strings"),
)  # fmt: skip


def build_figure(case: Case) -> Figure:
    """Draw a case that is no plain row; nothing is solved."""
    bodies, coils = case.solid_bodies(), case.racetracks()
    low, high = _extent(case, bodies, coils)
    wide = [[high[i] - low[i] + 2 * _MARGIN for i in pair[:2]] for pair in _VIEWS]
    width = (wide[0][0] + wide[2][0]) * _SCALE + 1.6
    height = (wide[0][1] + wide[1][1]) * _SCALE + 2.9
    fig = new_figure(max(width, 7.0), height, constrained=False)
    looks = _looks(case, bodies)
    shift = (max(width, 7.0) - width) / 2 + 0.65
    under = 0.95 + wide[1][1] * _SCALE + 0.75
    corners = ((shift, under), (shift, 0.95), (shift + wide[0][0] * _SCALE + 0.75, 0.95))
    for (across, up, title), corner, size in zip(_VIEWS, corners, wide, strict=True):
        w, h = fig.get_size_inches()
        ax = fig.add_axes((corner[0] / w, corner[1] / h, size[0] * _SCALE / w, size[1] * _SCALE / h))
        ax.set(xlim=(low[across] - _MARGIN, high[across] + _MARGIN), ylim=(low[up] - _MARGIN, high[up] + _MARGIN))
        if up == 0:
            ax.invert_yaxis()  # from above y to the right has x down; the other way round all is mirrored
        ax.set_xlabel(f"{_AXES[across]}, mm")
        ax.set_ylabel(f"{_AXES[up]}, mm")
        ax.set_title(title)
        ax.grid(visible=False)
        _view(ax, case, (across, up), looks)
        {0: sizes.from_above, 2: sizes.along if across == 1 else sizes.across}[up](ax, case, low, high)
    _key(fig, case, looks)
    heading(fig, case.title or "Drawing to scale",
            "lengths in mm; x along the strings towards the bridge, y across, z over the bobbin's top plate")
    return fig


def _extent(
    case: Case, bodies: tuple[SolidBody, ...], coils: tuple[Racetrack, ...]
) -> tuple[list[float], list[float]]:
    """Least and greatest x, y, z of everything, mm; strings go on along x."""
    corners = [corner for body in bodies for corner in body.form.bounds]
    corners += [corner for coil in coils for corner in coil.bounds]
    corners += [(0.0, s.y, s.shape.axis_height + s.shape.outer_radius) for s in placed_strings(case)]
    return [1e3 * min(c[i] for c in corners) for i in range(3)], [1e3 * max(c[i] for c in corners) for i in range(3)]


def _looks(case: Case, bodies: tuple[SolidBody, ...]) -> dict[str, tuple[str, str]]:
    """Colour and what it is, for each material."""
    warm, cool, out = iter(dim.MAGNETS * 20), iter(dim.STEELS * 20), {}
    for body in bodies:
        if body.material in out:
            continue
        if body.polarity:
            out[body.material] = (next(warm)[0], "magnet")
        elif case.is_magnetic(body.material):
            out[body.material] = (next(cool)[0], "soft")
        else:
            out[body.material] = ("#e9e9e4", "not magnetic")
    return out


def _view(ax: Axes, case: Case, pair: tuple[int, int], looks: dict[str, tuple[str, str]]) -> None:
    across, up = pair
    hidden = 3 - across - up
    # what is nearer to the eye is drawn later: from above the highest, from the bridge what is nearest to it, from
    # the side of −y what has the least y; the sides of a coil are sections that hide nothing
    pieces = [(coil.top if up == 0 else -1.0, coil) for coil in case.racetracks()]
    bodies = [(-b.form.bounds[0][1] if hidden == 1 else b.form.bounds[1][hidden], b) for b in case.solid_bodies()]
    for _, coil in sorted(pieces, key=lambda piece: piece[0]):
        below = [b for top, b in bodies if up == 0 and top < coil.top]
        _bodies(ax, below, pair, looks)
        bodies = [(top, b) for top, b in bodies if b not in below]
        _coil(ax, coil, pair)
    _bodies(ax, [b for _, b in sorted(bodies, key=lambda piece: piece[0])], pair, looks)
    if pair == (1, 0):
        for end in upper_ends(case):
            if end.pole:
                dim.end_letter(ax, 1e3 * end.y, 1e3 * end.x - 0.6e3 * end.radius, end.letter)
    for string in (s.shape for s in placed_strings(case)):
        y, r, z = 1e3 * string.y, 1e3 * string.outer_radius, 1e3 * string.axis_height
        if pair == (1, 2):
            ax.add_patch(Circle((y, z), max(r, 0.25), fc=INK, ec="none", zorder=6))
            continue
        ends = ax.get_xlim() if across == 0 else ax.get_ylim()
        line = (ends, [z + string.slope * x for x in ends]) if across == 0 else ([y, y], ends)
        ax.plot(*line, color=INK, lw=max(2 * r * _SCALE * 72, 0.5), zorder=6, solid_capstyle="butt")
    if up == 2:
        ax.axhline(0.0, color=SOFT, lw=0.7, ls=(0, (8, 2, 1.5, 2)), zorder=1)


def _bodies(ax: Axes, bodies: list[SolidBody], pair: tuple[int, int], looks: dict[str, tuple[str, str]]) -> None:
    for body in bodies:
        _body(ax, body, pair, looks[body.material][0])


def _coil(ax: Axes, coil: Racetrack, pair: tuple[int, int]) -> None:
    if isinstance(coil, PathCoil):
        _path(ax, coil, pair)
        return
    inner, outer = 1e3 * coil.inner_radius, 1e3 * (coil.inner_radius + coil.build)
    x, y, half = 1e3 * coil.x_centre, 1e3 * coil.y_centre, 5e2 * coil.straight
    if pair == (1, 0):
        edges = [Path([*(edge := dim.stadium(r, 2 * half, y) + [0.0, x])[::way], edge[::way][0]], closed=True)
                 for r, way in ((outer, 1), (inner, -1))]
        # through the hole one sees what lies below
        ax.add_patch(PathPatch(Path.make_compound_path(*edges), fc=dim.COPPER, ec=INK, lw=0.8, zorder=2))
        return
    middle, hole = (y, half + inner) if pair[0] == 1 else (x, inner)
    for way in (-1, 1):
        side = [(middle + way * (hole + 1e3 * w), 1e3 * z) for w, z in coil.corners]
        ax.add_patch(Polygon(side, fc=dim.COPPER, ec=INK, lw=0.8, zorder=2))


def _path(ax: Axes, coil: PathCoil, pair: tuple[int, int]) -> None:
    """From above its edges; from a side what lies farthest out to either side, as a section through its middle."""
    looks: dict[str, Any] = {"fc": dim.COPPER, "ec": INK, "lw": 0.8, "zorder": 2}
    if pair == (1, 0):
        edges = []
        for u, way in ((coil.build, 1), (0.0, -1)):
            points = 1e3 * np.array(coil.outline(u))[::way, ::-1]
            edges.append(Path([*points, points[0]], closed=True))
        ax.add_patch(PathPatch(Path.make_compound_path(*edges), **looks))
        return
    (a, b), (c, d) = ([1e3 * p[pair[0]] for p in ends] for ends in (coil.bounds, coil.inner_bounds))
    for left, right in ((a, c), (d, b)):
        ax.add_patch(Rectangle((left, 1e3 * coil.bottom), right - left, 1e3 * (coil.top - coil.bottom), **looks))


def _body(ax: Axes, body: SolidBody, pair: tuple[int, int], colour: str) -> None:
    form, (low, high) = body.form, body.form.bounds
    across, up = pair
    upright = isinstance(form, Revolved) and up != 2
    end_on = upright or (isinstance(form, Cylinder) and form.along == 3 - across - up)
    a, b = 1e3 * low[across], 1e3 * low[up]
    wide, high_ = 1e3 * (high[across] - low[across]), 1e3 * (high[up] - low[up])
    fill = "none" if isinstance(form, Cover) else colour
    if isinstance(form, Shaped):
        _shaped(ax, form, pair, fill)
    elif end_on:
        ax.add_patch(Circle((a + wide / 2, b + high_ / 2), wide / 2, fc=fill, ec=INK, lw=0.8, zorder=2))
    elif isinstance(form, Revolved):
        middle = 1e3 * (form.y if across == 1 else form.x)
        side = [(1e3 * r, 1e3 * z) for r, z in form.outline]
        both = [*((middle + r, z) for r, z in side), *((middle - r, z) for r, z in reversed(side))]
        ax.add_patch(Polygon(both, fc=fill, ec=INK, lw=0.8, zorder=2))
    else:
        ax.add_patch(Rectangle((a, b), wide, high_, fc=fill, ec=INK if fill != "none" else SOFT, lw=0.8, zorder=2))
    if body.magnetisation is not None:
        _arrow(ax, body, pair)


def _shaped(ax: Axes, form: Shaped, pair: tuple[int, int], fill: str) -> None:
    """Its silhouette, and the sharp edges that look at the eye."""
    towards = -1.0 if pair == (0, 2) else 1.0  # x runs to the right for who stands on the side of −y
    rims = [Path(1e3 * np.concatenate([rim, rim[:1]]), closed=True) for rim in silhouette(form, pair, towards)]
    ax.add_patch(PathPatch(Path.make_compound_path(*rims), fc=fill, ec=INK, lw=0.8, zorder=2))
    edges = [*(1e3 * edges_seen(form, pair, towards))]
    ax.add_collection(LineCollection(edges, colors=INK, linewidths=0.5, zorder=2))


def _arrow(ax: Axes, body: SolidBody, pair: tuple[int, int]) -> None:
    """From south to north, where the magnet's axis lies in the view."""
    low, high = body.form.bounds
    way = [body.axis[i] for i in pair]
    if max(map(abs, way)) < 0.1:
        return
    middle = [5e2 * (low[i] + high[i]) for i in pair]
    length = 0.35 * min(1e3 * (high[i] - low[i]) for i in pair if abs(body.axis[i]) > 0.1)
    start, end = ([m + s * length * w for m, w in zip(middle, way, strict=True)] for s in (-1, 1))
    ax.annotate("", xy=(end[0], end[1]), xytext=(start[0], start[1]), zorder=7,
                arrowprops={"arrowstyle": "-|>", "color": ACCENT, "lw": 1.4})


def _key(fig: Figure, case: Case, looks: dict[str, tuple[str, str]]) -> None:
    handles: list[Artist] = [Patch(fc=c, ec=INK, label=f"{name} ({what})") for name, (c, what) in looks.items()]
    handles += [Patch(fc=dim.COPPER, ec=INK, label=f"{name}, {coil.turns:g} turns of {coil.wire}"
                      f"{dim.thickness(track)}")
                for name, coil, track in zip(case.coil_names(), case.coils(), case.racetracks(), strict=True)]
    if any(what == "magnet" for _, what in looks.values()):
        handles.append(Line2D([], [], color=ACCENT, lw=1.5, marker=">", ms=5, label="from south to north pole"))
    height = fig.get_size_inches()[1]
    fig.legend(handles=handles, loc="lower center", bbox_to_anchor=(0.5, 0.05 / height), handlelength=1.8,
               ncols=3, borderaxespad=0.0)
