r"""The voltage of a magnet that moves on a curve λ(z): e = −λ'(z) v, and its two peaks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from stringflux.geometry.arrays import Array

from .motion import MagnetMotion

if TYPE_CHECKING:
    from scipy.interpolate import BSpline


@dataclass(frozen=True, kw_only=True)
class Peak:
    """A peak of the voltage: when (s), where the magnet's middle is (m), how fast it is (m/s), e (V)."""

    t: float
    z: float
    speed: float
    e: float


def through(x: Array, y: Array) -> BSpline:
    """A quintic spline through points (n,), n from 6 on."""
    from scipy.interpolate import make_interp_spline

    return make_interp_spline(x, y, k=5)


def induced(spline: BSpline, motion: MagnetMotion) -> tuple[Array, Array]:
    """λ in weber-turns and e in V over time, (n,) each."""
    z = np.clip(motion.z, spline.t[0], spline.t[-1])
    return np.asarray(spline(z)), np.asarray(-spline.derivative()(z) * motion.v)


def peaks_of(motion: MagnetMotion, linkage: Array, e: Array) -> tuple[Peak, Peak, int]:
    """Both, and where in time λ is greatest between them."""
    middle = int(np.argmax(np.abs(linkage)))
    one = int(np.argmax(np.abs(e[:middle + 1])))
    two = middle + int(np.argmax(np.abs(e[middle:])))

    def peak(k: int) -> Peak:
        return Peak(t=float(motion.t[k]), z=float(motion.z[k]), speed=float(abs(motion.v[k])), e=float(e[k]))

    return peak(one), peak(two), middle
