"""Figures of a report for a phone: the same panels one under the other, as wide as the screen, and legible."""

from __future__ import annotations

import textwrap

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.legend import Legend
from matplotlib.text import Text

from ..figures.style import heading_height, house_style, room_for_heading

WIDTH = 4.1  # inches: some 390 pixels, as wide as phones are
_PANEL = 2.3  # inches, a panel that was beside another
_SMALL = 7.5  # points, numbers in bars that are narrower now
_LETTERS = 62  # of the line under the title


def narrowed(figure: Figure) -> Figure:
    """Lay a figure out anew in one column; it is changed."""
    axes = [ax for ax in figure.axes if ax.get_subplotspec() is not None]
    columns = max((spec.get_gridspec().ncols for ax in axes if (spec := ax.get_subplotspec())), default=1)
    high = float(figure.get_size_inches()[1])
    lines = _under(figure)
    if columns > 1:
        grid = figure.add_gridspec(len(axes), 1)
        for i, ax in enumerate(axes):
            ax.set_subplotspec(grid[i, 0])
            ax.tick_params(labelbottom=True)
        high = heading_height(lines) + _PANEL * len(axes)
    for text in (text for ax in axes for text in ax.texts):
        text.set_fontsize(min(float(text.get_fontsize()), _SMALL))
    figure.set_size_inches(WIDTH, high + sum(_legend_below(ax) for ax in axes))
    for text, up in zip(_heading(figure), (0.09, 0.33), strict=False):
        text.set_y(1 - up / figure.get_size_inches()[1])
    room_for_heading(figure, lines)
    return figure


def _heading(figure: Figure) -> list[Text]:
    """Title and the line under it: what is written on the figure but the label of all its panels."""
    return [text for text in figure.texts if text.get_text() != figure.get_supylabel()][:2]


def _under(figure: Figure) -> int:
    """Break the line under the title; lines that it takes."""
    if len(texts := _heading(figure)) < 2:
        return 1
    under = texts[1]
    lines = textwrap.wrap(under.get_text().replace("\n", " "), _LETTERS)
    under.set_text("\n".join(lines))
    return max(len(lines), 1)


def _legend_below(ax: Axes) -> float:
    """Take a key that stands over its panel or in it below; the height it takes, inches."""
    legend: Legend | None = ax.get_legend()
    if legend is None:
        return 0.0
    names = [text.get_text() for text in legend.get_texts()]
    handles = [handle for handle in legend.legend_handles if handle is not None]
    with house_style():
        ax.legend(handles=handles, labels=names, ncols=2, loc="upper center", bbox_to_anchor=(0.5, -0.25),
                  columnspacing=1.2)
    return 0.2 * -(-len(names) // 2)
