"""The string's grid along x and the field of its own charges on it.

M is piecewise linear on nodes that are dense over the pole and thin far out. Inside good steel div M = 0,
so the charge −A dM/dx sits on the lateral surface, a tube of the string's radius a. The weak form takes
potentials averaged round that surface. For two segments s, t of tubes with the same axis::

    Φ_st = 1/(4π ℓ_s ℓ_t) ∫_s∫_t < 1/√((x − x')² + (2a sin(θ/2))²) >_θ dx' dx
    H_i h_i = φ_left − φ_right          q_s = −A (M_{s+1} − M_s)

The double integral is closed: F(u) = u asinh(u/a_θ) − √(u² + a_θ²), F'' = 1/√(u² + a_θ²).

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.solver.interpolation import gauss


@dataclass(frozen=True, kw_only=True, eq=False)
class StringGrid:
    """Nodes along the string.

    Attributes
    ----------
    x : array (n + 2,)
        Nodes, m; M vanishes at both ends of the list. With `mirrored` x[0] = 0 and the half x < 0 follows
        from symmetry (M odd in x).
    weight : array (n + 2,)
        Length that each node stands for, the mirrored half included, m.
    mirrored : bool
    """

    x: Array
    mirrored: bool

    @property
    def middle(self) -> Array:
        """Middles of the segments (n + 1,)."""
        return (self.x[1:] + self.x[:-1]) / 2

    @property
    def weight(self) -> Array:
        ell = np.diff(self.x)
        w = np.zeros_like(self.x)
        w[:-1] += ell / 2
        w[1:] += ell / 2
        return w * (2.0 if self.mirrored else 1.0)

    def averaged(self, f: Array) -> Array:
        """∫ hat_i f dx / h_i for nodal values f (…, n + 2), at all nodes, exact for quadratics.

        Mean of the lumped rule (error −h²/12 f'') and of the one of a linear interpolant (+h²/12 f'').
        At x = 0 of a mirrored grid f is taken as it stands.
        """
        ell = np.diff(self.x)
        h = ell[:-1] + ell[1:]
        out = f.copy()
        inner = (ell[:-1] * f[..., :-2] + 2 * h * f[..., 1:-1] + ell[1:] * f[..., 2:]) / (3 * h)
        out[..., 1:-1] = (f[..., 1:-1] + inner) / 2
        return out

    def field_of(self, potential: Array) -> Array:
        """H at the inner nodes per moment M·A at the inner nodes, from a segment potential matrix.

        potential : (…, n + 1, n + 1), A per A·m.  Returns (…, n, n) in 1/m² (times A M gives A/m).
        """
        ell = np.diff(self.x)
        h = (ell[:-1] + ell[1:]) / 2
        columns = potential[..., :, :-1] - potential[..., :, 1:]  # of the charges of a unit moment at a node
        return np.asarray((columns[..., 1:, :] - columns[..., :-1, :]) / h[:, None])


def string_grid(scale: float, reach: float, mirrored: bool, refine: float = 1.0, edge: float = 0.0) -> StringGrid:
    """Make the grid.

    Parameters
    ----------
    scale : float
        Smallest length of the field along x (the gap, say), m.
    reach : float
        Half the length of string that is looked at, m.
    mirrored : bool
        Use only x ≥ 0.
    refine : float
        Divides the steps.
    edge : float
        Radius of the face below, m: the field bends over its edge.
    """
    # λ and S are within 0.08 % of a grid five times as fine (radius 0.2-0.65 mm, gap 1.3-4.6 mm)
    step = min(0.25 * scale, 0.6e-3) / refine
    fine = min(2.5 * scale + max(3e-3, edge), reach / 2)
    x = np.linspace(0.0, fine, int(np.ceil(fine / step)) + 1).tolist()
    while x[-1] < reach:
        step = min(step * (1 + 0.1 / refine), 5e-3 / refine)
        x.append(x[-1] + step)
    half = np.array(x)
    # ends where it is asked to, whatever the gap: λ of a thick string knows how long it is
    half = np.where(half > fine, fine + (half - fine) * ((reach - fine) / (half[-1] - fine)), half)
    return StringGrid(x=half if mirrored else np.concatenate([-half[:0:-1], half]), mirrored=mirrored)


def self_potential(grid: StringGrid, radius: float) -> Array:
    """Φ_st of tube charges on the string's own segments (n + 1, n + 1), A per A·m."""
    return _self_potential(tuple(grid.x.tolist()), grid.mirrored, radius).copy()


@lru_cache(maxsize=32)
def _self_potential(nodes: tuple[float, ...], mirrored: bool, radius: float) -> Array:
    x = np.array(nodes)
    ell = np.diff(x)
    total = _second_difference(x, x, radius)
    if mirrored:
        total = total + _second_difference(x, -x, radius)
    return np.asarray(total / (4 * np.pi * np.multiply.outer(ell, ell)))


def _second_difference(x: Array, t: Array, radius: float) -> Array:
    """∫∫ of the averaged kernel over all pairs of segments of x and t."""
    g, w = gauss(12)
    theta, weight = np.pi * g**2, 2 * g * w  # resolves the logarithm at θ = 0
    u = np.abs(x[:, None] - t[None, :])
    F = np.zeros_like(u)
    for angle, share in zip(theta, weight, strict=True):
        a = 2 * radius * np.sin(angle / 2)
        F += share * (u * np.arcsinh(u / a) - np.sqrt(u * u + a * a))
    # segments of t run from t[j] to t[j+1]; orientation of a mirrored list is reversed
    sign = 1.0 if t[-1] > t[0] else -1.0
    return np.asarray(sign * (F[1:, :-1] - F[:-1, :-1] - F[1:, 1:] + F[:-1, 1:]))
