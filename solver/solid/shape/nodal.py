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

from ..space import Elements, Ints, SolidSpace, elements_of

_AT_ONCE = 100_000  # elements times fields


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


def stress_of(X: Array, turned: Array) -> Array:
    """σ of f = tr X, X_ij = Σ ∂_i a (T ∇b)_j and `turned` Σ ∂_i b (T ∇a)_j."""
    sigma = -(X + turned)
    trace = X[0, 0] + X[1, 1] + X[2, 2]
    for i in range(3):
        sigma[i, i] += trace
    return np.asarray(sigma)


def fields(elements: Elements, potentials: Array) -> Array:
    """∇φ (3, e, q, k) of potentials (unknowns, k)."""
    return np.moveaxis(elements.gradient @ potentials[elements.dofs.T][:, None], 2, 0)


def products(first: Array, second: Array) -> Array:
    """Σ_k a_i b_j (3, 3, e, q) of fields (3, e, q, k)."""
    return np.asarray(np.einsum("ieqk,jeqk->ijeq", first, second, optimize=True))


def in_pieces(nodes: Array, dofs: Ints, fields: int) -> Iterator[Elements]:
    """Elements (10, e), as many at a time as leave memory for so many fields in them."""
    for piece in np.array_split(dofs, 1 + dofs.shape[1] * fields // _AT_ONCE, axis=1):
        yield elements_of(nodes, piece)


def body_volume(space: SolidSpace, body: int) -> tuple[float, Array]:
    """Volume of a body, m³, its mirror images with it, and its derivative with the nodes (3, unknowns), m²."""
    e = space.bodies[body]
    one = np.broadcast_to(np.eye(3)[:, :, None, None], (3, 3, *e.weight.shape))
    return space.copies * float(e.weight.sum()), space.copies * on_nodes(e, one, space.unknowns)
