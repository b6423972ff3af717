"""What was found of a string that is driven up and down over its pole: :class:`DrivenString`.

Signs: z up from rest, seen from the strings the winding goes `sense` (+1 counter-clockwise), and a flux that goes
through it as a right-handed screw would is positive; e = −dλ/dt drives current the way the wire is wound, out of its
end, which is +.
"""

from __future__ import annotations

from dataclasses import dataclass

from stringflux.geometry.arrays import Array

from ..results.loop import StringLoop


@dataclass(frozen=True, kw_only=True, eq=False)
class DrivenString:
    """A string driven by a sine, or plucked, and what one coil makes of it.

    Attributes
    ----------
    title : str
        Of the case.
    number : int
        Of the string, from 1.
    pitch : str
        In words.
    gap : float
        At rest, m.
    turns : float
        Of all coils, as they add.
    sense : int
    frequency, amplitude : float
        Of the sine, Hz and m; of a pluck its pitch, and the largest place over the pole.
    plucked : bool
    time, place, linkage, emf, slope : arrays (n,)
        s; z, m; λ, Wb; e, V; and ∂λ/∂z there, V·s/m.
    wide : array (2, k)
        Once round with the amplitude of `large`: z, m, and λ, Wb.
    magnet_flux : float or None
        Of the magnets, through one turn, Wb, signed; None where it is not computed.
    loop, small, large, near, far : StringLoop
        Round once with `amplitude`; with the smallest and the largest one looked at; and with the smallest put
        `nearer` and `farther`.
    nearer, farther : float
        How far from its place, m, both positive.
    """

    title: str
    number: int
    pitch: str
    gap: float
    turns: float
    sense: int
    frequency: float
    amplitude: float
    plucked: bool
    time: Array
    place: Array
    linkage: Array
    emf: Array
    slope: Array
    wide: Array
    magnet_flux: float | None
    loop: StringLoop
    small: StringLoop
    large: StringLoop
    near: StringLoop
    far: StringLoop
    nearer: float
    farther: float

    @property
    def per_turn(self) -> Array:
        """Flux of the string through one turn (n,), Wb."""
        return self.linkage / self.turns

    @property
    def period(self) -> float:
        """s."""
        return 1 / self.frequency

    @property
    def speed(self) -> float:
        """Through the place of rest, m/s."""
        return 6.283185307179586 * self.frequency * self.amplitude
