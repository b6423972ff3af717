"""Dimension lines, hatched parts and polarity arrows of a drawing to scale. Everything in mm."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Circle, Polygon, Rectangle
from matplotlib.path import Path

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import PartShape, PoleShape, StringShape
from stringflux.geometry.shapes.wound import WoundSection

from ..figures.style import ACCENT, INK, SOFT

COPPER, WRAP, HATCHED = "#f4e3c1", "#b5bdc6", "#9aa3ad"
MAGNETS = (("#f3d9cf", "////"), ("#ead7ea", "xx"), ("#f8e9d2", "//"))
STEELS = (("#d5dfe9", "\\\\\\\\"), ("#dbe8e0", ".."), ("#e3e3f0", "\\\\"))
PAPER = {"boxstyle": "square,pad=0.12", "fc": "white", "ec": "none"}
_LINE = 0.65


def text_mm(value: float) -> str:
    """A length in mm as a drawing writes it."""
    return f"{value:.2f}".rstrip("0").rstrip(".").replace("-", "−")


def across(ax: Axes, a: float, b: float, at: float, reach: float, text: str = "", size: float = 8.0) -> None:
    """Horizontal dimension from x = a to b at height `at`, extension lines from height `reach`."""
    for x in (a, b):
        ax.plot([x, x], [reach, at + np.sign(at - reach) * 0.5], color=SOFT, lw=0.5, zorder=6)
    _arrows(ax, (a, at), (b, at))
    ax.text((a + b) / 2, at, text or text_mm(abs(b - a)), ha="center", va="center", fontsize=size, zorder=8,
            bbox=PAPER)


def upright(ax: Axes, a: float, b: float, at: float, reach: float, text: str = "", size: float = 8.0) -> None:
    """Vertical dimension from z = a to b at x = `at`, extension lines from x = `reach`."""
    side = np.sign(at - reach)
    for z in (a, b):
        ax.plot([reach, at + side * 0.5], [z, z], color=SOFT, lw=0.5, zorder=6)
    _arrows(ax, (at, a), (at, b))
    ax.text(at + side * 0.35, (a + b) / 2, text or text_mm(abs(b - a)), fontsize=size, zorder=8, bbox=PAPER,
            va="center", ha="left" if side > 0 else "right")


def _arrows(ax: Axes, start: tuple[float, float], end: tuple[float, float]) -> None:
    ax.annotate("", end, start, zorder=7, arrowprops={"arrowstyle": "<|-|>,head_width=0.12,head_length=0.3",
                "color": INK, "lw": _LINE, "shrinkA": 0, "shrinkB": 0})


def pole_section(ax: Axes, shape: PoleShape, middle: float, face: float,
                 looks: Mapping[str, tuple[str, str]]) -> None:
    """Both halves of a pole, magnets and steel hatched differently, polarity as an arrow from S to N."""
    for part in shape.parts:
        right = np.array(part.outline) * 1e3  # from the axis at the bottom round to the axis at the top
        left = right[::-1] * [-1, 1]
        outline = np.concatenate([right, left]) + [middle, face]
        colour, hatch = looks[part.material]
        ax.add_patch(Polygon(outline, closed=True, fc=colour, ec=HATCHED, lw=0.0, hatch=hatch, zorder=3))
        ax.add_patch(Polygon(outline, closed=True, fc="none", ec=INK, lw=0.9, zorder=4))
        if part.polarity:
            _polarity(ax, part, middle, face)


def end_letter(ax: Axes, x: float, y: float, letter: str) -> None:
    """N or S at the upper end of a pole, seen from above."""
    ax.text(x, y, letter, fontsize=7.5, fontweight="bold", ha="center", va="center", zorder=8, bbox=PAPER)


def _polarity(ax: Axes, part: PartShape, middle: float, face: float) -> None:
    low, high = part.bottom * 1e3 + face, part.top * 1e3 + face
    inset = 0.14 * (high - low)
    ends = [(middle, low + inset), (middle, high - inset)]
    start, end = ends if part.polarity > 0 else ends[::-1]
    ax.annotate("", end, start, zorder=5, arrowprops={
        "arrowstyle": "-|>,head_width=0.22,head_length=0.5", "color": ACCENT, "lw": 1.5, "shrinkA": 0, "shrinkB": 0})


def string_section(ax: Axes, string: StringShape) -> None:
    """A string cut across, in its true size, the core of a wound one darker."""
    place = (string.y * 1e3, string.axis_height * 1e3)
    if string.wrap_diameter:
        ax.add_patch(Circle(place, string.outer_radius * 1e3, fc=WRAP, ec=INK, lw=0.5, zorder=5))
    ax.add_patch(Circle(place, string.core_radius * 1e3, fc=INK, ec=INK, lw=0.3, zorder=6))


def window(ax: Axes, left: float, right: float, low: float, high: float) -> None:
    """A winding space cut across: tinted, with the crossed diagonals that stand for a coil."""
    ax.add_patch(Rectangle((left, low), right - left, high - low, fc=COPPER, ec=INK, lw=0.9, zorder=2))
    ax.plot([left, right], [low, high], color="#b08a3c", lw=0.6, zorder=2)
    ax.plot([left, right], [high, low], color="#b08a3c", lw=0.6, zorder=2)


def winding(ax: Axes, section: WoundSection, start: float, way: int) -> None:
    """A winding cut across, from its inner face at `start` mm to the right (+1) or to the left (−1)."""
    ends = sorted((start, start + way * 1e3 * section.build))
    if not section.builds:
        window(ax, ends[0], ends[1], 1e3 * section.bottom, 1e3 * section.top)
        return
    edge = [(start + way * 1e3 * w, 1e3 * z) for w, z in section.corners]
    ax.add_patch(Polygon(edge, fc=COPPER, ec=INK, lw=0.9, zorder=2))
    for (x, low), (far, high) in ((edge[0], edge[-2]), (edge[1], edge[-1])):
        line, = ax.plot([x, far], [low, high], color="#b08a3c", lw=0.6, zorder=2)
        line.set_clip_path(Path([*edge, edge[0]]), ax.transData)  # a waisted one leaves its diagonals


def thickness(section: WoundSection) -> str:
    """What to add to a key of a winding whose thickness changes along its height."""
    if not section.builds:
        return ""
    builds = [1e3 * w for _, w in section.builds]
    return f", {text_mm(min(builds))} to {text_mm(max(builds))} mm thick"


def stadium(radius: float, straight: float, middle: float, n: int = 48) -> Array:
    """Points (n, 2) of a stadium with its straight sides along the first axis, mm."""
    t = np.linspace(-np.pi / 2, np.pi / 2, n)
    right = np.stack([straight / 2 + radius * np.cos(t), radius * np.sin(t)], axis=1)
    return np.concatenate([right, -right]) + [middle, 0.0]


def scale_bar(ax: Axes, at: tuple[float, float], length: float) -> None:
    """A bar of `length` mm with its left end at `at`."""
    x, z = at
    ax.plot([x, x + length], [z, z], color=INK, lw=2.2, solid_capstyle="butt", zorder=8)
    ax.annotate(f"{text_mm(length)} mm", (x + length / 2, z), (0, -3), textcoords="offset points", fontsize=7.5,
                ha="center", va="top", zorder=8)
