"""A small equivalent circuit of a coil with eddy currents in its poles.

    L_c(ω) = L₀ + Σ L_k / (1 + jω τ_k),   τ_k = L_k/R_k,

that is an inductor L₀ in series with k pairs, each a resistor R_k across an inductor L_k. With all elements
positive the circuit is passive; diffusion in a conductor is an infinite sum of just this kind, so few terms go
a long way. The time constants are found by nonlinear least squares on their logarithms, the inductances inside
it by non-negative least squares, all on the error relative to |L_c|.

References
----------
R. M. Foster, "A reactance theorem", *Bell Syst. Tech. J.* 3 (1924) 259 (memory), with resistors in place of its
capacitors. The fit: derived here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import least_squares, nnls

from stringflux.geometry.arrays import Array, ComplexArray

BRANCHES = 3
GOOD = 1e-4  # far less than is known of the metals
_BEYOND = 10.0  # the time constants may lie this far outside the band
_IDLE = 1e-7  # share of the whole under which a term is left out


@dataclass(frozen=True, kw_only=True)
class Ladder:
    """The fitted circuit.

    Attributes
    ----------
    inductance : float
        L₀, H.
    branches : tuple of (float, float)
        R_k in Ω and L_k in H of each pair, slowest first.
    residual : float
        Largest relative error of L_c at the frequencies of the fit.
    """

    inductance: float
    branches: tuple[tuple[float, float], ...]
    residual: float

    def at(self, frequency: Array) -> ComplexArray:
        """L_c (n,) in H at frequencies (n,) in Hz, 0 included."""
        s = 2j * np.pi * np.asarray(frequency, dtype=float)
        total = np.full(s.shape, self.inductance, dtype=complex)
        for r, l in self.branches:
            total += l / (1 + s * (l / r))
        return total


def fit_ladder(frequency: Array, inductance: ComplexArray, branches: int = BRANCHES, good: float = GOOD) -> Ladder:
    """Fit a ladder of as few pairs as reach the residual `good`, at most `branches`.

    Parameters
    ----------
    frequency : array (n,)
        Hz, all positive.
    inductance : array (n,)
        L − j R_e/ω, H.
    branches : int
    good : float
        Relative.

    Examples
    --------
    >>> f = np.geomspace(20.0, 20e3, 9)
    >>> found = fit_ladder(f, 1.5 + 2.0 / (1 + 2j * np.pi * f * 5e-6), branches=1)
    >>> (r, l), = found.branches
    >>> round(found.inductance, 6), round(l, 6), round(r)
    (1.5, 2.0, 400000)
    """
    f, target = np.asarray(frequency, dtype=float), np.asarray(inductance, dtype=complex)
    weight = 1 / np.abs(target)
    wanted = _stacked(target * weight)
    low = math.log(1 / (2 * math.pi * f.max() * _BEYOND))
    high = math.log(_BEYOND / (2 * math.pi * f.min()))

    def solved(log_tau: Array) -> tuple[Array, Array]:
        """Inductances (1 + k,) for these time constants, and what remains (2n,)."""
        terms = 1 / (1 + 2j * np.pi * np.outer(f, np.exp(log_tau)))
        matrix = _stacked(np.column_stack([np.ones(f.size), terms]) * weight[:, None])
        values, _ = nnls(matrix, wanted)
        return values, matrix @ values - wanted

    def rest_of(log_tau: Array) -> Array:
        return solved(log_tau)[1]

    def best(count: int) -> Array:
        if count == 0:
            return np.zeros(0)
        tries = []
        # few terms from several starts, for the valley has more than one bottom; many fill the band anyhow
        for margin in (0.1, 0.25, 0.4) if count <= BRANCHES else (0.1,):
            edge = margin * (high - low)
            start = np.linspace(low + edge, high - edge, count) if count > 1 else np.array([low + edge])
            tries.append(least_squares(rest_of, start, bounds=(low, high), x_scale=1.0, max_nfev=150))
        return np.asarray(min(tries, key=lambda t: t.cost).x, dtype=float)

    for count in range(min(branches, f.size - 1) + 1):  # no more terms than it takes
        log_tau = best(count)
        values, rest = solved(log_tau)
        residual = float(np.max(np.hypot(*np.split(rest, 2))))
        if residual < good:
            break
    pairs = sorted(((math.exp(t), float(l)) for t, l in zip(log_tau, values[1:], strict=True)), reverse=True)
    idle = _IDLE * float(values.sum())
    kept = tuple((l / tau, l) for tau, l in pairs if l > idle)
    return Ladder(inductance=float(values[0]) if values[0] > idle else 0.0, branches=kept, residual=residual)


def _stacked(values: npt.ArrayLike) -> Array:
    """Real parts above imaginary ones: least squares knows real numbers only."""
    z = np.asarray(values, dtype=complex)
    return np.concatenate([z.real, z.imag])
