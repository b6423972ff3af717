"""What was found of one coil without a core, with one of steel, and with magnets: :class:`ThreeCoils`; signs as in
:mod:`.swing`."""

from __future__ import annotations

from dataclasses import dataclass

from stringflux.geometry.arrays import Array


@dataclass(frozen=True, kw_only=True, eq=False)
class OneCoil:
    """One of the three, and the string over it.

    Attributes
    ----------
    name : str
        "bare", "steel core" or "magnet".
    core : str
        What the poles are made of.
    inductance : float
        Without a string, H.
    string_inductance : float
        What the string adds, H.
    magnet_flux, string_flux : float
        Through one turn, of the magnets and of the string at rest, Wb, signed.
    sensitivity : float
        S of a light swing, V·s/m.
    per_turn, emf : arrays (n,)
        Of the moving string: flux through one turn, Wb, and e, V.
    """

    name: str
    core: str
    inductance: float
    string_inductance: float
    magnet_flux: float
    string_flux: float
    sensitivity: float
    per_turn: Array
    emf: Array


@dataclass(frozen=True, kw_only=True, eq=False)
class ThreeCoils:
    """The same coil three times.

    Attributes
    ----------
    title : str
        Of the case.
    number, strings : int
        Of the string, from 1, and how many there are.
    pitch : str
        In words.
    gap : float
        At rest, m.
    turns : float
    sense : int
        +1 counter-clockwise, seen from the strings.
    frequency, amplitude : float
        Of the sine, Hz and m.
    time, place : arrays (n,)
        s; z, m.
    bare, core, magnet : OneCoil
    inductance_air : float
        Of the bare coil in closed form, H.
    bias : float
        Field of the magnets where the string's axis is, T.
    charge, charged : arrays (k,)
        Shares of the magnets' charge, and S with them, V·s/m.
    """

    title: str
    number: int
    strings: int
    pitch: str
    gap: float
    turns: float
    sense: int
    frequency: float
    amplitude: float
    time: Array
    place: Array
    bare: OneCoil
    core: OneCoil
    magnet: OneCoil
    inductance_air: float
    bias: float
    charge: Array
    charged: Array

    @property
    def coils(self) -> tuple[OneCoil, OneCoil, OneCoil]:
        """All three."""
        return self.bare, self.core, self.magnet
