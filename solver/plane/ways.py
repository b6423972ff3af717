r"""In which ways the section of a bar can be magnetised: a small basis for what the ends do to it.

Fields that go along y as cos ky, made far away (orders m round the section) or by the bars' own magnetisation of the
endless section, magnetise it in ways that :mod:`.potential` solves. A few k and m are enough: what a basis
leaves out changes the energy by its square. Across the bars M = χ h with h = −∇φ; along them M_y = χ_y φ. Each part
has its own ways, for it ends where it ends. Snapshots are sorted by the energy ∫ M·h and the small ones dropped.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from stringflux.geometry.arrays import Array

from .potential import PotentialPlane, times

ORDERS = 5
"""Orders m of far sources: 0 to 4, of an odd field 1 to 5."""
WAVES = (0.0, 40.0, 150.0)
"""k in 1/m: from a field that is the same all along to one that changes over a few bar widths."""
_KEEP = 1e-3  # singular values of the snapshots, of the largest
_KEEP_ALONG = 1e-2
_MAGNETIC = 1e-9  # a susceptibility below this is none


@dataclass(frozen=True, kw_only=True, eq=False)
class Ways:
    """How one part can be magnetised.

    Attributes
    ----------
    part : int
    m : array (ways, 2, e, q)
        Magnetisation across, A/m, at the part's quadrature points.
    charges : array (n, ways)
        ∫ M·∇w, A.
    along : array (n, ways_y)
        Potentials φ whose χ_y φ is M_y.
    along_charges : array (n, ways_y)
        ∫ M_y w, A·m.
    """

    part: int
    m: Array
    charges: Array
    along: Array
    along_charges: Array


def section_ways(plane: PotentialPlane, across: Sequence[Array], along: Sequence[Array],
                 own: Array, odd: bool) -> list[Ways]:
    """The basis.

    Parameters
    ----------
    across : sequence of arrays (3, e, q)
        χ of each part in the section.
    along : sequence of arrays (e, q)
        χ_y.
    own : array (n, k)
        Charges ∫ M·∇w of the endless section, part by part and of whatever magnetises it.
    odd : bool
        Whether φ is odd in x.
    """
    chi_masses = plane.masses(along)
    loads = np.concatenate([plane.rim_loads([m + odd for m in range(ORDERS)], odd), own], axis=1)
    found, waves = [], plane.waves(plane.stiffness(across), sum(chi_masses), odd)
    for k in WAVES:
        # without a wave a far source of order 0 magnetises nothing
        solve = waves(k)
        found.append(solve(loads[:, 1:] if k == 0 and not odd else loads))
    snapshots = np.concatenate(found, axis=1)
    out = []
    for i, (p, chi, mass) in enumerate(zip(plane.points, across, chi_masses, strict=True)):
        h = -(p.gradient @ snapshots).T.reshape(-1, 2, *p.shape)
        m = np.stack([times(chi, one) for one in h])
        kept = _largest(_gram(h, m, p.weight), _KEEP)
        m = np.tensordot(kept, m, 1)
        phi = snapshots @ _largest(snapshots.T @ (mass @ snapshots), _KEEP_ALONG).T
        out.append(Ways(part=i, m=m, charges=_charges(p, m), along=phi, along_charges=np.asarray(mass @ phi)))
    return out


def _charges(points: Any, m: Array) -> Array:
    if not len(m):
        return np.zeros((points.gradient.shape[1], 0))
    return np.asarray(points.gradient.T @ (m.reshape(len(m), 2, -1) * points.weight).reshape(len(m), -1).T)


def _gram(h: Array, m: Array, weight: Array) -> Array:
    """∫ h·m of every two."""
    left, right = (a.reshape(len(a), 2, -1) for a in (h, m))
    return np.asarray(np.einsum("acq,bcq,q->ab", left, right, weight, optimize=True))


def _largest(gram: Array, keep: float) -> Array:
    """Combinations (kept, snapshots) that are orthonormal in a Gram matrix, those of small share left out."""
    size = np.sqrt(np.abs(np.diag(gram)))
    if not np.any(size > _MAGNETIC * np.max(size, initial=0.0)):
        return np.zeros((0, size.size))
    scale = 1 / np.where(size > 0, size, np.inf)
    values, vectors = np.linalg.eigh(gram * np.outer(scale, scale))
    good = values > keep**2 * values[-1]
    return np.asarray((vectors[:, good] / np.sqrt(values[good])).T * scale)
