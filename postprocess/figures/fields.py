"""Bias field, reciprocal field and flux density of the steel along every string."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from scipy.interpolate import Akima1DInterpolator

from stringflux.geometry.arrays import Array

from ..records.prediction import SectionRecord, StringRecord
from .style import FAINT, heading, new_figure, room_for_heading, string_colours, string_key

REACH = 15e-3  # m to each side of the row
WIDTH, HEIGHT = 8.4, 8.0  # inches


@dataclass(frozen=True, kw_only=True)
class Along:
    """A quantity along the strings: a panel's title, its label, and the values (n,) in the label's unit."""

    title: str
    label: str
    values: Callable[[StringRecord], Array]


ALONG = {
    "steel": Along(title="Flux density in the steel", label="axial B in the core (T)",
                   values=lambda s: s.line_flux_density),
    "bias": Along(title="Bias field, normal to the string", label="B (mT)", values=lambda s: 1e3 * s.line_bias[2]),
    "bias_along": Along(title="Bias field, along the string", label="B (mT)",
                        values=lambda s: 1e3 * s.line_bias[0]),
    "reciprocal": Along(title="Reciprocal field, normal to the string", label="b (mT/A)",
                        values=lambda s: 1e3 * s.line_reciprocal[2]),
    "reciprocal_along": Along(title="Reciprocal field, along the string", label="b (mT/A)",
                              values=lambda s: 1e3 * s.line_reciprocal[0]),
}
"""What :func:`along` draws, by name."""


def fields_figure(strings: Sequence[StringRecord], section: SectionRecord | None) -> Figure:
    """Five panels over the place along the string, one colour per string."""
    fig = new_figure(WIDTH, HEIGHT)
    key, *panels = fig.subplots(3, 2, sharex=True).flat
    for ax, name in zip(panels, ALONG, strict=True):
        along(ax, ALONG[name], strings, section)
    for ax in panels[:-2]:
        ax.set_xlabel("")
    string_key(key, strings, string_colours(len(strings)), "largest |B| in steel (T)",
               [f"{s.peak_flux_density:.2f}" for s in strings])
    heading(fig, "Fields along the strings at rest",
            "means round the string's surface; reciprocal: by one ampere "
            + ("in all turns; grey: width of pole 1" if section is not None else "at the terminals"))
    room_for_heading(fig)
    return fig


def along(ax: Axes, shown: Along, strings: Sequence[StringRecord], section: SectionRecord | None) -> None:
    """One quantity over the place along the strings; grey where pole 1 stands."""
    if section is not None:
        wide = _pole_width(section)
        ax.axvspan(-wide * 1e3, wide * 1e3, color=FAINT, alpha=0.55, lw=0, zorder=0)
    ax.axhline(0.0, color="#b9c0c7", lw=0.8, zorder=1)
    for s, colour in zip(strings, string_colours(len(strings)), strict=True):
        ax.plot(*_near(s.x, shown.values(s)), color=colour, lw=1.3, label=f"string {s.number}")
    ax.set(title=shown.title, ylabel=shown.label, xlim=(-REACH * 1e3, REACH * 1e3),
           xlabel="place along the string (mm)")
    ax.margins(y=0.07)


def _near(x: Array, values: Array) -> tuple[Array, Array]:
    """The part within reach as a smooth line, x in mm."""
    fine = np.linspace(max(-REACH, x[0]), min(REACH, x[-1]), 301)
    return 1e3 * fine, np.asarray(Akima1DInterpolator(x, values)(fine))


def _pole_width(section: SectionRecord) -> float:
    """Radius of pole 1 at its top part, m."""
    top = section.triangles[:, section.region == 0]
    return float(section.points[0, top].max())
