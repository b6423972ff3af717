r"""What a coil with its poles picks up from the mains.

A field B that is uniform over the pickup links, by reciprocity, λ = A·B, where A is the magnetic moment of
coil and poles per ampere in the wire::

    A = s N ⟨area of a turn⟩ ẑ + Σ_poles ∫ M dV          m²,  V_rms = 2π f |A·B_rms|

⟨area⟩ of the turns, spread evenly over a stadium's window of inner radius a, build w and straight ℓ (exact)::

    ⟨π ρ² + 2 ρ ℓ⟩ = π (a² + a w + w²/3) + (2a + w) ℓ

and ∫ M dV from the poles' charges q = ∫ M·∇w: z and y are themselves in the finite element space, so
∫ M_z dV = 2π Σ q₀ z and ∫ M_y dV = π Σ q₁ are exact. The component along the strings is zero by symmetry.
Eddy currents are left out: at the mains' frequencies they matter only in covers and shields.

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.solver.coil.air import mean_area
from stringflux.solver.row.solve import SolvedRow
from stringflux.solver.section.space import Section

MAINS = (50.0, 60.0)
"""Hz."""

HOME_MEAN = 0.06e-6
"""Mean power-frequency field in homes, T (survey of 1993 in the United States, EPRI)."""

HOME_RANGE = (0.05e-6, 0.4e-6)
"""Usual range in homes, T (the same; urban Europe 0.05–0.2: Gajšek et al., IJERPH 13(9), 2016, 875)."""

PUBLIC_LIMIT = 200e-6
"""Reference level for the general public at 25–400 Hz, T (ICNIRP 2010)."""


@dataclass(frozen=True, kw_only=True, eq=False)
class HumArea:
    """Effective area of a pickup for uniform fields.

    Attributes
    ----------
    turns : array (3,)
        Of the winding alone, x y z, m².
    poles : array (3,)
        What the poles add, m².
    """

    turns: Array
    poles: Array

    @property
    def total(self) -> Array:
        """Both, m² (3,)."""
        return self.turns + self.poles

    def voltage(self, field: Array | float, frequency: float) -> float:
        """Voltage for a field, both rms.

        Parameters
        ----------
        field : array (3,) or float
            T; a number stands for a field in the direction that the pickup hears best.
        frequency : float
            Hz.

        Examples
        --------
        One square metre of turns in a microtesla at 50 Hz:

        >>> area = HumArea(turns=np.array([0.0, 0.0, 1.0]), poles=np.zeros(3))
        >>> round(area.voltage(1e-6, 50.0) * 1e6, 2)
        314.16
        """
        A = self.total
        flux = float(np.linalg.norm(A)) * field if isinstance(field, int | float) else float(A @ field)
        return float(2 * np.pi * frequency * abs(flux))


def hum_area(row: SolvedRow) -> HumArea:
    """The effective area of a solved row, wound as it is."""
    coil = row.field.coil
    turns = np.array([0.0, 0.0, row.field.turns * coil.turns * coil.sense * mean_area(coil)])
    poles = np.zeros(3)
    for place, charges in zip(row.places, row.signal.charges, strict=True):
        poles += moment(row.cells[place.shape].section, charges)
    return HumArea(turns=turns, poles=row.field.turns * poles)


def moment(section: Section, charges: Array) -> Array:
    """∫ M dV (3,) of a pole in A·m² from its charges by order (orders, k) in A·m."""
    z = section.nodes[1, section.pole]
    across = np.pi * float(np.sum(charges[1])) if len(charges) > 1 else 0.0
    return np.array([0.0, across, 2 * np.pi * float(charges[0] @ z)])
