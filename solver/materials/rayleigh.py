r"""What a small swing of the field loses in magnets and steel: Rayleigh's law. Its angle vanishes with the amplitude.

A cycle between ± Ĥ (A/m), the sign + as H falls; its area; the loss angle of its first harmonic::

    B/μ0  = (μ_i + ν Ĥ) H ± (ν/2)(Ĥ² − H²)
    W     = (4/3) μ0 ν Ĥ³                        J/m³ a cycle
    tan δ = (4/3π) ν Ĥ/(μ_i + ν Ĥ)

ν (m/A) is Rayleigh's constant. Of magnets and turned steel none is at hand. It is taken as (μ_i − 1)/Hc, at most: a
field as large as the coercivity would find twice μ_i. That is much: the ferrite of
tests/solver/materials/test_measured_loops.py has 0.13 of it, as iron has (ν 0.31 m/A, μ_i 200, Hc 80 A/m: memory).

Signals in a pickup are small. The loudest strings of the shipped rows, at a swing of 0.1 mm, make 50 A/m in an alnico
rod and 2.4 A/m in a steel pole: tan δ is 0.0003 and 0.012 at most. S hangs on μ as μ^0.4 and μ^0.08, so it lags by
0.0001 and 0.001 rad and is 0.03 and 0.2 % larger; at 1 mm ten times that (tests/cases/solved/test_signal_loss.py). So
it is left out of L, S and the circuit.

References
----------
Lord Rayleigh, *Phil. Mag.* 23 (1887) 225 (memory). The cycle: IEC 60050-221, entry 221-03-32 (read). Area and angle:
derived here. Iron: R. M. Bozorth, *Ferromagnetism*, Van Nostrand 1951 (memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError

from ..constants import MU0
from .kinds import BodyMaterial, is_magnet, is_steel

STEEL_COERCIVITY = 80.0
"""A/m: of the softest that poles are turned from (memory); harder steel loses less."""


@dataclass(frozen=True, kw_only=True)
class RayleighLaw:
    """A material in small fields.

    Parameters
    ----------
    mu_initial : float
        μ_i, relative.
    constant : float
        ν, m/A.

    Raises
    ------
    CaseError
        If μ_i is below 1 or ν below 0.

    Examples
    --------
    >>> law = RayleighLaw(mu_initial=200.0, constant=0.31)
    >>> round(float(law.loss_tangent(1.0)), 6)  # 1 A/m
    0.000657
    """

    mu_initial: float
    constant: float

    def __post_init__(self) -> None:
        if not (1.0 <= self.mu_initial < math.inf and 0.0 <= self.constant < math.inf):
            raise CaseError(f"Rayleigh's law: received μ_i = {self.mu_initial:g} and ν = {self.constant:g} m/A; "
                            "write at least 1 and 0")

    def flux(self, h: npt.ArrayLike, amplitude: npt.ArrayLike) -> Array:
        """B in T as the field H (…) in A/m falls in a cycle of an amplitude (…) in A/m; as it rises −B(−H)."""
        h, top = np.asarray(h, dtype=float), np.asarray(amplitude, dtype=float)
        nu = self.constant
        return np.asarray(MU0 * ((self.mu_initial + nu * top) * h + nu / 2 * (top**2 - h**2)))

    def area(self, amplitude: npt.ArrayLike) -> Array:
        """W in J/m³ a cycle at amplitudes (…) in A/m."""
        return np.asarray(4 / 3 * MU0 * self.constant * np.asarray(amplitude, dtype=float) ** 3)

    def loss_tangent(self, amplitude: npt.ArrayLike) -> Array:
        """tan δ at amplitudes (…) in A/m."""
        rise = self.constant * np.asarray(amplitude, dtype=float)
        return np.asarray(4 / (3 * np.pi) * rise / (self.mu_initial + rise))


def lossiest(material: BodyMaterial) -> RayleighLaw:
    """A material of poles with as large a ν as it may have; what is linear loses nothing.

    Examples
    --------
    >>> from stringflux.solver.materials import find_material
    >>> law = lossiest(find_material("alnico-5"))
    >>> round(law.mu_initial, 2), round(law.constant * find_material("alnico-5").coercivity, 2)
    (2.85, 1.85)
    """
    if is_magnet(material):
        mu, held = material.mu_signal, material.coercivity
    elif is_steel(material):
        mu, held = material.mu_reversible, STEEL_COERCIVITY
    else:
        return RayleighLaw(mu_initial=float(material.reversible(0.0)), constant=0.0)
    return RayleighLaw(mu_initial=mu, constant=(mu - 1.0) / held)
