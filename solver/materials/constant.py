"""One permeability for everything: ν = 1/(μ0 μr) at every B, and μr for a small signal too."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError

from ..constants import NU0


@dataclass(frozen=True, kw_only=True)
class ConstantPermeability:
    """Material of one permeability; what it answers as :class:`.soft.SoftCurve` does.

    Attributes
    ----------
    name : str
    mu_r : float
        Relative, at least 1; 1 for what is not magnetic.
    resistivity : float
        Ω·m at 20 °C.
    resistivity_per_kelvin : float
        By what share of it the resistivity rises, 1/K; 0 where it is not known.
    source : str

    Raises
    ------
    CaseError
        If the permeability is below 1 or not finite.
    """

    name: str
    mu_r: float
    resistivity: float = float("inf")
    resistivity_per_kelvin: float = 0.0
    source: str = ""

    def __post_init__(self) -> None:
        if not 1.0 <= self.mu_r < float("inf"):
            raise CaseError(f"material {self.name!r}: permeability: must be at least 1, got {self.mu_r:g}")

    @property
    def magnetic(self) -> bool:
        """Whether a static field knows of it: not of copper, nor of what is only in the way."""
        return self.mu_r != 1.0

    @property
    def saturation(self) -> float:
        return float("inf")

    @property
    def mu_reversible(self) -> float:
        return self.mu_r

    @property
    def mu_reversible_range(self) -> tuple[float, float]:
        return self.mu_r, self.mu_r

    def static(self, b: npt.ArrayLike) -> tuple[Array, Array]:
        b = np.asarray(b, dtype=float)
        s = NU0 / self.mu_r
        return s * b, np.full_like(b, s)

    def reluctivity(self, b2: npt.ArrayLike) -> tuple[Array, Array]:
        b2 = np.asarray(b2, dtype=float)
        return np.full_like(b2, NU0 / self.mu_r), np.zeros_like(b2)

    def reversible(self, b: npt.ArrayLike) -> Array:
        return np.full_like(np.asarray(b, dtype=float), self.mu_r)

    def curve_points(self, n: int = 200) -> tuple[Array, Array]:
        b = np.linspace(0.0, 1.0, n)
        return self.static(b)[0], b
