r"""How long a piece of string a coil listens to, as one number.

The aperture w(x) (:mod:`.aperture`) answers to a standing wave of half-wave π/k with W(k) = ∫ w cos kx dx. Its width
is that of the even window (1 over its width, 0 beside it) that has lost 3 dB at the same k₃::

    |W(k₃)| = |W(0)| / √2,     sin(u)/u = 1/√2 at u = k₃ a/2 = 1.391557,     a = 2.783115 / k₃

a in m. Unlike the width at half height it hears the tails, and unlike the second moment their sign does no harm.

References
----------
Derived here.
"""

from __future__ import annotations

import numpy as np
from scipy.optimize import brentq

from .aperture import Aperture

HALF_POWER = 2.783115  # k₃ a of the even window
_SHORTEST = 0.2e-3  # half-wave up to which is looked, m


def aperture_width(weight: Aperture) -> float:
    """Width of the even window that loses 3 dB at the same wavelength, m.

    Examples
    --------
    >>> x = (np.arange(-2000, 2000) + 0.5) * 1e-5
    >>> even = np.where(abs(x) < 4e-3, 1.0, 0.0)
    >>> w = Aperture(x=x, up=even, across=even, length=np.full(x.size, x[1] - x[0]))
    >>> round(1e3 * aperture_width(w), 2)
    8.0
    """
    whole = float(weight.length @ weight.up)

    def left(k: float) -> float:
        return float(weight.length @ (weight.up * np.cos(k * weight.x)) / whole - np.sqrt(0.5))

    k = np.linspace(0.0, np.pi / _SHORTEST, 2000)
    answer = np.cos(np.multiply.outer(k, weight.x)) @ (weight.length * weight.up) / whole
    below = np.flatnonzero(answer < np.sqrt(0.5))
    if below.size == 0:
        return 0.0  # it listens at a point
    return HALF_POWER / float(brentq(left, k[below[0] - 1], k[below[0]], xtol=1e-9 * k[1]))
