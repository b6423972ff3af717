r"""The static field of a build in 3-D: magnets and steel on their whole curves, by Newton's method on the energy.

Find φ with, for all w,

    ∫_air μ0 ∇φ·∇w − Σ_bodies ∫ [B(H) − μ0 H_s]·∇w = 0,      H = H_s − ∇φ

H_s is the field of currents in air (none without a direct current in a coil); it has no divergence anywhere, which
turns its part in the air into the −μ0 H_s of the bodies.

The first steps take each body's slopes where its curve has the B that the last step led to, not where it has the new
H. On a curve that saturates a step too far in B is led back by all of H, one too far in H by next to nothing: half as
many steps. Once they gain no more, the others go on: the left side is the gradient of a convex energy, ∫∫ B·dH, so a
Newton step with a line search along it always leads downhill, from φ = 0 on.

In soft bodies H_s and ∇φ nearly cancel. There H_s is replaced by the gradient nearest to it (:mod:`.gradients`),
so that their difference is the gradient of one discrete potential, as a total potential's would be.

References
----------
Steps in both unknowns, each held to its own equation: T. F. Chan, G. H. Golub, P. Mulet, "A nonlinear primal-dual
method for total variation-based image restoration", *SIAM J. Sci. Comput.* 20 (1999) 1964 (memory); for B and H
derived here.
Reduced potential, and how H_s and ∇φ cancel: J. Simkin, C. W. Trowbridge, "On the use of the total scalar potential
in the numerical solution of field problems in electromagnetics", *Int. J. Numer. Methods Eng.* 14 (1979) 423
(memory). The nearest gradient: derived here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol, runtime_checkable

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import SolveError

from ..coil.direct import DirectCurrents
from ..constants import MU0
from ..materials.b_of_h import SoftLaw
from .gradients import NearestGradients
from .linear import SolidSolver
from .space import SolidSpace

TOLERANCE = 1e-6  # leaves 1e-7 of the potential
MAX_ITERATIONS = 60
_FIRST, _WELL, _NEAR = 3, 0.3, 0.1  # steps by induction go on while each leaves _WELL of the residual or less; the
# first ones come what may, until less than _NEAR is left
_FORCING, _SHARE = 1e-3, 0.01  # how closely each linear step is solved: as a share of what is left, at most
_ROUNDING = 1e-7

Law = Callable[[Array], tuple[Array, Array]]


@runtime_checkable
class Traced(Protocol):
    """A law that knows its point at an induction, too."""

    def at_induction(self, h: Array, b: Array) -> tuple[Array, Array, Array]:
        """H, B and ∂B/∂H of it; what is linear of it may go by the field h."""


@dataclass(frozen=True, kw_only=True, eq=False)
class SolidState:
    """A solved static field.

    Attributes
    ----------
    phi : array (unknowns,)
        A.
    h, b : tuples of arrays (3, elements, 4)
        Total H, A/m, and B, T, in each body.
    iterations : int
        Newton steps taken.
    """

    phi: Array
    h: tuple[Array, ...]
    b: tuple[Array, ...]
    iterations: int


def solve_static(space: SolidSpace, laws: Sequence[Law], *, odd: tuple[int, ...] = (),
                 sources: Sequence[Array] | None = None, soft: Sequence[bool] | None = None,
                 start: SolidState | None = None,
                 tolerance: float = TOLERANCE,
                 progress: Callable[[int, float], None] = lambda n, r: None) -> SolidState:
    """Solve for the static field.

    Parameters
    ----------
    laws : sequence of callable
        B (3, e, q) and ∂B/∂H (3, 3, e, q) of every body at H (3, e, q).
    odd : tuple of int
        Planes of symmetry about which φ is odd.
    sources : sequence of arrays, optional
        H_s (3, e, q) of currents at the points of every body, A/m.
    soft : sequence of bool
        Which bodies take H_s as a gradient; those of steel if left out.
    start : SolidState, optional
        To begin from: of the same bodies and mesh, or of one moved a little.
    tolerance : float
        Of the residual, as a share of that of φ = 0.

    Raises
    ------
    SolveError
        When the residual does not fall.
    """
    n = space.unknowns
    if soft is None:
        soft = [isinstance(law, SoftLaw) for law in laws]
    given = [np.zeros_like(e.points) for e in space.bodies] if sources is None else list(sources)
    within = given if sources is None else gradients_in(space, given, soft)

    def at(phi: Array) -> tuple[Array, list[Array], list[tuple[Array, Array, Array]]]:
        """Residual, and of every body H, and H, B and ∂B/∂H there."""
        h = [inside - e.field(phi) for e, inside in zip(space.bodies, within, strict=True)]
        points = [(each, *law(each)) for each, law in zip(h, laws, strict=True)]
        return out_of_balance(phi, [b for _, b, _ in points]), h, points

    def out_of_balance(phi: Array, induction: Sequence[Array]) -> Array:
        residual = space.air @ phi
        for e, b, air in zip(space.bodies, induction, given, strict=True):
            residual = residual - e.load(b - MU0 * air, n)
        return np.asarray(residual)

    free = space.free(odd)
    phi = np.zeros(n) if start is None else start.phi.copy()
    residual, h, points = at(phi)
    scale = float(np.linalg.norm((residual if start is None else at(np.zeros(n))[0])[free]))
    if sources is not None:  # where nothing answers to them, the residual is nothing but rounding
        driven = sum(e.load(MU0 * s, n) for e, s in zip(space.bodies, given, strict=True))
        scale = max(scale, _ROUNDING * float(np.linalg.norm(np.asarray(driven)[free])))
    solver: SolidSolver | None = None
    last, least = np.inf, (np.inf, phi, (residual, h, points))
    led = [b for _, b, _ in points] if start is None else list(start.b)
    if sources is not None and start is None:  # steel has not answered to the currents yet
        led = [MU0 * each if isinstance(law, SoftLaw) else b for law, each, b in zip(laws, h, led, strict=True)]
    by_induction = any(isinstance(law, Traced) for law in laws)
    for iteration in range(MAX_ITERATIONS):
        norm = float(np.linalg.norm(residual[free]))
        progress(iteration, norm / scale if scale else 0.0)
        if norm <= tolerance * scale:
            return SolidState(phi=phi, h=tuple(h for h, _, _ in points), b=tuple(b for _, b, _ in points),
                              iterations=iteration)
        if by_induction and not (norm < _WELL * last or (iteration < _FIRST and least[0] > _NEAR * scale)):
            by_induction = False
            if norm > least[0]:
                norm, phi, (residual, h, points) = least
        if norm < least[0]:
            least = norm, phi, (residual, h, points)
        last = norm
        if by_induction:
            points = [law.at_induction(each, b) if isinstance(law, Traced) else point
                      for law, each, b, point in zip(laws, h, led, points, strict=True)]
            # B as it is at the field of now, straight on from the point
            residual = out_of_balance(phi, [_straight_on(point, each) for point, each in zip(points, h, strict=True)])
        # half a digit more than what is left to gain
        closely = max(min(_FORCING, _SHARE * norm / scale), 0.3 * tolerance * scale / norm)
        solver = SolidSolver(space, [slopes for _, _, slopes in points], odd, solver)
        step = -solver.solve(residual, tolerance=closely)
        if by_induction:
            before, phi = points, phi + step
            residual, h, points = at(phi)
            led = [_straight_on(point, each) for point, each in zip(before, h, strict=True)]
        else:
            phi, (residual, h, points) = _along(at, phi, step, residual)
    raise SolveError(f"the static field did not converge (residual {norm / scale:.1e} of the load after "
                     f"{MAX_ITERATIONS} Newton steps); check that the material curves are smooth, or try another "
                     "--quality")


def sources_in(space: SolidSpace, direct: DirectCurrents) -> list[Array] | None:
    """H_s (3, e, q) of direct currents at the points of every body, A/m; None where there are none."""
    return [direct.field(e.points) / MU0 for e in space.bodies] if direct else None


def _straight_on(point: tuple[Array, Array, Array], h: Array) -> Array:
    """B at a field as it goes straight on from H, B and ∂B/∂H of a point."""
    return np.asarray(point[1] + np.einsum("ijeq,jeq->ieq", point[2], h - point[0]))


def _along(at: Callable[[Array], tuple[Array, Any, Any]], phi: Array, step: Array,
           residual: Array) -> tuple[Array, tuple[Array, Any, Any]]:
    """The point along a step where the energy's slope has fallen to half or less; the slope rises steadily."""
    first = float(residual @ step)
    low, high, t = 0.0, np.inf, 1.0
    for _ in range(12):
        new = at(phi + t * step)
        slope = float(new[0] @ step)
        if abs(slope) <= 0.5 * abs(first):
            break
        low, high = (t, high) if slope < 0 else (low, t)
        t = (low + high) / 2 if np.isfinite(high) else 2 * t
    return phi + t * step, new


def charges(space: SolidSpace, magnetisation: Sequence[Array]) -> Array:
    """∫ M·∇w of every function, A·m, for M (3, e, q) of every body in A/m."""
    return np.asarray(sum(e.load(m, space.unknowns) for e, m in zip(space.bodies, magnetisation, strict=True)))


def bias_charges(space: SolidSpace, state: SolidState) -> Array:
    """∫ M·∇w of a static state, A·m (unknowns,)."""
    return charges(space, [b / MU0 - h for b, h in zip(state.b, state.h, strict=True)])


def gradients_in(space: SolidSpace, sources: Sequence[Array], soft: Sequence[bool]) -> list[Array]:
    """Sources (3, e, q) of every body, those of soft ones replaced by the gradient nearest to them."""
    # a body whose mirror image alone is meshed has no elements
    which = [i for i, s in enumerate(soft) if s and space.bodies[i].weight.size]
    one = [np.broadcast_to(np.eye(3)[:, :, None, None], (3, 3, *space.bodies[i].weight.shape)) for i in which]
    found, _ = NearestGradients([space.bodies[i] for i in which], one)([sources[i] for i in which])
    out = list(sources)
    for i, g in zip(which, found, strict=True):
        out[i] = g
    return out
