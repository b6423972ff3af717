r"""Bodies and sheets together over the band: eddy currents in both, and each in the field of the other.

A few patterns of current in the sheets are taken as more windings (:mod:`.sheet_windings`), whose field at the bodies
is −∇Ω of their potential (:mod:`.sheet_potential`). The bodies' charges q of coil and patterns are added up, and
all modes of the sheets answer to the flux of coil and charges ::

    q = q_coil + q_patterns i,      (R + jω L) ψ = −jω Φ[coil, q]

Inductances, and here the bodies' charges nearly, are of second order in what the patterns miss. ψ = S i is of first
order: it would lack 0.7 % of b at a string over a cover at 10 kHz.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from stringflux.geometry.arrays import Array, ComplexArray
from stringflux.geometry.shapes.bodies import SolidBody
from stringflux.geometry.shapes.row import Racetrack

from ..coil import air as coil_air
from ..constants import MU0
from ..materials.kinds import Materials
from ..solid.bias import SolidState
from ..solid.charges import Charges, unfolded
from ..solid.space import SolidSpace
from .bodies import SolidBand, solve_band
from .numerics import SHIPPED, EddyNumerics
from .sheet import Sheet
from .sheet_potential import sheet_potential
from .sheet_windings import sheet_windings


def solve_sheet_band(space: SolidSpace, bodies: Sequence[SolidBody], materials: Materials, bias: SolidState,
                     coils: Sequence[Racetrack], sources: Sequence[Array], answers: Charges, sheet: Sheet,
                     frequency: Array, progress: Callable[[float], None] = lambda share: None,
                     numerics: EddyNumerics = SHIPPED) -> tuple[SolidBand, ComplexArray]:
    """Solve for every coil and frequency.

    On a mesh that stops at planes of symmetry the bodies answer to that part of a pattern that has the coils'
    symmetry; the rest links no coil, and of a disc 6 mm off costs 1 % of ΔL_c.

    Parameters
    ----------
    coils : sequence of Racetrack
        Of one turn.
    sources : sequence of arrays (coils, 3, e, q)
        H_s of every coil at the points of every body, A/m per ampere.
    answers : Charges
        The bodies' static answers to the coils, of the whole build: what the patterns are made of.
    numerics : EddyNumerics

    Returns
    -------
    SolidBand
        What bodies and sheets together add to the coils, and the charges of the bodies.
    complex array (f, coils, unknowns of the sheets)
        ψ per ampere in one turn.
    """
    air = np.stack([sheet.flux(lambda p, c=c: coil_air.field(c, p)) for c in coils])  # type: ignore[misc]
    windings = sheet_windings(sheet, air, air + sheet.flux(lambda p: MU0 * answers.field(p)), numerics)
    more = pattern_fields(space, sheet, windings.patterns)
    every = [np.concatenate([coil, pattern]) for coil, pattern in zip(sources, more, strict=True)]
    band = solve_band(space, bodies, materials, bias, every, frequency, progress)
    added, current = windings.with_bodies(frequency, band.inductance)
    n = len(coils)
    whole = band.charges[:, :n] + current @ band.charges[:, n:]
    within = unfolded(space, whole.reshape(-1, space.unknowns), ((),) * (n * frequency.size))
    flux = air + sheet.flux(lambda p: MU0 * within.field(p)).reshape(-1, *air.shape)
    return (SolidBand(frequency=frequency, inductance=band.inductance[:, :n, :n] + added, charges=whole),
            sheet.currents(frequency, flux))


def pattern_fields(space: SolidSpace, sheet: Sheet, patterns: Array) -> list[Array]:
    """H_s (k, 3, e, q) of patterns (unknowns, k) at the points of every body, A/m per ampere of each."""
    out = []
    for e in space.bodies:
        used, local = np.unique(e.dofs, return_inverse=True)
        images = [space.nodes[:, used]]
        for axis in space.mesh.symmetry.axes:
            flip = np.where(np.arange(3) == axis, -1.0, 1.0)[:, None]
            images += [flip * image for image in images]
        omega = np.mean([sheet_potential(sheet, patterns, image) for image in images], axis=0)
        here = omega[:, local.reshape(e.dofs.shape)]  # (k, 10, e)
        out.append(-np.einsum("eqcn,kne->kceq", e.gradient, here, optimize=True))
    return out
