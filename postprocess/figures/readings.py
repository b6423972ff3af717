"""Readings and prediction in one picture: what is off, fields over the poles, output against gap."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ..readings.problem import Predictor
from ..readings.reading import Residual
from ..readings.row_model import State
from .style import (
    ACCENT,
    FAINT,
    INK,
    SOFT,
    WIDTH,
    gauss_beside,
    heading,
    house_style,
    new_figure,
    room_for_heading,
)
from .style import string_colours as colours

_WIDEST = 8.0  # σ; what is further off is drawn at the edge


def readings_figure(rows: Sequence[Residual], model: Predictor, before: State, after: State,
                    title: str = "") -> Figure:
    """Draw the residuals, and curves under the readings that have one.

    Parameters
    ----------
    rows : sequence of Residual
    model : Predictor
    before, after : State
        Of the case, and as fitted (the same without a fit).
    """
    fields = [x for x in rows if x.reading.quantity == "field"]
    outputs = [x for x in rows if x.reading.quantity == "output"]
    kinds = [k for k in (fields, outputs) if k]
    high = 0.9 + 0.2 * len(rows)
    with house_style():
        fig = new_figure(WIDTH, high + 0.9 + (3.0 if kinds else 0.0))
        grid = fig.add_gridspec(2 if kinds else 1, max(len(kinds), 1), height_ratios=(high, 3.0) if kinds else (1,))
        residuals(fig.add_subplot(grid[0, :]), rows)
        for column, kind in enumerate(kinds):
            ax = fig.add_subplot(grid[1, column])
            if kind is fields:
                field_curves(ax, fields, model, before, after)
            else:
                output_curves(ax, outputs, model, after)
        heading(fig, "Readings and prediction", title)
        room_for_heading(fig)
    return fig


def residuals(ax: Axes, rows: Sequence[Residual]) -> None:
    """How far every reading is off, σ."""
    y = np.arange(len(rows))[::-1]
    fitted = rows[0].sigma_fitted is not None
    ax.axvspan(-2, 2, color=FAINT, zorder=0)
    ax.axvline(0, color=SOFT, lw=0.8)
    sigma = np.clip([x.sigma for x in rows], -_WIDEST, _WIDEST)
    ax.plot(sigma, y, "o", color=INK, mfc="white" if fitted else INK, ms=5, label="as the case stands")
    if fitted:
        left = np.clip([x.sigma_fitted or 0.0 for x in rows], -_WIDEST, _WIDEST)
        ax.plot(left, y, "o", color=ACCENT, ms=5, label="after the fit")
        ax.legend(loc="upper center", bbox_to_anchor=(0.5, 1.0), ncols=2, frameon=False)
    ax.set_yticks(y, [x.reading.label for x in rows])
    room = 1.6 if fitted else 0.6
    ax.set(xlim=(-_WIDEST - 0.4, _WIDEST + 0.4), ylim=(-0.6, len(rows) - 1 + room), xlabel="reading − prediction (σ)")
    ax.grid(axis="y", visible=False)


def field_curves(ax: Axes, rows: Sequence[Residual], model: Predictor, before: State, after: State) -> None:
    """Readings of fields on the curves over their poles."""
    poles = sorted({x.reading.pole or 1 for x in rows})
    far = max(x.reading.distance or 0.0 for x in rows) + 0.5e-3
    at = np.linspace(0.0, far, 25)
    for pole, colour in zip(poles, colours(len(poles)), strict=True):
        mine = [x for x in rows if x.reading.pole == pole]
        curve = [replace(mine[0].reading, distance=float(d)) for d in at]
        if before != after:
            ax.plot(at * 1e3, 1e3 * model.predict(curve, before), color=colour, lw=0.9, ls=":")
        ax.plot(at * 1e3, 1e3 * model.predict(curve, after), color=colour)
        ax.errorbar([1e3 * (x.reading.distance or 0.0) for x in mine], [1e3 * x.reading.value for x in mine],
                    [1e3 * x.reading.uncertainty for x in mine], fmt="o", ms=4, color=colour, label=f"pole {pole}")
    ax.set(xlabel="distance as read (mm)", ylabel="field (mT)", xlim=(0, far * 1e3))
    ax.set_title("Field over the poles")
    gauss_beside(ax)
    if before != after:
        ax.plot([], [], color=SOFT, lw=0.9, ls=":", label="as the case stands")
    both = len({x.reading.value > 0 for x in rows}) > 1  # rows of opposite poles leave the middle free
    ax.legend(loc="center right" if both else "upper right", labelspacing=0.25)


def output_curves(ax: Axes, rows: Sequence[Residual], model: Predictor, after: State) -> None:
    """Readings of the output on the curves of their strings."""
    strings = sorted({x.reading.string or 1 for x in rows})
    readings = [x.reading for x in rows]
    for string, colour in zip(strings, colours(len(strings)), strict=True):
        mine = [x for x in rows if x.reading.string == string]
        gaps = np.array([x.reading.gap or 0.0 for x in mine])
        at = np.linspace(gaps.min() - 0.1e-3, gaps.max() + 0.1e-3, 30)
        # the readings go along, so that the model keeps its range of gaps
        curve = [replace(mine[0].reading, gap=float(g)) for g in at]
        value = model.predict([*readings, *curve], after)[len(readings):]
        shown = mine[0].predicted if mine[0].fitted is None else mine[0].fitted
        level = shown - model.predict(readings, after)[rows.index(mine[0])]
        ax.plot(at * 1e3, value + level, color=colour)
        ax.errorbar(gaps * 1e3, [x.reading.value for x in mine], [x.reading.uncertainty for x in mine], fmt="o", ms=4,
                    color=colour, label=f"string {string}")
    ax.set(xlabel="gap as read (mm)", ylabel="output (dB)")
    ax.set_title("Output at a constant drive")
    ax.legend()
