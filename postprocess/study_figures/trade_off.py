"""Designs of a study in one picture: the trade-off between two figures, or all main figures against the one input.

A design is dominated if another is at least as good in both figures and better in one; the others are the best
trade-offs, joined by a line.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import Colormap, LinearSegmentedColormap
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.text import Text
from matplotlib.transforms import Bbox
from numpy.typing import NDArray

from stringflux.geometry.arrays import Array

from ..figures.style import INK, SOFT, WIDTH, heading, house_style, new_figure, room_for_heading, string_colours

_MARKERS = ("o", "s", "^", "D", "v", "P", "X", "h", "<", ">")
_MOST_LABELS = 12
_PANELS = 6


@dataclass(frozen=True, kw_only=True)
class Varied:
    """One input of the designs.

    Attributes
    ----------
    name : str
    texts : tuple of str
        Its value in every design, as a person reads it.
    numbers : (n,) array or None
        The same in `unit`; None for names of materials and the like.
    unit : str
    """

    name: str
    texts: tuple[str, ...]
    numbers: Array | None = None
    unit: str = ""


@dataclass(frozen=True, kw_only=True)
class Measure:
    """One figure of the designs: its values (n,) in `unit`, and which way is better ("more", "less" or "")."""

    title: str
    unit: str
    values: Array
    better: str = ""


def study_figure(varied: Sequence[Varied], measures: Sequence[Measure], title: str = "") -> Figure:
    """Draw the designs.

    Parameters
    ----------
    varied : sequence of Varied
        At least one.
    measures : sequence of Measure
        At least two, those that matter most first. With a single numeric input all are drawn against it, otherwise
        the first against the second.
    title : str
        Of the case.
    """
    with house_style():
        if len(varied) == 1 and varied[0].numbers is not None:
            return _curves(varied[0], measures, title)
        return _trade_off(*_complete(varied, measures[0], measures[1]), title)


def front(first: Measure, second: Measure) -> NDArray[np.bool_]:
    """Which designs (n,) are dominated by no other; a figure without a better way counts as less is better.

    Examples
    --------
    >>> a = Measure(title="a", unit="V", values=np.array([1.0, 2.0, 3.0, 2.0]), better="more")
    >>> b = Measure(title="b", unit="dB", values=np.array([1.0, 2.0, 3.0, 4.0]), better="less")
    >>> front(a, b).tolist()
    [True, True, True, False]
    """
    costs = np.column_stack([-m.values if m.better == "more" else m.values for m in (first, second)])
    order = np.lexsort((costs[:, 1], costs[:, 0]))
    found = np.zeros(len(costs), bool)
    least = np.inf
    for i in order:
        if np.isfinite(costs[i]).all() and costs[i, 1] < least:
            # equal to the one before in both: as good as that
            found[(costs == costs[i]).all(axis=1)] = True
            least = costs[i, 1]
    return found


def _curves(varied: Varied, measures: Sequence[Measure], title: str) -> Figure:
    shown = [m for m in measures if _changes(m.values)][:_PANELS] or list(measures[:1])
    still = [m.title.split(",")[0].lower() for m in measures if m not in shown and not _changes(m.values)]
    columns = 2 if len(shown) > 1 else 1
    rows = -(-len(shown) // columns)
    fig = new_figure(WIDTH, 1.0 + 2.2 * rows)
    axes = list(fig.subplots(rows, columns, sharex=True, squeeze=False).flat)
    for i, (ax, measure) in enumerate(zip(axes, shown, strict=False)):
        against(ax, varied, measure)
        if i + columns < len(shown):
            ax.set_xlabel("")
        else:
            ax.tick_params(labelbottom=True)
    for ax in axes[len(shown):]:
        ax.set_axis_off()
    heading(fig, f"What the {varied.name} does", f"{title}; not changed: {', '.join(still)}" if still else title)
    room_for_heading(fig)
    return fig


def against(ax: Axes, varied: Varied, measure: Measure) -> None:
    """A figure over the one number that is varied."""
    assert varied.numbers is not None
    order = np.argsort(varied.numbers)
    ax.plot(varied.numbers[order], measure.values[order], "-o", color=string_colours(1)[0], ms=3.5)
    ax.set_title(_broken(measure.title, 50), fontsize=8.0)
    ax.set(xlabel=f"{varied.name} {_unit(varied.unit)}".strip(), ylabel=measure.unit)
    ax.ticklabel_format(axis="y", useOffset=False)


def trade_off(ax: Axes, varied: Sequence[Varied], first: Measure, second: Measure) -> None:
    """The designs that have both figures, the first over the second, the best trade-offs joined and named."""
    _designs(ax, *_complete(varied, first, second))()


def _changes(values: Array) -> bool:
    """Whether a figure moves by more than the last digits of its computation."""
    good = values[np.isfinite(values)]
    return bool(good.size and np.ptp(good) > 1e-4 * np.abs(good).max())


def _complete(varied: Sequence[Varied], first: Measure,
              second: Measure) -> tuple[list[Varied], Measure, Measure]:
    """The designs that have both figures."""
    keep = np.isfinite(first.values) & np.isfinite(second.values)
    left = [replace(v, texts=tuple(t for t, k in zip(v.texts, keep, strict=True) if k),
                    numbers=None if v.numbers is None else v.numbers[keep]) for v in varied]
    return left, replace(first, values=first.values[keep]), replace(second, values=second.values[keep])


def _trade_off(varied: Sequence[Varied], first: Measure, second: Measure, title: str) -> Figure:
    fig = new_figure(WIDTH, 5.6)
    write_names = _designs(fig.subplots(), varied, first, second)
    heading(fig, "Trade-off of the designs", title)
    room_for_heading(fig)
    write_names()
    return fig


def _designs(ax: Axes, varied: Sequence[Varied], first: Measure, second: Measure) -> Callable[[], None]:
    """Draw them; gives what writes their names, for when everything else has its place."""
    x, y = second.values, first.values
    best = front(first, second)
    fig = ax.get_figure(root=True)
    assert fig is not None
    by_name = next((v for v in varied if v.numbers is None and 1 < len(set(v.texts)) <= len(_MARKERS)), None)
    kinds = list(dict.fromkeys(by_name.texts)) if by_name else [""]
    groups = [_members(by_name, kind, len(x)) for kind in kinds]
    if by_name is not None and len(varied) == 2:
        _strands(ax, varied, groups, x, y)
    line = _sorted(x[best], y[best])
    ax.plot(*line, color=INK, lw=1.0, ls=(0, (4, 3)), zorder=2)
    numbers = varied[0].numbers
    handles = []
    drawn: Any = None
    for group, kind, marker, colour in zip(groups, kinds, _MARKERS, string_colours(len(kinds)), strict=False):
        paint: dict[str, Any] = {"color": colour}
        if numbers is not None and numbers.size:
            paint = {"c": numbers[group], "cmap": _ramp(), "vmin": numbers.min(), "vmax": numbers.max()}
        drawn = ax.scatter(x[group], y[group], marker=marker, s=42, zorder=3, linewidths=0.9,
                           edgecolors=np.where(best[group], INK, "white").tolist(), **paint)
        handles.append(Line2D([], [], ls="", marker=marker, color=colour if numbers is None else SOFT, label=kind))
    ax.set(xlabel=_label(second), ylabel=_label(first))
    ax.margins(0.1)
    if numbers is not None:
        bar = fig.colorbar(drawn, ax=ax, pad=0.015, aspect=32)
        bar.set_label(f"{varied[0].name} {_unit(varied[0].unit)}".strip())
        bar.outline.set_visible(False)
    joined = Line2D([], [], color=INK, lw=1.0, ls=(0, (4, 3)), label="best trade-offs")
    handles = [*(handles if by_name else ()), joined]
    ax.legend(handles=handles, loc="upper center", bbox_to_anchor=(0.5, -0.16), ncols=min(5, len(handles)),
              title=by_name.name if by_name else None)
    side = (-1 if second.better != "more" else 1, -1 if first.better == "less" else 1)
    return lambda: _write_names(fig, ax, varied, x, y, best, line, side)


def _members(by_name: Varied | None, kind: str, count: int) -> NDArray[np.bool_]:
    return np.ones(count, bool) if by_name is None else np.array([text == kind for text in by_name.texts])


def _strands(ax: Axes, varied: Sequence[Varied], groups: Sequence[NDArray[np.bool_]], x: Array, y: Array) -> None:
    """A thin line through the designs of one name, in the order of the number that is varied with it."""
    numbers = next((v.numbers for v in varied if v.numbers is not None), None)
    if numbers is None:
        return
    for group in groups:
        order = np.argsort(numbers[group])
        ax.plot(x[group][order], y[group][order], color=SOFT, lw=0.5, alpha=0.7, zorder=1)


def _write_names(fig: Figure, ax: Axes, varied: Sequence[Varied], x: Array, y: Array, best: NDArray[np.bool_],
                 line: tuple[Array, Array], side: tuple[int, int]) -> None:
    """Names of the best designs where there is room, on the good side of the line first."""
    fig.draw_without_rendering()
    corners = ax.transData.transform(np.column_stack(line))
    along = [a + t * (b - a) for a, b in pairwise(corners) for t in np.linspace(0, 1, 40)]
    taken = [Bbox([p - 5, p + 5]) for p in ax.transData.transform(np.column_stack([x, y]))]
    taken += [Bbox([p - 1, p + 1]) for p in along]
    inside = ax.get_window_extent()
    indices = np.flatnonzero(best)
    if len(indices) > _MOST_LABELS:  # evenly along the line, both ends among them
        indices = indices[np.argsort(x[indices])][np.linspace(0, len(indices) - 1, _MOST_LABELS).round().astype(int)]
    h, v = side
    for i in indices:
        text = _broken(", ".join(v.texts[i] for v in varied), 34)
        for dx, dy in ((h, v), (h, 0), (0, v), (-h, v), (h, -v), (-h, 0), (0, -v), (-h, -v)):
            made: Text = ax.annotate(
                text, (x[i], y[i]), xytext=(6.0 * dx, 5.0 * dy), textcoords="offset points", fontsize=7.5, color=INK,
                ha=("right", "center", "left")[dx + 1], va=("top", "center", "bottom")[dy + 1], zorder=4)
            box = made.get_window_extent()
            within = inside.x0 < box.x0 and box.x1 < inside.x1 and inside.y0 < box.y0 and box.y1 < inside.y1
            if within and not box.count_overlaps(taken):
                taken.append(box)
                break
            made.remove()


def _sorted(x: Array, y: Array) -> tuple[Array, Array]:
    order = np.lexsort((y, x))
    return x[order], y[order]


def _ramp() -> Colormap:
    """Perceptually even, without the yellow end that white paper swallows."""
    return LinearSegmentedColormap.from_list("ramp", matplotlib.colormaps["viridis"](np.linspace(0.0, 0.9, 256)))


def _label(measure: Measure) -> str:
    side = f"{measure.better} is better" if measure.better else ""
    return f"{measure.title} {_unit(measure.unit)}\n{side}".strip()


def _unit(unit: str) -> str:
    return f"({unit})" if unit else ""


def _broken(text: str, width: int) -> str:
    """In lines of about that many letters."""
    import textwrap

    return "\n".join(textwrap.wrap(text, width)) or text
