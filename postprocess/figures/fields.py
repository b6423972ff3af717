"""What there is along strings and other ways: fields, flux density of the steel, the aperture of a string."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from scipy.interpolate import Akima1DInterpolator

from stringflux.geometry.arrays import Array

from ..records.prediction import SectionRecord, StringRecord
from .numbered import number_lines
from .style import (
    FAINT,
    INK,
    SOFT,
    gauss_beside,
    heading,
    new_figure,
    room_for_heading,
    string_colours,
    string_key,
)

REACH = 15e-3  # m to each side of the row
WIDTH, HEIGHT = 8.4, 8.0  # inches
_AXES = {0: "along the strings, x", 1: "across the strings, y", 2: "up from the top plate, z"}


@dataclass(frozen=True, kw_only=True)
class LineQuantity:
    """A quantity along the strings: a panel's title, its label, and the values (n,) in the label's unit."""

    title: str
    label: str
    values: Callable[[StringRecord], Array]


ALONG = {
    "steel": LineQuantity(title="B in string steel", label="axial B in the core (T)",
                          values=lambda s: s.line_flux_density),
    "bias": LineQuantity(title="Field at the string, normal to the string", label="B (mT)",
                         values=lambda s: 1e3 * s.line_bias[2]),
    "bias_along": LineQuantity(title="Field at the string, along the string", label="B (mT)",
                               values=lambda s: 1e3 * s.line_bias[0]),
    "reciprocal": LineQuantity(title="Coil field at 1 A, normal to the string", label="b (mT/A)",
                               values=lambda s: 1e3 * s.line_reciprocal[2]),
    "reciprocal_along": LineQuantity(title="Coil field at 1 A, along the string", label="b (mT/A)",
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
            "means round the string's surface; coil field: by one ampere "
            + ("in all turns; grey: width of pole 1" if section is not None else "at the terminals"))
    room_for_heading(fig)
    return fig


def along(ax: Axes, shown: LineQuantity, strings: Sequence[StringRecord], section: SectionRecord | None) -> None:
    """One quantity over the place along the strings; grey where pole 1 stands."""
    if section is not None:
        wide = _pole_width(section)
        ax.axvspan(-wide * 1e3, wide * 1e3, color=FAINT, alpha=0.55, lw=0, zorder=0)
    ax.axhline(0.0, color="#b9c0c7", lw=0.8, zorder=1)
    lines = [ax.plot(*_near(s.x, shown.values(s)), color=colour, lw=1.3, label=f"string {s.number}")[0]
             for s, colour in zip(strings, string_colours(len(strings)), strict=True)]
    ax.set(title=shown.title, ylabel=shown.label, xlim=(-REACH * 1e3, REACH * 1e3),
           xlabel="place along the string (mm)")
    ax.margins(y=0.07)
    if shown.label == "B (mT)":
        gauss_beside(ax)
    number_lines(ax, lines, [str(s.number) for s in strings], ends=shown.label != "B (mT)")


def aperture(ax: Axes, x: Array, w: Array, width: float = 0.0) -> None:
    """w (n,) in V·s/m² over places x (n,) in m; grey: the even window of that width, m."""
    if width:
        ax.axvspan(-500 * width, 500 * width, color=FAINT, lw=0, zorder=0)
        ax.set_title(f"Listens over {1e3 * width:.3g} mm (grey)")
    ax.axhline(0.0, color=SOFT, lw=0.7)
    ax.plot(1e3 * x, w, color=INK)
    ax.set(xlim=(-1e3 * REACH, 1e3 * REACH), xlabel="place along the string (mm)",
           ylabel="w (mV per m/s and mm)")


def along_points(ax: Axes, points: Array, values: Mapping[str, Array], name: str, unit: str) -> None:
    """Values (n,) in `unit`, shown in thousandths, by name: over the coordinate along which the points lie, or over
    the way from the first one."""
    moved = np.flatnonzero(np.ptp(points, axis=1) > 1e-9)
    if moved.size == 1:
        way, label = points[moved[0]], _AXES[int(moved[0])]
    else:
        steps = np.linalg.norm(np.diff(points, axis=1), axis=0)
        way, label = np.append(0.0, np.cumsum(steps)), "way along the points"
    ax.axhline(0.0, color=SOFT, lw=0.7)
    marker = "" if way.size > 2 else "o"
    for (part, row), colour in zip(values.items(), string_colours(len(values)), strict=True):
        ax.plot(1e3 * way, 1e3 * row, color=colour, label=part, marker=marker)
    ax.set(xlabel=f"{label} (mm)", ylabel=f"{name} (m{unit})")


def _near(x: Array, values: Array) -> tuple[Array, Array]:
    """The part within reach as a smooth line, x in mm."""
    fine = np.linspace(max(-REACH, x[0]), min(REACH, x[-1]), 301)
    return 1e3 * fine, np.asarray(Akima1DInterpolator(x, values)(fine))


def _pole_width(section: SectionRecord) -> float:
    """Radius of pole 1 at its top part, m."""
    top = section.triangles[:, section.region == 0]
    return float(section.points[0, top].max())
