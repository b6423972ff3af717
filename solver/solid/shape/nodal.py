r"""Derivatives of integrals over elements with the places of their nodes, while potentials keep their nodal values.

Where a node moves, x → x + V with V = Σ V_n w_n, gradients of fixed nodal values turn and weights stretch,

    δ(∂_j u) = −Σ_i ∂_j V_i ∂_i u,      δw = w div V,

so that of J = ∫ f(∇u, …) dV, with f_u = ∂f/∂(∇u),

    δJ = ∫ Σ_ij σ_ij ∂_j V_i dV,        σ_ij = f δ_ij − Σ_u ∂_i u (f_u)_j .

References
----------
Derived here; σ is the energy–momentum tensor of the fields (J. D. Eshelby, "The elastic energy-momentum tensor",
*J. Elasticity* 5 (1975) 321, memory).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from stringflux.geometry.arrays import Array

from ..space import Elements, Ints, elements_of

_AT_ONCE = 20_000


def stress(density: Array, *pairs: tuple[Array, Array]) -> Array:
    """σ (3, 3, e, q) of a density f (e, q) and pairs of ∇u and f_u, (3, e, q) each."""
    out = np.zeros((3, 3, *density.shape))
    for gradient, slope in pairs:
        out -= gradient[:, None] * slope[None]
    for i in range(3):
        out[i, i] += density
    return out


def on_nodes(elements: Elements, sigma: Array, unknowns: int) -> Array:
    """∂J/∂x of every node (3, unknowns) from σ (3, 3, e, q)."""
    return np.stack([elements.load(row, unknowns) for row in sigma])


def in_pieces(nodes: Array, dofs: Ints) -> Iterator[Elements]:
    """Elements (10, e), some at a time to spare memory."""
    for piece in np.array_split(dofs, max(1, dofs.shape[1] // _AT_ONCE), axis=1):
        yield elements_of(nodes, piece)
