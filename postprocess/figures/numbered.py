"""Numbers on lines, so that grey print tells them apart: at their right ends, or on the lines where the ends meet."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from stringflux.geometry.arrays import Array

from .style import INK

_APART = 0.055  # of the axes' height, between numbers one over the other
_WIDE = 0.05  # of its width, a number
_ALONG = np.linspace(0.05, 0.95, 46)  # of its width, where a number may stand
_PAPER = {"boxstyle": "square,pad=0.08", "fc": "white", "ec": "none", "alpha": 0.85}


def number_lines(ax: Axes, lines: Sequence[Line2D], texts: Sequence[str], *, ends: bool = True) -> None:
    """Write a text on each line; the axes have their limits and scales by then. One line has none.

    Parameters
    ----------
    ends : bool
        Whether there is room for them right of the axes.
    """
    drawn = [(_in_axes(ax, line), text) for line, text in zip(lines, texts, strict=True)]
    drawn = [(curve, text) for curve, text in drawn if curve[0].size]  # a shut volume has no place on a logarithm
    if len(drawn) < 2:
        return
    curves, texts = [curve for curve, _ in drawn], [text for _, text in drawn]
    last = np.array([[x[-1], y[-1]] for x, y in curves])
    order = np.sort(last[:, 1])
    apart = np.all(np.diff(order) > _APART) and order[0] >= 0.0 and order[-1] <= 1.0
    if ends and apart and np.ptp(last[:, 0]) < 1e-6:
        for (x, y), text in zip(last, texts, strict=True):
            ax.annotate(text, (x, y), xytext=(3, 0), textcoords="offset points", xycoords="axes fraction",
                        fontsize=7.5, color=INK, va="center", ha="left", annotation_clip=False)
        return
    heights = np.array([np.interp(_ALONG, x, y, left=np.nan, right=np.nan) for x, y in curves])
    taken: list[tuple[float, float]] = []
    for i, text in enumerate(texts):
        at = _place(heights, i, taken)
        if at is None:
            continue
        taken.append(at)
        ax.text(*at, text, transform=ax.transAxes, fontsize=7.5, color=INK, ha="center", va="center", zorder=7,
                bbox=_PAPER)


def _in_axes(ax: Axes, line: Line2D) -> tuple[Array, Array]:
    """Where a line's finite points are, in parts of the axes, from left to right."""
    points = ax.transLimits.transform(ax.transScale.transform(np.asarray(line.get_xydata(), float)))
    points = points[np.isfinite(points).all(axis=1)]
    points = points[np.argsort(points[:, 0], kind="stable")]
    return points[:, 0], points[:, 1]


def _place(heights: Array, i: int, taken: Sequence[tuple[float, float]]) -> tuple[float, float] | None:
    """Where line `i` of heights (lines, places) is inside and farthest from the others and from numbers there."""
    mine, others = heights[i], np.delete(heights, i, axis=0)
    away = np.min(np.where(np.isfinite(others), np.abs(others - mine), 1.0), axis=0)
    worth = np.minimum(away, 2 * _APART)
    for x, y in taken:
        near = (np.abs(_ALONG - x) < _WIDE) & (np.abs(mine - y) < _APART)
        worth = worth - np.where(near, 1.0, 0.0)
    inside = np.isfinite(mine) & (mine > 0.03) & (mine < 0.97)
    if not inside.any():
        return None
    k = int(np.argmax(np.where(inside, worth, -9.0)))
    return float(_ALONG[k]), float(mine[k])
