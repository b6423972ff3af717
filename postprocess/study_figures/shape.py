"""Figures of a shape: before and after, a front of two goals, and the drawing to turn it from."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Protocol, TypeVar

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Polygon
from scipy.interpolate import PchipInterpolator

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import PoleShape

from ..drawings import dimensions as dim
from ..figures.style import (
    ACCENT,
    INK,
    SOFT,
    WIDTH,
    gauss_beside,
    heading,
    house_style,
    new_figure,
    room_for_heading,
)


class Named(Protocol):
    """What is drawn under a name."""

    @property
    def name(self) -> str:
        """In the legend."""


Drawn = TypeVar("Drawn", bound=Named)
_SCALES = (0.5, 1, 2, 5, 10, 15, 20, 30, 50)
BEFORE, AFTER = "#0072b2", ACCENT


@dataclass(frozen=True, kw_only=True, eq=False)
class Look:
    """What is drawn of one shape.

    Attributes
    ----------
    name : str
    shape : PoleShape
    height, field : arrays (n,)
        Over the face, m, and axial bias there, T.
    gap, output : arrays (k,)
        m, and mean S, V·s/m.
    """

    name: str
    shape: PoleShape
    height: Array
    field: Array
    gap: Array
    output: Array


def comparison_figure(looks: Sequence[Look], title: str, under: str, rest_gap: float) -> Figure:
    """Tips one over the other, the field over the face and the output against the gap."""
    with house_style():
        fig = new_figure(WIDTH, 3.6)
        tip, field, output = fig.subplots(1, 3, width_ratios=(1.1, 1, 1))
        tips(tip, looks)
        fields(field, looks)
        outputs(output, looks, rest_gap)
        heading(fig, title, under)
        room_for_heading(fig)
        return fig


def tips(ax: Axes, looks: Sequence[Look]) -> None:
    """Upper surfaces in section, one over the other."""
    for look, style in styled(looks):
        upper = _upper(look.shape)
        ax.plot(*np.concatenate([upper[::-1] * [-1, 1], upper[1:]]).T, **style)
    ax.set(xlabel="r, mm", ylabel="z from the face, mm", title="Tip", aspect="equal", adjustable="datalim")


def fields(ax: Axes, looks: Sequence[Look]) -> None:
    """Field on the axis over the face."""
    for look, style in styled(looks):
        ax.plot(*_smooth(1e3 * look.height, 1e3 * np.abs(look.field)), **style)
    ax.set(xlabel="height over the face, mm", ylabel="field on the axis, mT", title="Field", ylim=(0, None))
    gauss_beside(ax)


def outputs(ax: Axes, looks: Sequence[Look], rest_gap: float) -> None:
    """Mean S of the strings against their gap, all raised and lowered together."""
    for look, style in styled(looks):
        ax.plot(*_smooth(1e3 * look.gap, 1e3 * look.output), **style)
    ax.set(xlabel="gap, mm", ylabel="S, mV per m/s", title="Output", ylim=(0, None))
    ax.axvline(1e3 * rest_gap, color=SOFT, lw=0.8, ls=":")
    ax.text(1e3 * rest_gap, 0.02, " case", transform=ax.get_xaxis_transform(), color=SOFT, fontsize=7.5)
    ax.legend(loc="upper right")


def styled(looks: Sequence[Drawn]) -> Iterator[tuple[Drawn, dict[str, Any]]]:
    """Before and after, and how their lines are drawn."""
    styles = ((BEFORE, (0, (4, 2)), 1.3), (AFTER, "solid", 1.8))
    for look, (colour, dash, width) in zip(looks, styles, strict=False):
        yield look, {"color": colour, "ls": dash, "lw": width, "label": look.name}


def front_figure(points: Array, names: tuple[str, str], before: tuple[float, float], title: str,
                 better: tuple[float, float]) -> Figure:
    """The front of two goals, points (n, 2) in the units of `names`, and the case as it was.

    `better` is +1 for a goal of which more is better, −1 else: numbers stand on the side where no front can run.
    """
    with house_style():
        fig = new_figure(WIDTH * 0.7, 3.6)
        front(fig.subplots(), points, names, before, better)
        heading(fig, title, "no point has another that is better in one goal and no worse in the other")
        room_for_heading(fig)
        return fig


def front(ax: Axes, points: Array, names: tuple[str, str], before: tuple[float, float],
          better: tuple[float, float]) -> None:
    """Its points, numbered from 1, and the case as it was; arguments as of :func:`front_figure`."""
    ax.plot(points[:, 0], points[:, 1], color=AFTER, marker="o", ms=5)
    for i, (x, y) in enumerate(points, start=1):
        ax.annotate(str(i), (x, y), (8 * better[0], 8 * better[1]), textcoords="offset points", fontsize=8.5,
                    ha="center", va="center")
    ax.plot(*before, color=BEFORE, marker="s", ms=6, ls="none")
    ax.annotate("before", before, (-8 * better[0], -8 * better[1]), textcoords="offset points", fontsize=8.5,
                color=BEFORE, ha="right" if better[0] > 0 else "left", va="top" if better[1] > 0 else "bottom")
    ax.set(xlabel=names[0], ylabel=names[1])
    ax.margins(0.12)


def _smooth(x: Array, y: Array) -> tuple[Array, Array]:
    """Through samples of a smooth curve, without corners; monotone where they are."""
    fine = np.linspace(x[0], x[-1], 121)
    return fine, np.asarray(PchipInterpolator(x, y)(fine))


def turning_drawing(shape: PoleShape, title: str, under: str) -> Figure:
    """The pole in section, to the scale that is printed, with its dimensions in mm; the tip once more, larger."""
    upper = _upper(shape)
    radius, low = 1e3 * shape.radius, 1e3 * shape.bottom
    with house_style():
        whole_scale = _scale(min(5.2 / -low, 1.4 / radius))
        rim = float(upper[-1, 0])
        tip_deep = max(float(-upper[:, 1].min()), 0.25 * rim)
        tip_scale = _scale(min(4.4 / (2 * rim), 2.6 / tip_deep))
        fig = new_figure(9.4, max(-low * whole_scale + 1.8, 6.2), constrained=False)
        left = _paper(fig, (-radius - 0.7 / whole_scale, radius + 0.9 / whole_scale, low - 0.5 / whole_scale,
                            0.55 / whole_scale), whole_scale, (0.1, 0.75))
        _section(left, shape)
        dim.across(left, -radius, radius, low - 0.3 / whole_scale, low)
        edges = [0.0, *(1e3 * part.bottom for part in shape.parts)]
        for top, bottom in pairwise(edges):
            dim.upright(left, bottom, top, radius + 0.25 / whole_scale, radius)
        left.set_title(f"Pole, {25.4 * whole_scale:.3g} : 1")
        right = _paper(fig, (-rim - 0.3 / tip_scale, rim + 0.95 / tip_scale, -tip_deep - 0.8 / tip_scale,
                             0.45 / tip_scale), tip_scale, (3.5, 0.75))
        _tip(right, upper, rim, tip_deep, tip_scale)
        right.set_title(f"Tip, {25.4 * tip_scale:.3g} : 1")
        _points(fig, upper)
        heading(fig, title, under)
        return fig


def _scale(most: float) -> float:
    """The largest usual scale that fits, in inches of paper per mm."""
    return max((n for n in _SCALES if n / 25.4 <= most), default=most * 25.4) / 25.4


def _points(fig: Figure, upper: Array) -> None:
    """The points of the upper surface as columns, in the lower right corner."""
    rows = 12
    h = fig.get_size_inches()[1]
    for i, (r, z) in enumerate(upper):
        column, row = divmod(i, rows)
        if row == 0:
            _line(fig, column, 0, h, ("r", "depth"), SOFT)
        _line(fig, column, row + 1, h, (f"{r:.3g}", f"{-z + 0.0:.3g}"), INK)


def _line(fig: Figure, column: int, row: int, h: float, cells: tuple[str, str], colour: str) -> None:
    for i, cell in enumerate(cells):
        x, y = 3.9 + 1.05 * column + 0.45 * i, 0.2 + 0.15 * (12 - row)
        fig.text(x / fig.get_size_inches()[0], y / h, cell, fontsize=7.5, color=colour, ha="right")


def _paper(fig: Figure, view: tuple[float, float, float, float], scale: float, corner: tuple[float, float]) -> Axes:
    """Axes whose mm are `scale` inches, upper left corner at `corner` inches from the page's."""
    w, h = fig.get_size_inches()
    wide, high = (view[1] - view[0]) * scale, (view[3] - view[2]) * scale
    ax = fig.add_axes((corner[0] / w, 1 - (corner[1] + high) / h, wide / w, high / h))
    ax.set(xlim=view[:2], ylim=view[2:])
    ax.set_axis_off()
    return ax


def _section(ax: Axes, shape: PoleShape) -> None:
    kinds = {part.material: part.polarity != 0 for part in shape.parts}
    warm, cool = iter(dim.MAGNETS * 4), iter(dim.STEELS * 4)
    dim.pole_section(ax, shape, 0.0, 0.0, {name: next(warm if magnet else cool) for name, magnet in kinds.items()})
    ax.plot([0, 0], [1e3 * shape.bottom - 0.8, 1e3 * shape.top + 0.8], color=SOFT, lw=0.6, ls=(0, (8, 2, 1.5, 2)))


def _tip(ax: Axes, upper: Array, radius: float, deep: float, scale: float) -> None:
    inch = 1 / scale
    foot = -deep - 0.25 * inch
    half = np.concatenate([upper, [[radius, foot], [0.0, foot]]])
    whole = np.concatenate([half[:-1], (half * [-1, 1])[::-1][1:]])
    ax.add_patch(Polygon(whole, closed=True, fc="#eef1f4", ec="none"))
    for side in (1, -1):
        ax.plot(side * upper[:, 0], upper[:, 1], color=INK, lw=1.4, marker="." if side > 0 else "", ms=4)
        ax.plot([side * radius] * 2, [upper[-1, 1], foot], color=INK, lw=1.4)
    ax.plot([0, 0], [foot, 0.25 * inch], color=SOFT, lw=0.6, ls=(0, (8, 2, 1.5, 2)))
    dim.across(ax, -radius, radius, foot - 0.25 * inch, foot)
    lowest = float(upper[:, 1].min())
    if lowest < -1e-6:
        dim.upright(ax, lowest, 0.0, radius + 0.2 * inch, float(upper[int(np.argmin(upper[:, 1])), 0]))
    ax.plot([-radius, radius], [0, 0], color=SOFT, lw=0.5, ls=":")


def _upper(shape: PoleShape) -> Array:
    """r, z (n, 2) in mm of the first part's upper surface, from the axis to the rim."""
    outline = np.array(shape.parts[0].outline)
    return np.asarray(1e3 * outline[2:][::-1])
