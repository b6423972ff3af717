"""A round coil meshed with its pole: the plain axisymmetric solve.

The program takes the coil's air field in closed form; this is the second route to the same
inductance, and the kernel that the benchmark times beside another finite element code::

    ∫ ν curl A·curl w r dr dz + jω ∫ σ A A' r dr dz + far = ∫ J A' r dr dz
    L_c = 2π ∫ J A r dr dz = L − j R_e/ω,      J = 1/(area) per turn²

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from stringflux.solver.factor import factor
from stringflux.solver.row.eddy_cell import eddy_mass
from stringflux.solver.section.forms import air_flux, current_load, far_flux
from stringflux.solver.section.space import Section, finer


def meshed_inductance(section: Section, mu_r: Sequence[float], coil_part: int) -> float:
    """Inductance per turn², H, of the part `coil_part` carrying a uniform current density.

    Parameters
    ----------
    section : Section
        Its parts include the coil's section as a ring.
    mu_r : sequence of float
        Relative permeability of every part (1 for the coil).
    coil_part : int
    """
    return float(complex_inductance(section, mu_r, coil_part).real)


def complex_inductance(section: Section, mu_r: Sequence[float], coil_part: int,
                       sigma: Sequence[float] | None = None, frequency: float = 0.0) -> complex:
    """The same with conducting parts (S/m) at a frequency, Hz: L − j R_e/ω per turn²."""
    K = air_flux.assemble(section.air) + far_flux.assemble(section.far, rho=section.mesh.far_radius)
    for basis, mu in zip(section.parts, mu_r, strict=True):
        K = K + air_flux.assemble(basis) / mu
    basis = section.parts[coil_part]
    f = current_load.assemble(basis, J=np.full((basis.nelems, 1), 1.0 / float(np.sum(basis.dx))))
    if sigma is not None and frequency > 0:
        for b, s in zip(section.parts, sigma, strict=True):
            if s > 0:
                K = K + 2j * np.pi * frequency * eddy_mass.assemble(finer(b), sigma=np.full((b.nelems, 1), s))
        f = f.astype(complex)
    return complex(2 * np.pi * (f @ factor(K).solve(f)))
