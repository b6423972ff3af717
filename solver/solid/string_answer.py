r"""What long bodies under the strings (blades, bars) do to a string's own field, from the 3-D solver.

The same construction as :mod:`.row.string_answer`, for bodies of any form that go on along y. A unit charge of the
string at (x, z) makes v = 1/(4πR) at the bodies' unknowns, split into parts even and odd in x. A basis U of each
comes from sampled charges; with K the small-signal form and D its excess over air,

    φ = −K⁻¹ D v,   q = −D (v + φ)/μ0,   G(x, x') = W(x)ᵀ S W(x'),   S = Uᵀ q[U],   W = Uᵀ v

(even and odd part each). It is made at one y; along a body it holds at every y that sees the same, which takes in
strings 4 mm from the end of a blade within 0.03 % of S. Where a mesh stops at y = 0, what is made elsewhere has a
part even and one odd in y, each with its own basis.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import NdBSpline
from scipy.linalg import block_diag
from scipy.sparse import csr_matrix

from stringflux.geometry.arrays import Array

from ..aside import aside
from ..constants import MU0
from ..line_answer import LineAnswer, along_string, answer_spline
from .charges import blocks, unfolded
from .clusters import potentials
from .linear import SolidSolver
from .space import SolidSpace, total
from .string_aside import StringsAside

_KEEP = 2e-4  # singular values below this fraction of the largest; 3e-5 changes S of the shipped blade by 2e-4
_AT_ONCE = 200  # unknowns, whose v fits into a core's own memory
_SKETCH = 80  # columns of Ω, and by how many they grow
_SPARE = 3e-2  # of the least that is kept: how small the least singular value of v Ω has to be
_SOLVED, _ROUGH = 3e-4, 1e-2
"""Residual r of the solve x of the mode that is excited most, and of any: in S, which gains xᵀ r, its square is left.
As the root of how little a mode is excited it may be larger; λ and S are within 1e-4 of those of 1e-6 for all."""


_Seen = tuple[tuple[int, ...], Array]
"""Planes about which charges of modes are odd, and those charges (n, k)."""


@dataclass(frozen=True, kw_only=True, eq=False)
class _Modes:
    """Shapes U and their charges q on the bodies' unknowns, answers φ and what is left of their equations over μ0 on
    the free ones: each (n, k)."""

    shapes: Array
    charges: Array
    answers: Array
    left: Array

    def response(self, other: _Modes) -> Array:
        """U q of the other's; as K is symmetric, what its equations left counts by our answers."""
        return np.asarray(self.shapes.T @ other.charges + self.answers.T @ other.left)


def line_answer(space: SolidSpace, permeability: Sequence[Array], face: float, low: float, high: float,
                reach: float, y: float = 0.0) -> LineAnswer:
    """Find the modes at `y` over heights low … high over `face`, m, and the bodies' answer to them.

    None of these places may lie in a body.

    Parameters
    ----------
    permeability : sequence of arrays (3, 3, e, q)
        μ/μ0 of every body.
    reach : float
        Half the length of string, m.
    """
    n = space.unknowns
    one = np.eye(3)[:, :, None, None]
    D = total(*(MU0 * e.matrix(mu - one, n) for e, mu in zip(space.bodies, permeability, strict=True)))
    used = np.unique(np.concatenate([e.dofs.ravel() for e in space.bodies]))
    D = csr_matrix(D[used][:, used])
    x, z = along_string(low, reach), np.geomspace(low, high, 12)
    X, Z = np.meshgrid(x, z, indexing="ij")
    halved = space.mesh.symmetry.y and y != 0

    def both_parts(across: int) -> tuple[Array, Array]:
        """v of charges at `across` y, even and odd in x."""
        at_x, beyond = (np.stack([side * X.ravel(), np.full(X.size, across * y), face + Z.ravel()])
                        for side in (1, -1))
        even, odd = np.empty((used.size, X.size)), np.empty((used.size, X.size))
        for some in blocks(used.size, _AT_ONCE):
            v, image = (potentials(space.nodes[:, used[some]], points) / 2 for points in (at_x, beyond))
            np.add(v, image, out=even[some])
            np.subtract(v, image, out=odd[some])
        return even, odd

    here = both_parts(1)
    there = both_parts(-1) if halved else None  # where the mesh is halved
    def half(which: int, odd: tuple[int, ...]) -> tuple[NdBSpline, Array, list[_Modes], list[_Seen]]:
        """W, S and the modes of what is even (0) or odd (1) in x, and their charges."""
        parts: list[tuple[Array, tuple[int, ...]]] = [(here[which], ())]
        if there is not None:
            parts = [((here[which] + there[which]) / 2, ()), ((here[which] - there[which]) / 2, (1,))]
        columns, responses = [], []
        modes: list[_Modes] = []
        seen: list[_Seen] = []
        for v, odd_across in parts:
            U, W = principal(v, _KEEP)
            planes = (*(odd if space.mesh.symmetry.x else ()), *odd_across)
            solver = SolidSolver(space, [MU0 * mu for mu in permeability], planes)
            load = np.zeros((n, U.shape[1]))
            load[used] = -(D @ U)
            sizes = np.linalg.norm(W, axis=1)
            found = solver.solve_several(load, np.minimum(_SOLVED * np.sqrt(sizes.max() / sizes), _ROUGH))
            left = load[solver.free] - solver.matrix @ found[solver.free]
            modes.append(_Modes(shapes=U, charges=-(D @ (U + found[used])) / MU0, answers=found[solver.free],
                                left=left / MU0))
            seen.append((planes, modes[-1].charges))
            S = space.copies * modes[-1].response(modes[-1])
            responses.append((S + S.T) / 2)
            columns.append(W.T)
        spline = answer_spline(x, z, np.concatenate(columns, axis=1).reshape(x.size, z.size, -1))
        return spline, np.asarray(block_diag(*responses)), [] if space.mesh.symmetry.x else modes, seen

    elsewhere = aside(lambda: half(1, (0,)), most=2)
    W, S, modes, seen = half(0, ())
    W_odd, S_odd, modes_odd, seen_odd = elsewhere()
    mixed = None
    if not space.mesh.symmetry.x:  # what is even in x answers what is odd
        mixed = np.asarray(block_diag(*(space.copies * (even.response(odd) + odd.response(even).T) / 2
                                        for even, odd in zip(modes, modes_odd, strict=True))))
    return LineAnswer(even=W, odd=W_odd, response=(S, S_odd), mixed=mixed,
                      aside=_aside(space, used, (seen, seen_odd), y, face))


def principal(v: Array, least: float) -> tuple[Array, Array]:
    """U (n, k), orthonormal, of the singular values of v (n, p) above `least` of the largest, and Uᵀ v (k, p).

    They are those of v on the range of v Ω, Ω random: where it holds far smaller ones than are kept, none is missing.
    """
    rng = np.random.default_rng(0)
    for width in range(_SKETCH, min(v.shape), _SKETCH):
        Q, _ = np.linalg.qr(v @ rng.standard_normal((v.shape[1], width)))
        among = Q.T @ v
        turned, sizes, rows = np.linalg.svd(among, full_matrices=False)
        if sizes[-1] < _SPARE * least * sizes[0]:
            kept = sizes > least * sizes[0]
            return np.asarray(Q @ turned[:, kept]), np.asarray(sizes[kept, None] * rows[kept])
    U, sizes, rows = np.linalg.svd(v, full_matrices=False)
    kept = sizes > least * sizes[0]
    return np.asarray(U[:, kept]), np.asarray(sizes[kept, None] * rows[kept])


def _aside(space: SolidSpace, used: Array, parts: tuple[list[_Seen], list[_Seen]], y: float,
           face: float) -> StringsAside:
    modes = parts[0] + parts[1]
    values = np.zeros((sum(q.shape[1] for _, q in modes), space.unknowns))
    values[:, used] = np.concatenate([q for _, q in modes], axis=1).T
    odd = tuple(planes for planes, q in modes for _ in range(q.shape[1]))
    return StringsAside(charges=unfolded(space, values, odd), y=y, face=face,
                        even=sum(q.shape[1] for _, q in parts[0]) if space.mesh.symmetry.x else 0)
