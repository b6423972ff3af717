r"""How far a flux is off because of the mesh, from the one solution: each element's error, weighted by what it does.

A flux is J = ∫ B·g dV over the bodies (or of B − μ0 H in place of B). z answers to it as a potential does to a search
coil of one ampere turn there: ∫ ∇w·T ∇z = −∫ ∇w·(T − μ) g, T = ∂B/∂H, μ = 0 or μ0. Then with H_z = g + ∇z

    J_h − J = ∫ δH·T δH_z dV,      δH = H − H_h, δH_z likewise

over bodies and air. For H and H_z, which are not known, stand H_h and H_zh averaged at the nodes of each body, and of
the air. Where the mesh is too coarse for the edges of steel, both jump there from element to element. A second,
coarser mesh does not tell that: convergence at edges is of first order or less, so most of the error is in both.

References
----------
Errors weighted by the answer to what is asked: R. Becker, R. Rannacher, "An optimal control approach to a posteriori
error estimation in finite element methods", *Acta Numerica* 10 (2001) 1 (memory). Averaged slopes: O. C. Zienkiewicz,
J. Z. Zhu, "A simple error estimator and adaptive procedure for practical engineering analysis", *Int. J. Numer.
Methods Eng.* 24 (1987) 337 (memory).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from stringflux.geometry.arrays import Array

from ..constants import MU0
from ..materials.b_of_h import SoftLaw
from .bias import gradients_in
from .flux import FluxFound, rise_across, weighed, wide_rise
from .linear import SolidSolver
from .solve import SolvedMagnets
from .space import QUADRATURE, Ints, averaged, elements_of, shape_functions, unknowns_of

_CLOSELY = 1e-5  # of z
_AT_ONCE = 40_000  # elements of the air
_MISSED = 2.0
_FAR = 1e-4  # of the flux: φ = 0 on the far boundary; measured 0.3 to 0.8e-4 round magnets at fine
_THIRD, _BESIDE = 1 / 3, 1e-6  # m
_AT_END = 50e-6  # m
_SPARE = 1.2  # flux is no parabola: 1.0 to 1.1 of it was found in blocks
_FUNCTIONS = np.array([shape_functions(lam) for lam in QUADRATURE])  # (q, 10)


def doubt_within(solved: SolvedMagnets, members: Sequence[int], axis: int, at: float) -> float:
    """How far :func:`~.flux.flux_within` may be off, Wb, as a mean over sections beside the one at the place too.

    That is off as the square of how far they reach, so three times as far in twice the width; at the end of a body,
    where all lie on one side, by how far their middle does.

    Raises
    ------
    SolveError
        Where the answer does not settle.
    """
    rise, wide = (way(solved, members, axis, at) for way in (rise_across, wide_rise))
    if not rise.area:
        return 0.0
    flux = weighed(solved, rise.weights)
    apart = abs(wide.middle - rise.middle)
    share = max(_THIRD, abs(rise.middle - at) / apart if apart > _BESIDE else 0.0)
    beside = _SPARE * share * abs(weighed(solved, wide.weights) * rise.area / wide.area - flux)
    flat = 0.0 if apart > _AT_END else abs(wide.area / rise.area - 1)  # a round body's elements may be straightened
    return doubt(solved, rise.weights) + beside + (flat + _FAR) * abs(flux)


def doubt_through(solved: SolvedMagnets, found: FluxFound) -> float:
    """How far a flux through a rim may be off, Wb.

    Raises
    ------
    SolveError
        Where the answer does not settle.
    """
    return doubt(solved, found.weights, of_moments=True) + _FAR * abs(found.flux)


def doubt(solved: SolvedMagnets, weights: Sequence[Array], *, of_moments: bool = False) -> float:
    """How far J_h may be off J, Wb: twice the sum of all elements' parts, or that of their sizes where it is larger.

    Twice, for the averages miss a third to a half of an edge's error: 0.55 to 0.7 of it was found where steel
    saturates, 0.7 to 1.1 elsewhere (`tests/outside/test_flux_error.py`, `tests/slow/test_team13_case.py`). Parts of
    either sign cancel by luck, so half of their sizes is the least.

    Parameters
    ----------
    weights : sequence of arrays (3, e, q)
        g in every body, 1/m; of ∫ B·g, or of ∫ (B − μ0 H)·g.
    of_moments : bool
        Whether it is the second.

    Raises
    ------
    SolveError
        Where z does not settle.
    """
    space, n = solved.space, solved.space.unknowns
    slopes = [law(h)[1] for law, h in zip(solved.laws, solved.bias.h, strict=True)]
    own = list(weights)
    if of_moments:  # in steel g and ∇z nearly cancel, as H_s and ∇φ do
        own = gradients_in(space, own, [isinstance(law, SoftLaw) for law in solved.laws])
    load = np.zeros(n)
    for e, t, g, each in zip(space.bodies, slopes, own, weights, strict=True):
        load -= e.load(np.einsum("ijeq,jeq->ieq", t, g) - (MU0 * each if of_moments else 0.0), n)
    z = SolidSolver(space, slopes, solved.odd).solve(load, tolerance=_CLOSELY)
    parts = [_in_air(solved, z)]
    for e, t, h, g in zip(space.bodies, slopes, solved.bias.h, own, strict=True):
        if e.weight.size:
            off, answered = (_off(e.dofs, e.weight, f, n) for f in (h, g + e.field(z)))
            parts.append(np.einsum("ieq,ijeq,jeq,eq->e", off, t, answered, e.weight))
    every = np.concatenate(parts)
    return float(max(_MISSED * abs(np.sum(every)), np.sum(np.abs(every))))


def _in_air(solved: SolvedMagnets, z: Array) -> Array:
    """Parts (e,) of the air's elements, which no space keeps; some at a time, to spare memory."""
    space, n = solved.space, solved.space.unknowns
    dofs = unknowns_of(space.mesh)[:, space.mesh.region < 0]
    found = []
    for piece in np.array_split(dofs, max(1, dofs.shape[1] // _AT_ONCE), axis=1):
        e = elements_of(space.nodes, piece)
        found.append((e.weight, -e.field(solved.bias.phi), e.field(z)))
    weight, h, h_z = (np.concatenate(each, axis=-2) for each in zip(*found, strict=True))
    return np.asarray(MU0 * np.einsum("ieq,ieq,eq->e", _off(dofs, weight, h, n), _off(dofs, weight, h_z, n), weight))


def _off(dofs: Ints, weight: Array, field: Array, unknowns: int) -> Array:
    """Averaged at the nodes, less itself."""
    nodes = averaged(dofs, field, weight.sum(axis=1), unknowns)
    return np.asarray(np.einsum("ine,qn->ieq", nodes[:, dofs], _FUNCTIONS)) - field
