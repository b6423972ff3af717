"""Small-signal cell: how one pole answers a small external field, azimuthal order by order.

The external field is a scalar potential given at the pole's unknowns as v_ext = φ_ext / r^m. With K the
form of μ over everything and D that of μ − μ0 over the pole::

    K v_red = −D v_ext          v = v_ext + v_red (in the pole)
    M = −(μ/μ0 − 1) ∇φ          q = −D v / μ0

q is the pole's magnetisation seen through the basis functions, ∫ M·∇w r dr dz. Because v_ext enters through
the same P2 space as the answer, a strongly magnetic pole (v ≪ v_ext) loses no digits. The operator
v_ext → q is symmetric: that is reciprocity, and tests hold it to 1e-10.

References
----------
Reduced scalar potential: J. Simkin, C. W. Trowbridge, "On the use of the total scalar potential in the numerical
solution of field problems in electromagnetics", *Int. J. Numer. Methods Eng.* 14 (1979) 423 (memory). The form in v:
derived here.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from stringflux.geometry.arrays import Array

from ..constants import MU0
from ..factor import Factor, factor
from ..materials.signal import AxisPermeability, Permeability
from ..section.forms import far_potential
from ..section.operators import potential_matrix
from ..section.space import Section


@dataclass(frozen=True, kw_only=True, eq=False)
class SmallSignalCell:
    """One pole with its differential permeabilities.

    Attributes
    ----------
    section : Section
    mu : tuple of AxisPermeability
        Of each part, on the quadrature points of its basis.
    """

    section: Section
    mu: tuple[AxisPermeability, ...]

    @cached_property
    def orders(self) -> dict[int, SmallSignalOrder]:
        return {}

    def order(self, m: int) -> SmallSignalOrder:
        """The factored system of azimuthal order m, made on first use."""
        if m not in self.orders:
            self.orders[m] = SmallSignalOrder(self, m)
        return self.orders[m]


class SmallSignalOrder:
    """K and D of one azimuthal order, K factored."""

    def __init__(self, cell: SmallSignalCell, m: int) -> None:
        s = cell.section
        self.m = m
        self.azimuthal_weight = 2 * np.pi if m == 0 else np.pi  # ∫ cos² mφ dφ
        self.D = sum(
            potential_matrix(b, m, MU0 * (_on(b, mu.across) - 1), MU0 * (_on(b, mu.along) - 1))
            for b, mu in zip(s.parts, cell.mu, strict=True)
        )
        one = np.full((s.basis.nelems, 1), MU0)
        self.K = (potential_matrix(s.basis, m, one, one) + self.D
                  + far_potential(m).assemble(s.far, rho=s.mesh.far_radius)).tocsc()
        self._pole = s.pole
        self._D_pole = self.D.tocsr()[s.pole][:, s.pole].tocsr()

    @cached_property
    def lu(self) -> Factor:
        return factor(self.K)

    def charges(self, v_ext: Array) -> Array:
        """Answer to external potentials.

        Parameters
        ----------
        v_ext : array (k,) or (k, n)
            φ_ext / r^m in A at the pole's unknowns (`section.pole`).

        Returns
        -------
        array, same shape
            q in A·m (per unit of azimuthal weight): φ_react(t) = (1/4π) Σ q_n ∮ cos(mφ)/R / r_n^m.
        """
        load = np.zeros((self.K.shape[0], *v_ext.shape[1:]))
        load[self._pole] = -(self._D_pole @ v_ext)
        reduced = self.lu.solve(load)[self._pole]
        return np.asarray(-(self._D_pole @ (v_ext + reduced)) / MU0)

    def potential(self, v_ext: Array) -> Array:
        """Reaction potential v_red (A per r^m) at all unknowns, for pictures."""
        load = np.zeros(self.K.shape[0])
        load[self._pole] = -(self._D_pole @ v_ext)
        return np.asarray(self.lu.solve(load))


def _on(basis: Any, value: Permeability) -> Array:
    """A coefficient as an array (elements, quadrature points)."""
    return np.broadcast_to(np.asarray(value, float), (basis.nelems, basis.X.shape[-1]))
