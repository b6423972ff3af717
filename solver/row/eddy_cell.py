r"""Time-harmonic cell: one conducting pole in an axisymmetric external field, A_φ = r u e^{jωt}.

With the pole's small-signal reluctivity tensor ν and conductivity σ, and u_ext the external field in the pole::

    ∫ ν curl u·curl w r dr dz + jω ∫ σ r³ u w dr dz + far
        = −∫_pole (ν − ν0) curl u_ext·curl w r dr dz − jω ∫_pole σ r³ u_ext w dr dz

The answer leaves as *ring currents*: g = K₀ u (K₀ the form of free space) is the current, magnetisation and
eddies together, that makes the same field outside; it lives on the pole's unknowns alone. So the flux linked
with any other circuit is 2π g·u_other, and rings take it over just as they take charges.
The mesh follows the skin depth δ = √(2/(ωμσ)) at the highest frequency (:func:`skin_quality`).

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from skfem import BilinearForm

from stringflux.geometry.arrays import Array, ComplexArray
from stringflux.geometry.mesh.pole import Quality

from ..constants import MU0, NU0
from ..factor import factor
from ..materials.signal import AxisPermeability
from ..section.forms import air_flux, curl, far_flux
from ..section.space import Section, finer

_ELEMENTS_PER_SKIN = 1.3  # P2; more than twice as many change L(f) of a steel slug by 0.2 % at most


@BilinearForm
def tensor_flux(u: Any, v: Any, w: Any) -> Any:
    """∫ (ν_t B_r B'_r + ν_z B_z B'_z) r."""
    br, bz = curl(u, w)
    cr, cz = curl(v, w)
    return (w["nu_t"] * br * cr + w["nu_z"] * bz * cz) * w.x[0]


@BilinearForm
def eddy_mass(u: Any, v: Any, w: Any) -> Any:
    """∫ σ A A' r with A = r u."""
    return w["sigma"] * u * v * w.x[0] ** 3


def skin_depth(frequency: float, mu_r: float, resistivity: float) -> float:
    """δ = √(2ρ/(ωμ)), m; infinite for an insulator."""
    return float(np.sqrt(2 * resistivity / (2 * np.pi * frequency * MU0 * mu_r)))


def skin_quality(base: Quality, depths: Sequence[float]) -> Quality:
    """The base quality with a surface size that resolves the skin depth (m) of each part."""
    return replace(base, surface=tuple(d / _ELEMENTS_PER_SKIN if np.isfinite(d) else 0.0 for d in depths))


@dataclass(frozen=True, kw_only=True, eq=False)
class EddyCell:
    """One pole with its small-signal permeabilities and conductivities.

    Attributes
    ----------
    section : Section
        On a mesh made for the skin.
    mu : tuple of AxisPermeability
        Of each part.
    conductivity : tuple of float
        S/m of each part.
    """

    section: Section
    mu: tuple[AxisPermeability, ...]
    conductivity: tuple[float, ...]

    @cached_property
    def _free(self) -> Any:
        """K₀: free space everywhere, far term included."""
        s = self.section
        return (air_flux.assemble(s.basis) + far_flux.assemble(s.far, rho=s.mesh.far_radius)).tocsc()

    @cached_property
    def _extra(self) -> tuple[Any, Any]:
        """The pole's ν − ν0 and σ forms."""
        stiffness, mass = 0, 0
        s = self.section
        for basis, mu, sigma in zip(s.parts, self.mu, self.conductivity, strict=True):
            shape = (basis.nelems, basis.X.shape[-1])
            nu_z, nu_t = (np.broadcast_to(NU0 / np.asarray(one, float) - NU0, shape) for one in (mu.along, mu.across))
            stiffness = stiffness + tensor_flux.assemble(basis, nu_t=nu_t, nu_z=nu_z)
            mass = mass + eddy_mass.assemble(finer(basis), sigma=np.full((basis.nelems, 1), sigma))
        return stiffness.tocsc(), mass.tocsc()  # type: ignore[attr-defined]

    def at(self, frequency: float) -> EddyAnswer:
        """The factored cell at a frequency, Hz (0 allowed)."""
        stiffness, mass = self._extra
        load = stiffness + 2j * np.pi * frequency * mass if frequency > 0 else stiffness
        return EddyAnswer(self.section, self._free, load)


class EddyAnswer:
    """One frequency: external u in, ring currents out."""

    def __init__(self, section: Section, free: Any, extra: Any) -> None:
        self._pole, self._extra = section.pole, extra.astype(complex)
        self._lu = factor(free + self._extra)

    def currents(self, u_ext: Array | ComplexArray) -> ComplexArray:
        """Ring currents g (k,), complex A per 2π of the external field u_ext (k,) = A_ext/r at `section.pole`, T."""
        full = self._external(u_ext)
        u = self._lu.solve(-(self._extra @ full))
        # K₀ u = −extra (u + u_ext): formed so, it is exactly zero off the pole
        return np.asarray(-(self._extra @ (u + full))[self._pole])

    def total(self, u_ext: Array | ComplexArray) -> ComplexArray:
        """u of the pole's own field at all unknowns (complex, T), for losses and pictures."""
        return np.asarray(self._lu.solve(-(self._extra @ self._external(u_ext))))

    def _external(self, u_ext: Array | ComplexArray) -> ComplexArray:
        full = np.zeros(self._extra.shape[0], dtype=complex)
        full[self._pole] = u_ext
        return full
