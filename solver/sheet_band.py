r"""Bodies and sheets together over the band: eddy currents in both, and each in the field of the other.

A few patterns of current in the sheets are taken as more windings (:mod:`.sheet_windings`), whose field at the bodies
is −∇Ω of their potential (:mod:`.sheet_potential`). With the bodies' charges q of coil and pattern at a frequency ::

    ψ = S i,      q_total = q_coil + q_patterns i
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes import Racetrack
from stringflux.geometry.solid_shapes import SolidBody

from . import coil_air
from .constants import MU0
from .sheet import Sheet
from .sheet_potential import sheet_potential
from .sheet_windings import sheet_windings
from .solid_bias import SolidState
from .solid_charges import Charges
from .solid_eddy import SolidBand, solve_band
from .solid_space import SolidSpace

ComplexArray = npt.NDArray[np.complex128]


@dataclass(frozen=True, kw_only=True, eq=False)
class SheetBand:
    """What sheets add to bodies and coils.

    Attributes
    ----------
    bodies : SolidBand
        The answers of the bodies to the coils alone.
    inductance : complex array (f, coils, coils)
        What the sheets add, H per turn², the bodies' answer to them included.
    currents : complex array (f, coils, unknowns of the sheets)
        ψ per ampere in one turn.
    charges : complex array (f, coils, unknowns)
        What the bodies answer to that, ∫ M·∇w, A·m per ampere in one turn.
    """

    bodies: SolidBand
    inductance: ComplexArray
    currents: ComplexArray
    charges: ComplexArray


def solve_sheet_band(space: SolidSpace, bodies: Sequence[SolidBody], materials: Mapping[str, Any], bias: SolidState,
                     coils: Sequence[Racetrack], sources: Sequence[Array], answers: Charges, sheet: Sheet,
                     frequency: Array, progress: Callable[[float], None] = lambda share: None) -> SheetBand:
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
    """
    air = np.stack([sheet.flux(lambda p, c=c: coil_air.field(c, p)) for c in coils])  # type: ignore[misc]
    windings = sheet_windings(sheet, air, air + sheet.flux(lambda p: MU0 * answers.field(p)))
    more = pattern_fields(space, sheet, windings.patterns)
    every = [np.concatenate([coil, pattern]) for coil, pattern in zip(sources, more, strict=True)]
    band = solve_band(space, bodies, materials, bias, every, frequency, progress)
    added, current = windings.with_bodies(frequency, band.inductance)
    n = len(coils)
    alone = SolidBand(frequency=frequency, inductance=band.inductance[:, :n, :n], charges=band.charges[:, :n])
    return SheetBand(bodies=alone, inductance=added, currents=current @ windings.patterns.T,
                     charges=current @ band.charges[:, n:])


def pattern_fields(space: SolidSpace, sheet: Sheet, patterns: Array) -> list[Array]:
    """H_s (k, 3, e, q) of patterns (unknowns, k) at the points of every body, A/m per ampere of each."""
    out = []
    for e in space.bodies:
        used, local = np.unique(e.dofs, return_inverse=True)
        images = [space.nodes[:, used]]
        for axis, mirrored in enumerate(space.mesh.mirrored):
            if mirrored:
                flip = np.where(np.arange(3) == axis, -1.0, 1.0)[:, None]
                images += [flip * image for image in images]
        omega = np.mean([sheet_potential(sheet, patterns, image) for image in images], axis=0)
        here = omega[:, local.reshape(e.dofs.shape)]  # (k, 10, e)
        out.append(-np.einsum("eqcn,kne->kceq", e.gradient, here, optimize=True))
    return out
