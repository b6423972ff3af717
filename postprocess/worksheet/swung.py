"""What a sheet is made of: a coil, and a string that is driven up and down over its pole."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array

STEPS = 6
"""From the lowest place to the highest, each a twelfth of a period."""


@dataclass(frozen=True, kw_only=True, eq=False)
class SheetFigures:
    """Everything that was computed for a sheet, SI. Signs as of :class:`..demonstrations.swing.DrivenString`.

    Attributes
    ----------
    title, pitch : str
        Of the case; of the string in words.
    number : int
        Of the string, from 1.
    turns : float
    resistance : float
        Of the winding as computed, 20 °C.
    bare : float
        Diameter of the copper.
    resistivity : float
        Of copper, 20 °C.
    mean_turn : float
        Length of a mean turn.
    sense : int
        +1: counter-clockwise from start to end, seen from the strings.
    gap, frequency, amplitude : float
    magnet_flux : float or None
        Through one turn; None where it is not computed, or the poles' fluxes cancel.
    place, per_turn : arrays (STEPS + 1,)
        From the lowest place to the highest: z, and the string's flux through one turn.
    at_rest : float
        e as the string passes its rest on the way up.
    rms : float
        Of e.
    """

    title: str
    pitch: str
    number: int
    turns: float
    resistance: float
    bare: float
    resistivity: float
    mean_turn: float
    sense: int
    gap: float
    frequency: float
    amplitude: float
    magnet_flux: float | None
    place: Array
    per_turn: Array
    at_rest: float
    rms: float

    @property
    def change(self) -> Array:
        """Flux through one turn less that at rest (STEPS + 1,), Wb."""
        return np.asarray(self.per_turn - self.per_turn[STEPS // 2])

    @property
    def time(self) -> Array:
        """From the lowest place on (STEPS + 1,), s."""
        return np.arange(STEPS + 1) / (2 * STEPS * self.frequency)
