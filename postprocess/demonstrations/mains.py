r"""What was found of a coil in the field of the mains: :class:`MainsHum`.

In a field B(t) = √2 B sin ωt along the direction n that a coil of area A hears best::

    λ = A·n B(t),   Φ = λ/N,   e = −dλ/dt,   V = ω |A·n| B   (rms)

Of two coils that are alike, wound in opposite senses, the same field leaves nothing. Where it falls off with the
distance as r^−p and the coils lie d apart along that way, what is left of one coil's hum is ::

    ((r − d/2)^−p − (r + d/2)^−p) r^p          p = 1: one long wire, 2: a cord with its return, 3: a small transformer

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array

FALLS = {"one long wire": 1, "a cord, there and back": 2, "a small transformer": 3}
"""Powers of the distance with which fields fall off."""


@dataclass(frozen=True, kw_only=True, eq=False)
class MainsHum:
    """A coil, or several, in a field of the mains.

    Attributes
    ----------
    title : str
        Of the case.
    several : bool
        Whether the pair is the case's own coils; else a second coil, reverse-wound, is thought beside the one.
    coil, other : str
        Names of the loudest coil and of the one that is against it.
    connection : str
        How several coils are connected, in words.
    turns : float
        Of the loudest coil.
    sense : int
        +1 counter-clockwise, seen from the strings.
    field, frequency : float
        B, rms, T, and f, Hz.
    direction : array (3,)
        n, which looks up.
    turn_area, turns_area, poles_area : float
        Mean area of a turn; that of all turns, and what the poles add to it, both along n and signed, m².
    time : array (n,)
        Two periods, s.
    flux_density, per_turn, linkage, emf, other_emf, left_emf : arrays (n,)
        B, T; Φ and λ, Wb, of the loudest coil; e of it, of the other, and of all as they are connected, V.
    voltage, left : float
        V of the loudest coil, and of all in that field, rms, V.
    apart : float
        d, m.
    string : int
        Number of the string it is held against, from 1.
    pitch : str
        In words.
    signal : float
        Its rms voltage when it swings `swing` each way, V; 0 if it is not heard.
    swing : float
        m.
    fields, hums : arrays (k,)
        Other fields, rms, T, and V there.
    """

    title: str
    several: bool
    coil: str
    other: str
    connection: str
    turns: float
    sense: int
    field: float
    frequency: float
    direction: Array
    turn_area: float
    turns_area: float
    poles_area: float
    time: Array
    flux_density: Array
    per_turn: Array
    linkage: Array
    emf: Array
    other_emf: Array
    left_emf: Array
    voltage: float
    left: float
    apart: float
    string: int
    pitch: str
    signal: float
    swing: float
    fields: Array
    hums: Array

    @property
    def area(self) -> float:
        """|A·n|, m²."""
        return abs(self.turns_area + self.poles_area)

    @property
    def level(self) -> float:
        """What is left of the loudest coil's hum, dB; −inf for nothing."""
        return float(20 * np.log10(self.left / self.voltage)) if self.left > 1e-9 * self.voltage else -np.inf


def left_of_pair(apart: float, distance: Array | float, power: int) -> Array:
    """What is left of one coil's hum, at distances r from the middle of the pair, m.

    Examples
    --------
    >>> left_of_pair(0.02, 1.0, 1).round(3), left_of_pair(0.02, 1.0, 3).round(3)
    (np.float64(0.02), np.float64(0.06))
    """
    r, half = np.asarray(distance, dtype=float), apart / 2
    return np.asarray(((r - half) ** -power - (r + half) ** -power) * r**power)
