r"""Points to sample smooth functions at, and the weights that bring their values elsewhere or to an integral.

For nodes x_k the Lagrange polynomials, 1 at their own node and 0 at the others,

    ℓ_k(x) = Π_{j≠k} (x − x_j)/(x_k − x_j)  =  (w_k/(x − x_k)) / Σ_j w_j/(x − x_j),   w_k = 1/Π_{j≠k} (x_k − x_j)

The product is exact to round-off for the few nodes it is used with; the second, barycentric form stays so for many.

References
----------
J.-P. Berrut, L. N. Trefethen, "Barycentric Lagrange interpolation", SIAM Review 46 (2004) 501–517.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from stringflux.geometry.arrays import Array


def chebyshev(low: float, high: float, n: int) -> Array:
    """Chebyshev points of the first kind, ascending.

    Parameters
    ----------
    low, high : float
        Ends of the range; no point lies on them.
    n : int
        How many.

    Returns
    -------
    array (n,)
    """
    return (low + high) / 2 - (high - low) / 2 * np.cos((2 * np.arange(n) + 1) * np.pi / (2 * n))


@lru_cache
def gauss(n: int) -> tuple[Array, Array]:
    """Gauss–Legendre points and weights, (n,) each, on [0, 1]: exact for polynomials of degree 2n − 1."""
    x, w = np.polynomial.legendre.leggauss(n)
    return (x + 1) / 2, w / 2


def lagrange(nodes: Array, x: Array) -> Array:
    """Lagrange polynomials by their product, for few nodes.

    Parameters
    ----------
    nodes : array (n,)
        All different.
    x : array (p,)

    Returns
    -------
    array (p, n)
        ℓ_k(x), which values at the nodes are multiplied with.
    """
    out = np.ones((x.size, nodes.size))
    for k in range(nodes.size):
        for j in range(nodes.size):
            if j != k:
                out[:, k] *= (x - nodes[j]) / (nodes[k] - nodes[j])
    return out


def barycentric(nodes: Array, x: Array) -> Array:
    """Lagrange polynomials by their barycentric form, for any number of nodes; one node means a constant.

    Parameters
    ----------
    nodes : array (n,)
        All different.
    x : array (p,)

    Returns
    -------
    array (p, n)
    """
    if nodes.size == 1:
        return np.ones((x.size, 1))
    gaps = nodes[:, None] - nodes[None, :]
    np.fill_diagonal(gaps, 1.0)
    gaps = gaps / np.max(np.abs(gaps))
    w = 1.0 / np.prod(gaps, axis=1)
    d = x[:, None] - nodes[None, :]
    hit = np.abs(d) < 1e-15
    d = np.where(hit, 1.0, d)
    out = w / d
    out /= out.sum(axis=1, keepdims=True)
    rows = hit.any(axis=1)
    out[rows] = hit[rows].astype(float)
    return np.asarray(out)
