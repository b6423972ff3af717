"""The curve of a material: demagnetisation, B–H, or the static curve of a string's steel."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter

from stringflux.solver.constants import MU0
from stringflux.solver.materials import (
    ConstantPermeability,
    MagnetCurve,
    Material,
    SoftCurve,
    StringSteel,
    is_magnet,
    is_steel,
    is_string_metal,
)
from stringflux.solver.materials.string_memory import StringMemory

from .style import ACCENT, GOOD, SOFT, heading, house_style, new_figure, room_for_heading

_CURVE = "#0072b2"
_FAR = 6.0  # of the pinning: how far a loop is drawn


def material_figure(material: Material) -> Figure:
    """The curve of a magnet, a soft material or the metal of a string; kA/m and T, Oe and kG on the far sides."""
    with house_style():
        return _figure(material)


def _figure(material: Material) -> Figure:
    soft = is_steel(material)
    fig = new_figure(9.6 if soft else 7.0, 5.0)
    axes = fig.subplots(1, 2 if soft else 1, squeeze=False, width_ratios=(1.5, 1) if soft else (1,))[0]
    under = curve(axes[0], material)
    if is_steel(material):
        small_signal(axes[1], material)
    heading(fig, material.name, under)
    room_for_heading(fig)
    return fig


def curve(ax: Axes, material: Material) -> str:
    """B over H on axes in kA/m and T, with Oe and kG on the far sides; the line that stands under the title."""
    if is_magnet(material):
        under = _magnet(ax, material)
    elif is_string_metal(material):
        under = _string(ax, material)
    elif is_steel(material):
        under = _soft(ax, material)
    else:
        under = _constant(ax, material)
    _other_units(ax, log=ax.get_xscale() == "log")
    return under


def _magnet(ax: Axes, m: MagnetCurve) -> str:
    h, b = m.curve_points(400)
    ax.plot(h / 1e3, b, color=_CURVE, lw=2, label="demagnetisation curve")
    best = int(np.argmax(-h * b))
    hb, bb = float(h[best]) / 1e3, float(b[best])
    ax.fill_between([hb, 0], 0, bb, color=_CURVE, alpha=0.1, lw=0)
    ax.plot(hb, bb, "o", color=_CURVE, ms=6, mec="white", mew=1)
    ax.text(0.5 * hb, 0.74 * bb, f"largest B·H\n{m.energy_product / 1e3:.1f} kJ/m³", ha="center", va="center")
    # the recoil line from a point low on the knee, where the ends of short rods work
    low = float(np.clip(0.25 * m.remanence, b[0], b[-1]))
    start = float(np.interp(low, b, h))
    end = low - MU0 * m.mu_recoil * start
    ax.plot([start / 1e3, 0], [low, end], color=ACCENT, lw=1.5, ls=(0, (5, 2)),
            label=f"recoil line, μrec = {m.mu_recoil:g}")
    ax.plot(start / 1e3, low, "o", color=ACCENT, ms=4.5, mec="white", mew=0.8)
    ax.set(xlim=(-1.08 * m.coercivity / 1e3, 0), ylim=(0, 1.12 * max(m.remanence, end)), xlabel="H (kA/m)",
           ylabel="B (T)")
    ax.spines[["right"]].set_visible(True)
    ax.legend(loc="upper left")
    return f"Br {m.remanence:.3g} T, Hc {m.coercivity / 1e3:.3g} kA/m"


def _constant(ax: Axes, m: ConstantPermeability) -> str:
    h, b = m.curve_points()
    ax.plot(h / 1e3, b, color=_CURVE, lw=2)
    ax.set(xlim=(0, None), ylim=(0, None), xlabel="H (kA/m)", ylabel="B (T)")
    return f"constant permeability, μr {m.mu_r:g}"


def _soft(ax: Axes, m: SoftCurve) -> str:
    h, b = m.curve_points(600)
    seen = h > 10.0
    ax.semilogx(h[seen] / 1e3, b[seen], color=_CURVE, lw=2)
    ax.axhline(m.saturation, color=SOFT, lw=0.9, ls=(0, (2, 2)))
    ax.annotate(f"saturation Js {m.saturation:.3g} T", (0, m.saturation), (6, 3), textcoords="offset points",
                xycoords=("axes fraction", "data"), color=SOFT, fontsize=8.5)
    ax.set(xlim=(h[seen][0] / 1e3, h[seen][-1] / 1e3), ylim=(0, 1.06 * b[-1]), xlabel="H (kA/m)", ylabel="B (T)")
    return "soft: static curve, and the permeability that a small signal meets"


def small_signal(ax: Axes, m: SoftCurve) -> None:
    """Reversible permeability against the bias, with its range at no bias."""
    b = np.linspace(0.0, m.saturation, 300)
    ax.plot(b, m.reversible(b), color=GOOD, lw=2)
    low, high = m.mu_reversible_range
    if high > low:
        ax.plot([0, 0], [low, high], color=GOOD, lw=1.2, marker="_", ms=9, clip_on=False)
        ax.annotate(f"may be {low:g} to {high:g}", (0, high), (8, -3), textcoords="offset points", color=SOFT,
                    va="top", fontsize=8.5)
    ax.set(xlim=(0, m.saturation), ylim=(0, 1.06 * high), xlabel="steady |B| (T)", ylabel="reversible μr (1)")


def _string(ax: Axes, m: StringSteel) -> str:
    h, b = m.curve_points(400)
    top = float(b.max())
    if m.pinning > 0.0 and m.chi_reversible < m.chi_initial:
        return _loop(ax, m)
    ax.plot(h / 1e3, b, color=_CURVE, lw=2, label="static curve")
    if m.chi_reversible > 0:
        end = min(float(h[-1]), 0.45 * top / (MU0 * (1 + m.chi_reversible)))
        ax.plot([0, end / 1e3], [0, MU0 * (1 + m.chi_reversible) * end], color=GOOD, lw=1.5, ls=(0, (5, 2)),
                label=f"reversible slope, χ = {m.chi_reversible:g}")
    ax.set(xlim=(0, h[-1] / 1e3), ylim=(0, 1.15 * max(top, 1e-3)), xlabel="H inside the wire (kA/m)", ylabel="B (T)")
    ax.legend(loc="lower right")
    if np.isfinite(m.saturation):
        slopes = f"χ initial {m.chi_initial:g}, reversible {m.chi_reversible:g}"
        return f"string metal: Js {m.polarisation:.3g} T, {slopes}"
    return f"string metal: χ {m.chi_initial:g}"


def _loop(ax: Axes, m: StringSteel) -> str:
    """The loop round which its memory goes, the first way up from no field, and the curve in their middle."""
    memory, far = StringMemory.of(m), _FAR * m.pinning
    h = np.concatenate([np.linspace(0, far, 80), np.linspace(far, -far, 160), np.linspace(-far, far, 160)])
    state, b = memory.demagnetised(()), []
    for field in h:
        b.append(MU0 * (field + float(memory.magnetisation(state, field)[0])))
        state = memory.moved(state, field)
    both = np.linspace(-far, far, 321)
    ax.plot(h[80:] / 1e3, b[80:], color=_CURVE, lw=2, label="loop")
    ax.plot(h[:80] / 1e3, b[:80], color=_CURVE, lw=1.2, ls=(0, (1, 2)), label="from no field")
    ax.plot(both / 1e3, MU0 * (both + m.magnetisation(both)[0]), color=GOOD, lw=1.5, ls=(0, (5, 2)),
            label="curve without memory")
    ax.axhline(0.0, color=SOFT, lw=0.6, zorder=0)
    ax.axvline(0.0, color=SOFT, lw=0.6, zorder=0)
    ax.set(xlim=(-far / 1e3, far / 1e3), xlabel="H inside the wire (kA/m)", ylabel="B (T)")
    ax.legend(loc="lower right")
    return (f"string metal: Js {m.polarisation:.3g} T, χ initial {m.chi_initial:g}, reversible {m.chi_reversible:g}, "
            f"pinning {m.pinning:g} A/m")


def _scaling(factor: float) -> tuple[Callable[[Any], Any], Callable[[Any], Any]]:
    return lambda v: v * factor, lambda v: v / factor


def _other_units(ax: Axes, log: bool) -> None:
    """kOe (Oe where small) along the top, kG up the far side."""
    span = max(abs(v) for v in ax.get_xlim())
    factor, unit = (4 * np.pi, "Oe") if log or span < 150 else (4e-3 * np.pi, "kOe")
    top = ax.secondary_xaxis("top", functions=_scaling(factor))
    top.set_xlabel(f"H ({unit})", color=SOFT)
    right = ax.secondary_yaxis("right", functions=_scaling(10.0))
    right.set_ylabel("B (kG)", color=SOFT)
    for axis in (top, right):
        axis.tick_params(labelcolor=SOFT)
    if log:
        ax.xaxis.set_major_formatter(FuncFormatter(lambda v, _: f"{v:g}"))
        top.xaxis.set_major_formatter(FuncFormatter(lambda v, _: f"{v:g}"))
