"""Section through the first pole: |B| and field lines with equal flux between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes
from matplotlib.colors import LogNorm
from matplotlib.figure import Figure
from matplotlib.patches import Circle
from matplotlib.ticker import MultipleLocator
from matplotlib.tri import CubicTriInterpolator, Triangulation, TriContourSet, UniformTriRefiner

from stringflux.geometry.arrays import Array

from ..records.prediction import PoleRecord, SectionRecord, StringRecord
from .style import INK, heading, legible, new_figure, sizes_bar

LINES = 15  # field lines on one side of the axis
_PER_DECADE = 9  # steps of |B|
_REFINE = 2

Indices = npt.NDArray[np.int64]


@dataclass(frozen=True, kw_only=True)
class Window:
    """What is shown: 0 ≤ r ≤ `r`, `bottom` ≤ z ≤ `top`, m over the face."""

    r: float
    bottom: float
    top: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Patch:
    """One region of the window, finely divided: triangulation in m, |B| in T, flux in Wb, and if it is a part."""

    grid: Triangulation
    size: Array
    flux: Array
    inside: bool

    def in_mm(self, side: int) -> Triangulation:
        """The triangulation in mm, on the side +1 or −1 of the axis."""
        return Triangulation(side * 1e3 * self.grid.x, 1e3 * self.grid.y, self.grid.triangles)


def section_figure(section: SectionRecord, pole: PoleRecord, strings: Sequence[StringRecord]) -> Figure:
    """Both halves of pole 1's section with |B|, field lines, parts and the strings over it."""
    window = window_of(section)
    ratio = (window.top - window.bottom) / (2 * window.r)
    width = min(5.2, 7.0 / ratio)
    fig = new_figure(width + 1.9, width * ratio + 1.25, constrained=False)
    size = fig.get_size_inches()
    ax = fig.add_axes((0.75 / size[0], 0.5 / size[1], width / size[0], (size[1] - 1.25) / size[1]))
    filled, spacing = section_panel(ax, section, pole, strings)
    if filled is None:
        heading(fig, "Section of pole 1", "nothing in it is magnetised")
        return fig
    bar_at = ((0.75 + width + 0.2) / size[0], 0.5 / size[1], 0.16 / size[0], (size[1] - 1.25) / size[1])
    sizes_bar(filled, ax, fig.add_axes(bar_at))
    heading(fig, "Section of pole 1", "its own field, without its neighbours; between field lines "
            f"{legible(spacing * 1e6)} µWb")
    return fig


def section_panel(ax: Axes, section: SectionRecord, pole: PoleRecord,
                  strings: Sequence[StringRecord]) -> tuple[TriContourSet | None, float]:
    """The section on its axes; what was filled by |B|, None where nothing is magnetised, and the flux between two
    field lines, Wb."""
    window = window_of(section)
    patches = [p for k in np.unique(section.region) if (p := patch_of(section, int(k), window)) is not None]
    high = max(float(p.size.max()) for p in patches)
    low = max(high / 10**2.7, min(float(p.size.min()) for p in patches))
    filled = _sizes(ax, patches, low, high) if high > 0 else None
    _outlines(ax, section)
    _names(ax, section, window)
    _strings(ax, pole, strings)
    ax.set(xlim=(-window.r * 1e3, window.r * 1e3), ylim=(window.bottom * 1e3, window.top * 1e3),
           xlabel="distance from the pole's axis (mm)", ylabel="height over the pole's face (mm)")
    ax.set_aspect("equal")
    ax.xaxis.set_major_locator(MultipleLocator(5))
    ax.yaxis.set_major_locator(MultipleLocator(5))
    ax.grid(False)
    return filled, _spacing(patches)


def section_and_bar(ax: Axes, section: SectionRecord, pole: PoleRecord, strings: Sequence[StringRecord]) -> None:
    """The section with its scale beside it, in room of the axes."""
    filled, _ = section_panel(ax, section, pole, strings)
    if filled is not None:
        sizes_bar(filled, ax)


def _sizes(ax: Axes, patches: list[Patch], low: float, high: float) -> TriContourSet:
    """|B| and field lines on both sides of the axis."""
    norm = LogNorm(low, high)
    levels = np.geomspace(low, high, round(_PER_DECADE * np.log10(high / low)) + 1)
    for side in (1, -1):
        for p in patches:
            inside_range = np.clip(p.size, low * 1.0001, high * 0.9999)
            filled = ax.tricontourf(p.in_mm(side), inside_range, levels=levels, norm=norm, cmap="viridis",
                                    zorder=1)
        _field_lines(ax, patches, side)
    return filled


def window_of(section: SectionRecord) -> Window:
    """The pole, as much air beside it as is worth seeing, and the room of the strings."""
    inside = section.points[:, section.triangles[:, section.region >= 0]]
    radius, bottom = float(inside[0].max()), float(inside[1].min())
    low, top = bottom - 3.5e-3, 7e-3
    return Window(r=max(2.4 * radius, 0.4 * (top - low), 8e-3), bottom=low, top=top)


def patch_of(section: SectionRecord, region: int, window: Window) -> Patch | None:
    """One region of the window, refined; |B| jumps between regions and is smooth inside each."""
    z = section.points[1][section.triangles]
    r = section.points[0][section.triangles]
    near = ((r.min(axis=0) < window.r) & (z.min(axis=0) < window.top) & (z.max(axis=0) > window.bottom))
    keep = np.flatnonzero(near & (section.region == region))
    if keep.size == 0:
        return None
    used, local = np.unique(section.triangles[:, keep], return_inverse=True)
    grid = Triangulation(section.points[0, used], section.points[1, used], local.reshape(3, -1).T)
    b = _at_corners(grid, section.b[:, keep])
    flux = section.flux[used]
    ring = 2 * np.pi * grid.x
    # dψ = 2π r (B_z dr − B_r dz): the slopes are known, so a cubic needs no estimate of them
    cubic = CubicTriInterpolator(grid, flux, kind="user", dz=(ring * b[1], -ring * b[0]))
    refiner = UniformTriRefiner(grid)
    fine, psi = refiner.refine_field(flux, triinterpolator=cubic, subdiv=_REFINE)
    _, size = refiner.refine_field(np.hypot(*b), subdiv=_REFINE)
    return Patch(grid=fine, size=np.clip(size, np.hypot(*b).min(), None), flux=psi,
                 inside=region >= 0)


def _at_corners(grid: Triangulation, b: Array) -> Array:
    """(2, n) corner values from those at the middles of the triangles: a weighted plane through the near ones."""
    n = grid.x.size
    corner = grid.triangles.ravel()
    place = np.stack([grid.x, grid.y])
    middle = np.repeat(place[:, grid.triangles].mean(axis=2), 3, axis=1)
    value = np.repeat(b, 3, axis=1)
    d = middle - place[:, corner]
    scale = np.sqrt(np.bincount(corner, (d**2).sum(axis=0), n) / np.bincount(corner, minlength=n))
    d /= scale[corner]
    d[0, grid.x[corner] == 0] = 0.0  # even in r: no slope across the axis
    basis = np.stack([np.ones(d.shape[1]), *d])
    weight = 1 / (0.05 + (d**2).sum(axis=0))
    normal, right = np.zeros((n, 3, 3)), np.zeros((n, 3, 2))
    np.add.at(normal, corner, np.einsum("ik,jk,k->kij", basis, basis, weight))
    np.add.at(right, corner, np.einsum("ik,jk,k->kij", basis, value, weight))
    # the ridge flattens the plane where one or two triangles leave it undetermined
    normal += np.diag([0.0, 0.1, 0.1]) * normal[:, :1, :1]
    out = np.linalg.solve(normal, right)[:, 0].T
    out[0, grid.x == 0] = 0.0
    return np.asarray(out)


def _spacing(patches: list[Patch]) -> float:
    return max(float(np.abs(p.flux).max()) for p in patches) / LINES


def _field_lines(ax: Axes, patches: list[Patch], side: int) -> None:
    step = _spacing(patches)
    levels = (np.arange(-LINES, LINES) + 0.5) * step
    for p in patches:  # white on the dark air, dark on the bright parts
        ax.tricontour(p.in_mm(side), p.flux, levels=levels, colors=INK if p.inside else "white",
                      linewidths=0.8, linestyles="solid", alpha=0.8, zorder=2)


def outline_edges(section: SectionRecord) -> Indices:
    """(2, k) point numbers of the edges between a part and anything else, the axis left out."""
    sides = np.concatenate([section.triangles[[i, (i + 1) % 3]] for i in range(3)], axis=1)
    owner = np.tile(section.region, 3)
    key = np.sort(sides, axis=0)
    _, first, inverse = np.unique(key, axis=1, return_index=True, return_inverse=True)
    low = np.full(first.size, np.iinfo(np.int64).max)
    high = np.full(first.size, -1)
    np.minimum.at(low, inverse.ravel(), owner)
    np.maximum.at(high, inverse.ravel(), owner)
    edges = key[:, first][:, low != high]
    return np.asarray(edges)


def _outlines(ax: Axes, section: SectionRecord) -> None:
    edges = outline_edges(section)
    r, z = section.points * 1e3
    gap = np.full(edges.shape[1], np.nan)
    for side in (1, -1):
        ax.plot(np.stack([side * r[edges[0]], side * r[edges[1]], gap]).T.ravel(),
                np.stack([z[edges[0]], z[edges[1]], gap]).T.ravel(), color="black", lw=1.3, zorder=3)


def _names(ax: Axes, section: SectionRecord, window: Window) -> None:
    """The material of each part, beside it, where the air is dark."""
    for k, name in enumerate(section.parts):
        inside = section.points[:, section.triangles[:, section.region == k]]
        radius, z = float(inside[0].max()), float(inside[1].min() + inside[1].max()) / 2
        ax.text((radius + 0.35e-3) * 1e3, z * 1e3, name, fontsize=8.5, color=INK, va="center", zorder=5,
                bbox={"boxstyle": "round,pad=0.25", "fc": "white", "ec": "none", "alpha": 0.85})


def _strings(ax: Axes, pole: PoleRecord, strings: Sequence[StringRecord]) -> None:
    for s in (s for s in strings if s.pole == pole.number):
        y, z, d = (s.y - pole.y) * 1e3, (s.height - pole.face) * 1e3, s.diameter * 1e3
        ax.add_patch(Circle((y, z), d / 2, fc="white", ec="black", lw=0.9, zorder=5))
        ax.annotate(f"string {s.number} at rest", (y, z), (y + d / 2 + 0.9, z), fontsize=8.5, color=INK,
                    va="center", zorder=5,
                    bbox={"boxstyle": "round,pad=0.25", "fc": "white", "ec": "none", "alpha": 0.85},
                    arrowprops={"arrowstyle": "-", "color": "white", "lw": 0.8, "shrinkA": 0, "shrinkB": 2})
