"""The loop that λ goes round as a string of metal with memory swings once, and what of it is no straight line."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from scipy.signal import resample

from stringflux.geometry.arrays import Array

from ..string.loop import SwingLoop
from .style import INK, SOFT, legible

_FINE = 240  # places of the drawn line: the harmonics of the computed ones, and no more


def linkage(ax: Axes, loop: SwingLoop) -> None:
    """λ over the displacement, the computed places, and the line of slope S through the middle."""
    moved, flux, scale, unit = _once_round(loop)
    middle, slope = _chord(loop)
    ends = np.array([-loop.amplitude, loop.amplitude])
    ax.plot(1e3 * moved, scale * flux, color=INK, label="round the loop")
    ax.plot(1e3 * loop.moved, scale * loop.linkage, "o", color=INK, ms=4, mec="white", mew=0.8, label="computed")
    ax.plot(1e3 * ends, scale * (middle + slope * ends), color=SOFT, lw=0.9, ls=(0, (4, 2)),
            label=f"S, {legible(1e3 * loop.sensitivity)} mV per m/s")
    ax.set(title=_title(loop), xlabel=_way(loop), ylabel=f"linkage of the string λ ({unit})")


def opening(ax: Axes, loop: SwingLoop) -> None:
    """λ less that line: the lag opens it, harmonics bend it."""
    moved, flux, _, _ = _once_round(loop)
    middle, slope = _chord(loop)
    rest = flux - middle - slope * moved
    scale, unit = _scale(rest)
    ax.plot(1e3 * moved, scale * rest, color=INK)
    ax.plot(1e3 * loop.moved, scale * (loop.linkage - middle - slope * loop.moved), "o", color=INK, ms=4, mec="white",
            mew=0.8)
    ax.axhline(0.0, color=SOFT, lw=0.8, zorder=1)
    ax.set(title=_title(loop), xlabel=_way(loop), ylabel=f"linkage less its slope ({unit})")


def _once_round(loop: SwingLoop) -> tuple[Array, Array, float, str]:
    """Places and λ, closed, by the harmonics of the computed ones; what λ is multiplied with, and its unit then."""
    turn = 2 * np.pi * np.arange(_FINE + 1) / _FINE
    fine = resample(np.roll(loop.linkage, 1), _FINE)  # from θ = 0
    scale, unit = _scale(loop.linkage)
    return loop.amplitude * np.sin(turn), np.append(fine, fine[0]), scale, unit


def _scale(linkage: Array) -> tuple[float, str]:
    return (1e6, "µWb") if np.max(np.abs(linkage)) >= 1e-6 else (1e9, "nWb")


def _chord(loop: SwingLoop) -> tuple[float, float]:
    """Mean λ, Wb, and its slope in phase with the place, V·s/m; its modulus is S cos φ."""
    in_phase = float(2 * np.mean(loop.linkage * np.sin(loop.angle))) / loop.amplitude
    return float(np.mean(loop.linkage)), in_phase


def _title(loop: SwingLoop) -> str:
    return f"± {legible(1e3 * loop.amplitude)} mm: λ lags by {np.degrees(loop.lag):.2g}°"


def _way(loop: SwingLoop) -> str:
    return "displacement from rest, across (mm)" if loop.sideways else "displacement from rest, up positive (mm)"
