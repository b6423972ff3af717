"""The plane through a build along the strings: |B|, lines that follow B, what is cut, the string over it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LogNorm
from matplotlib.contour import QuadContourSet
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from matplotlib.ticker import MaxNLocator
from scipy.ndimage import distance_transform_edt

from stringflux.geometry.arrays import Array

from ..records.prediction import PoleRecord, SliceOutline, SliceRecord, StringRecord
from .style import INK, heading, new_figure, sizes_bar

_PER_DECADE = 9  # steps of |B|
_DECADES = 2.7
_DENSITY = 1.25  # of the lines along B, in matplotlib's measure
_LETTER, _LINE = 0.068, 0.2  # width of a letter and height of a name with its box, inches
_COPPER = "#f0b860"
_BOX = {"boxstyle": "round,pad=0.2", "fc": "white", "ec": "none", "alpha": 0.85}


def slice_figure(cut: SliceRecord, poles: Sequence[PoleRecord], strings: Sequence[StringRecord]) -> Figure:
    """|B| of everything in the plane of :class:`SliceRecord`."""
    wide, tall = np.ptp(cut.x), np.ptp(cut.z)
    width = min(6.2, 6.2 * wide / tall)
    height = width * tall / wide
    fig = new_figure(width + 1.9, height + 1.25, constrained=False)
    inches = fig.get_size_inches()
    ax = fig.add_axes((0.75 / inches[0], 0.5 / inches[1], width / inches[0], height / inches[1]))
    filled = slice_panel(ax, cut, strings)
    if filled is None:
        heading(fig, _title(cut, poles), "nothing is magnetised")
        return fig
    sizes_bar(filled, ax, fig.add_axes(((0.75 + width + 0.2) / inches[0], 0.5 / inches[1],
                                        0.16 / inches[0], height / inches[1])))
    whole = "endless bars, without their ends" if cut.endless else "field of everything"
    heading(fig, _title(cut, poles), f"{whole}; lines follow B in this plane, their spacing means nothing")
    return fig


def slice_panel(ax: Axes, cut: SliceRecord, strings: Sequence[StringRecord]) -> QuadContourSet | None:
    """The plane on its axes; what was filled by |B|, None where nothing is magnetised."""
    size = np.sqrt((cut.b**2).sum(axis=0))
    high = float(size.max())
    low = max(high / 10**_DECADES, float(size.min()))
    filled = None
    if high > 0:
        filled = _sizes(ax, cut, size, (low, high))
        _lines(ax, cut)
    fig = ax.get_figure(root=True)
    assert fig is not None
    # inches of paper per mm
    scale = min(ax.bbox.width / np.ptp(cut.x), ax.bbox.height / np.ptp(cut.z)) / fig.dpi / 1e3
    _outlines(ax, cut, scale)
    _string(ax, strings[cut.string - 1], cut, 72 * scale)
    ax.set(xlim=1e3 * cut.x[[0, -1]], ylim=1e3 * cut.z[[0, -1]], xlabel="along the strings, bridge to the right (mm)",
           ylabel="height over the top plate (mm)")
    ax.set_aspect("equal")
    ax.xaxis.set_major_locator(MaxNLocator(8, steps=[1, 2, 5]))
    ax.yaxis.set_major_locator(MaxNLocator(8, steps=[1, 2, 5]))
    ax.grid(False)
    return filled


def slice_and_bar(ax: Axes, cut: SliceRecord, strings: Sequence[StringRecord]) -> None:
    """The plane with its scale beside it, in room of the axes."""
    filled = slice_panel(ax, cut, strings)
    if filled is not None:
        sizes_bar(filled, ax)


def _title(cut: SliceRecord, every: Sequence[PoleRecord]) -> str:
    poles = [p.number for p in every if abs(p.y - cut.y) < 1e-6]
    if not poles:
        return f"Plane along string {cut.string}"
    return f"Plane along the strings through pole{'s' if len(poles) > 1 else ''} {' and '.join(map(str, poles))}"


def _sizes(ax: Axes, cut: SliceRecord, size: Array, ends: tuple[float, float]) -> QuadContourSet:
    """|B| region by region: each goes on a little past its outline and is cut off there, so that jumps stay sharp."""
    low, high = ends
    levels = np.geomspace(low, high, round(_PER_DECADE * np.log10(high / low)) + 1)
    for k in np.unique(cut.region):
        own = cut.region == k
        nearest = distance_transform_edt(~own, return_distances=False, return_indices=True)
        values = np.clip(size[tuple(nearest)], low * 1.0001, high * 0.9999)
        filled = ax.contourf(1e3 * cut.x, 1e3 * cut.z, values, levels=levels, norm=LogNorm(low, high), cmap="viridis",
                             zorder=1 if k < 0 else 2)
        if k >= 0:
            filled.set_clip_path(PathPatch(_path([cut.outlines[int(k)]]), transform=ax.transData))
    return filled


def _path(outlines: list[SliceOutline]) -> Path:
    """Closed outlines as one path, mm."""
    closed = [Path(np.concatenate([(p := 1e3 * o.polygon.T), p[:1]]), closed=True) for o in outlines]
    return Path.make_compound_path(*closed)


def _lines(ax: Axes, cut: SliceRecord) -> None:
    """White with arrows in dark air, dark in bright bodies."""
    for colour, order in (("white", 1.5), (INK, 2.5)):
        before = len(ax.patches)
        lines = ax.streamplot(1e3 * cut.x, 1e3 * cut.z, cut.b[0], cut.b[2], density=_DENSITY, linewidth=0.7,
                              color=colour, arrowsize=0.7, zorder=order)
        lines.lines.set_alpha(0.8)
        if colour != "white":
            for arrow in list(ax.patches)[before:]:
                arrow.remove()
            solid = [o for i, o in enumerate(cut.outlines) if np.any(cut.region == i)]
            lines.lines.set_clip_path(PathPatch(_path(solid), transform=ax.transData))


def _outlines(ax: Axes, cut: SliceRecord, scale: float) -> None:
    """Bodies in black with their material, coils in copper with their name; `scale` in inches per mm."""
    named: set[str] = set()
    for o in cut.outlines:
        winding = o.kind == "winding"
        ax.add_patch(PathPatch(_path([o]), fc="none", ec=_COPPER if winding else "black",
                               lw=1.1, ls="--" if winding else "-", zorder=3))
        if not winding or o.name not in named:
            _name(ax, o, scale, cut)
        named.add(o.name)


def _name(ax: Axes, o: SliceOutline, scale: float, cut: SliceRecord) -> None:
    """Inside what it names, upright where that is too narrow; over it where it is too thin for either."""
    x, z = 1e3 * o.polygon
    text = o.material or o.name
    room = len(text) * _LETTER + 0.1
    wide, tall = scale * np.ptp(x), scale * np.ptp(z)
    hollow = np.ptp(x) * np.ptp(z) > 3 * _area(x, z)
    look: dict[str, Any] = {"fontsize": 8, "color": INK, "ha": "center", "zorder": 5, "bbox": _BOX}
    middle = (x.min() + x.max()) / 2
    if hollow or min(wide, tall) < 0.8 * _LINE or max(wide, tall) < room:
        ax.text(x.min() + room / scale / 2, z.max() + 0.6 * _LINE / scale, text, va="center", **look)
    else:
        ax.text(middle, (z.min() + z.max()) / 2, text, va="center", rotation=0 if wide >= room else 90, **look)


def _area(x: Array, z: Array) -> float:
    return float(abs(np.dot(x, np.roll(z, -1)) - np.dot(z, np.roll(x, -1)))) / 2


def _string(ax: Axes, string: StringRecord, cut: SliceRecord, points: float) -> None:
    """The string in its thickness, `points` per mm."""
    x, z = 1e3 * cut.string_line
    thick = max(1.2, points * 1e3 * string.diameter)
    ax.plot(x, z, color="black", lw=thick + 1.2, zorder=4, solid_capstyle="butt")
    ax.plot(x, z, color="white", lw=thick, zorder=4, solid_capstyle="butt")
    ax.text(x[0] + 0.8, z[0] + (thick / 2 + 8) / points, f"string {string.number} at rest", fontsize=8, color=INK,
            va="center", zorder=5, bbox=_BOX)
