"""Bias field, reciprocal field and flux density of the steel along every string."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from scipy.interpolate import Akima1DInterpolator

from stringflux.geometry.arrays import Array

from ..records.prediction import Prediction, SectionRecord, StringRecord
from .style import FAINT, heading, new_figure, room_for_heading, string_colours, string_key

REACH = 15e-3  # m to each side of the row
WIDTH, HEIGHT = 8.4, 8.0  # inches


def fields_figure(prediction: Prediction) -> Figure:
    """Five panels over the place along the string, one colour per string."""
    fig = new_figure(WIDTH, HEIGHT)
    axes = fig.subplots(3, 2, sharex=True)
    colours = string_colours(len(prediction.strings))
    wide = 0.0 if prediction.section is None else _pole_width(prediction.section)
    panels: tuple[tuple[Axes, str, str, Callable[[StringRecord], Array]], ...] = (
        (axes[0, 1], "Flux density in the steel", "axial B in the core (T)", lambda s: s.line_flux_density),
        (axes[1, 0], "Bias field, normal to the string", "B (mT)", lambda s: 1e3 * s.line_bias[2]),
        (axes[1, 1], "Bias field, along the string", "B (mT)", lambda s: 1e3 * s.line_bias[0]),
        (axes[2, 0], "Reciprocal field, normal to the string", "b (mT/A)",
         lambda s: 1e3 * s.line_reciprocal[2]),
        (axes[2, 1], "Reciprocal field, along the string", "b (mT/A)", lambda s: 1e3 * s.line_reciprocal[0]),
    )
    for ax, title, label, values in panels:
        if wide:
            ax.axvspan(-wide * 1e3, wide * 1e3, color=FAINT, alpha=0.55, lw=0, zorder=0)
        ax.axhline(0.0, color="#b9c0c7", lw=0.8, zorder=1)
        for s, colour in zip(prediction.strings, colours, strict=True):
            ax.plot(*_near(s.x, values(s)), color=colour, lw=1.3)
        ax.set_title(title)
        ax.set_ylabel(label)
        ax.margins(y=0.07)
    for ax in axes[2]:
        ax.set(xlim=(-REACH * 1e3, REACH * 1e3), xlabel="place along the string (mm)")
    string_key(axes[0, 0], prediction, colours, "largest |B| in steel (T)",
               [f"{s.peak_flux_density:.2f}" for s in prediction.strings])
    heading(fig, "Fields along the strings at rest",
            "means round the string's surface; reciprocal: by one ampere "
            + ("in all turns; grey: width of pole 1" if wide else "at the terminals"))
    room_for_heading(fig)
    return fig


def _near(x: Array, values: Array) -> tuple[Array, Array]:
    """The part within reach as a smooth line, x in mm."""
    fine = np.linspace(max(-REACH, x[0]), min(REACH, x[-1]), 301)
    return 1e3 * fine, np.asarray(Akima1DInterpolator(x, values)(fine))


def _pole_width(section: SectionRecord) -> float:
    """Radius of pole 1 at its top part, m."""
    top = section.triangles[:, section.region == 0]
    return float(section.points[0, top].max())
