"""The figure of a verification: λ over heights both ways, what differs by how much, and the 3-D meshes closing in."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ..records.verification import Compared, Figures
from .style import ACCENT, FAINT, INK, SOFT, WIDTH, heading, house_style, new_figure, room_for_heading, string_colours

LABELS = {"bias": "field at the string", "reciprocal": "coil field at 1 A", "inductance": "L", "linkage": "λ at rest",
          "linkage_low": "λ lower", "linkage_high": "λ higher", "sensitivity": "S"}
_CLOSING = ("bias", "reciprocal", "inductance", "linkage", "sensitivity")
_MARKERS = "os^Dv"


def verify_figure(found: Compared, title: str, under: str) -> Figure:
    """Draw both ways."""
    with house_style():
        fig = new_figure(WIDTH, 7.2)
        grid = fig.add_gridspec(2, 2, height_ratios=(1.15, 1.0))
        over_heights(fig.add_subplot(grid[0, 0]), found)
        differences(fig.add_subplot(grid[0, 1]), found)
        over_meshes(fig.add_subplot(grid[1, :]), found)
        room_for_heading(fig)
        heading(fig, title, under)
    return fig


def over_heights(ax: Axes, found: Compared) -> None:
    """λ over the height of the axis."""
    ax.set_title("The string's part of the linkage")
    ax.plot(1e3 * (found.heights - found.axis_height), 1e6 * found.curve, color=INK, label="quick model")
    shifts = 1e3 * found.shift * np.array([-1.0, 0.0, 1.0])
    names = ("linkage_low", "linkage", "linkage_high")
    values = np.array([getattr(found.solid, n) for n in names])
    errors = np.abs(values) * [found.solid_error(n) for n in names]
    ax.errorbar(shifts, 1e6 * values, 1e6 * errors, fmt="o", color=ACCENT, capsize=3, label="3-D, string meshed")
    ax.set_xlabel("String from its rest, mm (up is +)")
    ax.set_ylabel("λ, µWb")
    ax.legend()


def differences(ax: Axes, found: Compared) -> None:
    """Every figure of the chain less that of 3-D."""
    ax.set_title("Quick model less 3-D")
    for i, name in enumerate(Figures.NAMES):
        target = 100 * found.TARGETS[name]
        ax.fill_betweenx([i - 0.32, i + 0.32], -target, target, color=FAINT, lw=0)
        error = 100 * (found.solid_error(name) + found.chain_error(name))
        ax.errorbar(100 * found.difference(name), i, xerr=error, fmt="o", color=ACCENT, capsize=3)
    ax.axvline(0.0, color=SOFT, lw=0.8)
    ax.set_yticks(range(len(Figures.NAMES)), [LABELS[n] for n in Figures.NAMES])
    ax.set_ylim(len(Figures.NAMES) - 0.4, -0.6)
    ax.grid(visible=False, axis="y")
    ax.set_xlabel("%, with the errors of both; grey: target")


def over_meshes(ax: Axes, found: Compared) -> None:
    """What each 3-D mesh is off from the finest."""
    ax.set_title("3-D less the finest mesh, over the unknowns of the mesh")
    unknowns = [level.unknowns for level in found.levels]
    for name, colour, marker in zip(_CLOSING, string_colours(len(_CLOSING)), _MARKERS, strict=True):
        last = getattr(found.solid, name)
        ax.plot(unknowns, [100 * (getattr(level, name) / last - 1) for level in found.levels], marker=marker, ms=4,
                color=colour, label=LABELS[name])
    ax.set_xscale("log")
    ax.set_xticks(unknowns, [f"{n:,}".replace(",", " ") for n in unknowns])
    ax.minorticks_off()
    ax.axhline(0.0, color=SOFT, lw=0.8)
    ax.set_xlabel("Unknowns")
    ax.set_ylabel("%")
    low, high = ax.get_ylim()
    ax.set_ylim(low, high + 0.25 * (high - low))  # room for the words
    ax.legend(ncols=len(_CLOSING), loc="upper right")
