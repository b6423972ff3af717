r"""Sheets and steel bodies together: a few patterns of current in the sheets, each taken as one more winding.

The steel answers a pattern's field as it answers a coil's. With S the patterns (unknowns, k), index c the coils and s
the patterns, ΔL what the bodies add between windings at a frequency (:mod:`.bodies`)::

    R_ss = SᵀRS,   L_ss = SᵀLS + ΔL_ss,   L_cs = Φ_air S + ΔL_cs
    i = −jω (R_ss + jω L_ss)⁻¹ L_sc,      ΔL_c = L_cs i

A choice of patterns is a Galerkin one: the error of ΔL_c is of second order in what they miss.

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array, ComplexArray

from .numerics import SHIPPED, EddyNumerics
from .sheet import Sheet


@dataclass(frozen=True, kw_only=True, eq=False)
class SheetWindings:
    """Patterns of current in the sheets.

    Attributes
    ----------
    patterns : array (unknowns, k)
        ψ of each per ampere of it (no unit).
    resistance : array (k, k)
        Ω.
    inductance : array (k, k)
        In air, H.
    linked : array (coils, k)
        Flux of a pattern's ampere through one turn of every coil in air, H.
    """

    patterns: Array
    resistance: Array
    inductance: Array
    linked: Array

    def with_bodies(self, frequency: Array, added: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
        """What the sheets add, and the currents in their patterns.

        Parameters
        ----------
        frequency : array (f,)
            Hz.
        added : complex array (f, coils + k, coils + k)
            What the bodies add between all windings, coils first, then patterns, H; 0 without bodies.

        Returns
        -------
        complex array (f, coils, coils)
            ΔL_c of the sheets, H per turn²; the bodies' own part is added[:, :coils, :coils].
        complex array (f, coils, k)
            Current of every pattern per ampere in a turn of every coil.
        """
        coils = self.linked.shape[0]
        between = self.linked + added[:, :coils, coils:]
        s = 2j * np.pi * np.asarray(frequency, dtype=float)[:, None, None]
        own = self.resistance + s * (self.inductance + added[:, coils:, coils:])
        current = np.swapaxes(np.linalg.solve(own, -s * np.swapaxes(between, 1, 2)), 1, 2)
        return np.asarray(current @ np.swapaxes(between, 1, 2)), np.asarray(current)


def sheet_windings(sheet: Sheet, air: npt.NDArray[np.inexact], flux: npt.NDArray[np.inexact],
                   numerics: EddyNumerics = SHIPPED) -> SheetWindings:
    """Choose patterns.

    Parameters
    ----------
    sheet : Sheet
    air : array (coils, unknowns)
        Φ of the coils alone, Wb per ampere.
    flux : array (coils, unknowns)
        Φ of the coils with the bodies, static will do: what the patterns are made of.
    numerics : EddyNumerics
    """
    tau, v = sheet.modes
    answers = sheet.currents(numerics.middle * np.array(numerics.spread), np.concatenate([flux, air]))
    stack = answers.reshape(-1, tau.size)
    # in the modes' coordinates R is the identity, so that a pattern weighs by its loss
    basis = np.linalg.lstsq(v, np.concatenate([stack.real, stack.imag]).T, rcond=None)[0]
    norm = np.linalg.norm(basis, axis=0)
    basis = basis / np.where(norm > 0, norm, 1.0)  # a plate along the coil's field has no currents
    u, size, _ = np.linalg.svd(basis, full_matrices=False)
    kept = min(numerics.patterns * air.shape[0], max(1, int(np.sum(size > 1e-8 * size[0]))))
    shapes = u[:, :kept]
    s = v @ shapes
    return SheetWindings(patterns=s, resistance=np.eye(kept), inductance=(shapes.T * tau) @ shapes, linked=air @ s)
