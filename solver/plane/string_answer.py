r"""What long bars under the strings do to a string's own field, from solves in their section.

A unit charge at (x, 0, z) is (1/π) ∫ cos ky dk of lines of charge that go as cos ky, each with the potential
v_k = K₀(kd)/2π. With the bars endless, D_k the excess of the section's form over air's (:mod:`.potential`),

    φ = −A_k⁻¹ D_k v,   q = −D_k (v + φ),   G(x, x') = (1/π) ∫ W_k(x)ᵀ S_k W_k(x') dk,   S = Uᵀ q[U],   W = Uᵀ v

even and odd part each, as in :mod:`.solid.string_answer`, whose record holds it. Only bars that go on under the
string answer: beyond the end of a blade those below it. What it does not know is the nearness of an end.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.linalg import block_diag
from scipy.special import k0

from stringflux.geometry.arrays import Array

from ..interpolation import gauss
from ..line_answer import LineAnswer, along_string, answer_spline
from .ends import LongBars

_WAVES = 4  # Gauss points over k; 12 move S of the shipped blade by 0.03 %
_SCALE = 300.0  # 1/m: half of them lie below
_KEEP = 3e-4  # singular values below this fraction of the largest of all waves
_HEIGHTS = 9


def plane_answer(bars: LongBars, chi: Sequence[Array], chi_along: Sequence[Array], face: float, low: float,
                 high: float, reach: float, y: float = 0.0, waves: int = _WAVES) -> LineAnswer:
    """Find the modes at `y` over heights low … high over `face`, m, and the bars' answer to them.

    Parameters
    ----------
    chi, chi_along : sequences of arrays (3, e, q) and (e, q)
        What a signal meets in each part: as :meth:`LongBars.magnetised`.
    reach : float
        Half the length of string, m.
    """
    plane = bars.plane
    under = [abs(y) <= half for half in bars.halves]
    chi = [c if on else np.zeros_like(c) for c, on in zip(chi, under, strict=True)]
    chi_along = [c if on else np.zeros_like(c) for c, on in zip(chi_along, under, strict=True)]
    stiff, mass = plane.stiffness(chi), sum(plane.masses(chi_along))
    x, z = along_string(low, reach), np.geomspace(low, high, _HEIGHTS)
    X, Z = (g.ravel() for g in np.meshgrid(x, z, indexing="ij"))
    lines = np.concatenate([b.places for b in bars.lines], axis=1)
    t, w = gauss(waves)
    ks, shares = _SCALE * t / (1 - t), w * _SCALE / (1 - t) ** 2 / np.pi
    near, far = (np.hypot(lines[0][:, None] - side * X, lines[1][:, None] - face - Z) for side in (1, -1))
    shape = plane.section.shape
    width = (shape.right - shape.left) / 2
    splines, responses = [], []
    both = [(k0(k * near) / (2 * np.pi), k0(k * far) / (2 * np.pi)) for k in ks]
    for odd in (False, True):
        potentials = [np.sqrt(s) * (a - b if odd else a + b) / 2 for s, (a, b) in zip(shares, both, strict=True)]
        found = [np.linalg.eigh(v @ v.T) for v in potentials]  # left singular vectors
        largest = max(values[-1] for values, _ in found)
        columns, blocks, waves_of = [], [], plane.waves(stiff, mass, odd, near=width)
        for k, v, (values, vectors) in zip(ks, potentials, found, strict=True):
            kept = values > _KEEP**2 * largest
            if not np.any(kept):
                continue
            # orthonormal combinations of what stands on the lines, handed to the unknowns
            U = vectors[:, kept]
            u = bars.spread(U)
            D = stiff + k * k * mass
            solve = waves_of(float(k))
            S = (2.0 if plane.half else 1.0) * (u.T @ (-(D @ (u + solve(-(D @ u))))))
            blocks.append((S + S.T) / 2)
            columns.append((U.T @ v).T)
        splines.append(answer_spline(x, z, np.concatenate(columns, axis=1).reshape(x.size, z.size, -1)))
        responses.append(np.asarray(block_diag(*blocks)))
    return LineAnswer(even=splines[0], odd=splines[1], response=(responses[0], responses[1]))
