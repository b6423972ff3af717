r"""One string of a case from its place over the row to its voltage: map, aperture, pull, modes and signal together.

A pickup may have several coils. The string's magnetisation does not depend on them, so its linkage is one for each,
λ_i, with an aperture of its own, w_i. In an open circuit, and with what lies behind it, ::

    e = Σ c_i e_i,   e_i = −dλ_i/dt        V(f) = Σ H_i(f) E_i(f)

c_i is the coil's share at low frequencies (:mod:`.coil.shares`). Two rows are then heard each at its own place: the
comb of both, in phase or out of phase, is in the sum.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from stringflux.geometry.arrays import Array, ComplexArray
from stringflux.geometry.errors import CaseError
from stringflux.geometry.shapes.row import StringShape
from stringflux.solver.seam import StringField

from ..string.aperture import aperture
from ..string.heard import heard_pull
from ..string.held import remembers
from ..string.linkage import linkage_map, rest_model
from ..string.loop import SwungString
from ..string.magnetisation import Layer
from ..string.numerics import SHIPPED, StringNumerics
from .memory import NONE, SwingMemory, swing_memory
from .modes import FreeVibration, Pluck, VibratingString, plucked
from .signal import RATE, SECONDS, Response, StringSignal, distortion, moved_signal, string_signal, through
from .sine import Sine
from .surface import Surface, surface

EXCURSIONS = np.geomspace(0.05e-3, 2e-3, 25)
"""Swings up and down for which H2 and H3 are given, m."""
SWING = 1e-3
"""Swing of a string for which one number is told, of its distortion or as what a hum is compared with, m."""
_NOTHING = 1e-12  # of H1: less is rounding, and 0 has no logarithm


ONE_SIDED = 0.3
"""Of ∫ |w| dx that ∫ w dx has to be: what is left of a smaller one is no mean of the string's shape."""


@dataclass(frozen=True, kw_only=True, eq=False)
class SensedCoil:
    """A string as one coil hears it.

    Attributes
    ----------
    share : float
        c: of its voltage in that at the terminals, at low frequencies.
    surface : Surface
        λ over displacements from rest.
    means : array (n,)
        φ̄_n: the modes' means over its aperture.
    middle : float
        x of the middle of its aperture, m.
    reversible : float
        ∂λ/∂z for small motions on the steel's reversible slope, or ∂λ/∂y if `sideways`, V·s/m.
    light : float
        Slopes of a light swing over those of the curve.
    sideways : bool
        Whether this coil hears motion across louder than up and down.
    """

    share: float
    surface: Surface
    means: Array
    reversible: float
    middle: float = 0.0
    light: float = 1.0
    sideways: bool = False

    def slopes(self) -> tuple[float, float]:
        """∂λ/∂y and ∂λ/∂z at rest of a light swing, V·s/m."""
        by_y, by_z = self.surface.slopes(np.zeros(1), np.zeros(1))
        return self.light * float(by_y[0]), self.light * float(by_z[0])

    def slope(self, direction: tuple[float, float] = (0.0, 1.0)) -> float:
        """∂λ along a direction (y, z) at rest, V·s/m."""
        return float(np.dot(self.slopes(), direction))

    @property
    def main_slope(self) -> float:
        """∂λ along the direction that is heard louder at rest, V·s/m."""
        return self.slopes()[0 if self.sideways else 1]


@dataclass(frozen=True, kw_only=True, eq=False)
class SensedString:
    """What the row makes of a string, however it is plucked.

    Attributes
    ----------
    string : VibratingString
    bridge_distance : float
        From x = 0, a single row's place, to the bridge, m.
    coils : tuple of SensedCoil
        The string over each coil.
    point : array (n,)
        φ_n of the modes over x = 0.
    springs : (float, float)
        k_y and k_z of the magnets' pull, N/m.
    memory : SwingMemory
        Of its metal, as the coil that counts most hears it.
    """

    string: VibratingString
    bridge_distance: float
    coils: tuple[SensedCoil, ...]
    point: Array
    springs: tuple[float, float]
    memory: SwingMemory = NONE

    @property
    def shares(self) -> Array:
        """c (coils,)."""
        return np.array([c.share for c in self.coils])

    @property
    def surface(self) -> Surface:
        """λ of all coils together, for a string moved as a whole."""
        first = self.coils[0].surface
        return replace(first, coefficients=np.sum([c.share * c.surface.coefficients for c in self.coils], axis=0))

    @property
    def means(self) -> Array:
        """The modes' means (n,) over the apertures of all coils, each as much as it counts."""
        return np.asarray(self._counts @ np.array([c.means for c in self.coils]))

    @property
    def cancels(self) -> bool:
        """Whether the coils take most of each other's voltage away when the string moves as a whole."""
        parts = self.shares * self._slopes
        return bool(abs(np.sum(parts)) < ONE_SIDED * np.sum(np.abs(parts)))

    @property
    def reversible_level(self) -> float:
        """∂λ on the reversible slope against a light swing, dB; of several coils as if all added."""
        return float(20 * np.log10(np.abs(self.shares) @ np.abs([c.reversible for c in self.coils])
                                   / (np.abs(self.shares) @ np.abs(self._slopes))))

    @property
    def curve_level(self) -> float:
        """∂λ of a steel without memory, on its curve, against a light swing, dB."""
        return float(-20 * np.log10(self.memory.light))

    @property
    def _slopes(self) -> Array:
        return np.array([c.main_slope for c in self.coils])

    @property
    def _counts(self) -> Array:
        parts = np.abs(self.shares * self._slopes)
        return np.asarray(parts / np.sum(parts))

    def play(self, pluck: Pluck | Sine, *, ways: Sequence[Response] = (), responses: Sequence[Response] = (),
             seconds: float = SECONDS, name: str = "the string") -> StringSignal:
        """The voltage after a pluck, or of a sine.

        Parameters
        ----------
        ways : sequence of Response
            What the voltage of each coil goes through, in place of its share.
        responses : sequence of Response
            What the sum goes through.

        Raises
        ------
        CaseError
            When the string swings out of the map.
        """
        motion: FreeVibration | Sine
        if isinstance(pluck, Sine):
            motion = pluck
        else:
            motion = self.damped(plucked(self.string, pluck, springs=self.springs, spring_at=self.bridge_distance))
        signal = self.emf(motion, ways=ways, seconds=seconds, name=name)
        return replace(signal, voltage=through(signal.voltage, signal.rate, *responses))

    def damped(self, vibration: FreeVibration) -> FreeVibration:
        """The vibration with what the memory of the metal takes from it."""
        a, f = vibration.amplitude, (vibration.frequency_y + vibration.frequency_z) / 2
        energy = 0.25 * self.string.unit_mass * self.string.length * (2 * np.pi * f * a) ** 2
        return replace(vibration, rate=vibration.rate + self.memory.rates(energy, a * self.point, f))

    def emf(self, vibration: FreeVibration | Sine, *, ways: Sequence[Response] = (), seconds: float = SECONDS,
            name: str = "the string") -> StringSignal:
        """The voltage of all coils together for a vibration; arguments as in :meth:`play`."""
        if isinstance(vibration, Sine):
            motion = vibration.motion(self.string.pitch, round(seconds * RATE), RATE)
            heard = [moved_signal(c.surface, motion, name=name, memory=self.memory) for c in self.coils]
        else:
            heard = [string_signal(c.surface, vibration, c.means, seconds=seconds, name=name,
                                   memory=self.memory) for c in self.coils]
        each = [through(s.voltage, s.rate, way) for s, way in zip(heard, ways, strict=True)] if ways else [
            c.share * s.voltage for c, s in zip(self.coils, heard, strict=True)]
        across, up = (self._counts @ np.array([getattr(s, what) for s in heard]) for what in ("across", "up"))
        linkage = self.shares @ np.array([s.linkage for s in heard])
        return replace(heard[0], voltage=np.sum(each, axis=0), across=across, up=up, linkage=linkage)

    def partials(self, vibration: FreeVibration, frequency: Array, ways: Sequence[Response]) -> ComplexArray:
        """Σ H_i (S_i·d) φ̄_n,i of the modes (n,) at their frequencies (n,), V·s/m, complex: for small motions."""
        return np.asarray(np.sum([way(frequency) * c.slope(vibration.direction) * c.means
                                  for c, way in zip(self.coils, ways, strict=True)], axis=0))

    def distortion(self) -> tuple[Array, Array]:
        """Swings (k,) that the map holds, m, and H2 and H3 (2, k) as parts of H1, of a string moved as a whole.

        No swings where the coils cancel, or hear sideways motion louder: H1 is then next to nothing.
        """
        whole = self.surface
        reach = 0.0 if self.cancels or any(c.sideways for c in self.coils) else min(-whole.z[0], whole.z[1])
        swings = EXCURSIONS[reach * (1 + 1e-9) >= EXCURSIONS]
        return swings, distortion(whole, swings, self.memory)

    def harmonics(self) -> tuple[float, float]:
        """H2 and H3 at :data:`SWING` as parts of H1; nan where the map does not reach so far."""
        swings, H = self.distortion()
        if swings.size == 0 or swings[-1] < SWING:
            return np.nan, np.nan
        h2, h3 = (float(np.exp(np.interp(np.log(SWING), np.log(swings), np.log(np.maximum(h, _NOTHING))))) for h in H)
        return h2, h3


@dataclass(frozen=True, kw_only=True, eq=False)
class PlayedString:
    """A string, its number from 1, and its signal."""

    number: int
    string: SensedString
    signal: StringSignal


@dataclass(frozen=True, kw_only=True, eq=False)
class HeardCoil:
    """One of several coils, before a string is set over it.

    Attributes
    ----------
    name : str
    share : float
        In the voltage, c of the head.
    field : StringField
        B₀, and b of this coil alone.
    """

    name: str = ""
    share: float = 1.0
    field: StringField


def sensed_string(field: StringField, shape: StringShape, layers: tuple[Layer, ...], string: VibratingString,
                  bridge_distance: float, *, coils: Sequence[HeardCoil] = (),
                  numerics: StringNumerics = SHIPPED) -> SensedString:
    """Set a string over a solved row or build.

    Parameters
    ----------
    field : StringField
    string : VibratingString
    bridge_distance : float
        From x = 0 to the bridge, m. The bridge lies at positive x.
    coils : sequence of HeardCoil
        Without any `field` is that of one coil.
    numerics : StringNumerics

    Raises
    ------
    CaseError
        Where the parts of one coil's field cancel each other over the string.
    """
    heard = []
    listening = tuple(coils) or (HeardCoil(field=field),)
    count = len(string.frequencies())
    for coil in listening:
        model = rest_model(coil.field, shape, layers, numerics)
        w = aperture(model)
        if w.one_sided < ONE_SIDED:
            raise CaseError(_AGAINST.format(f" {coil.name}" if coil.name else ""))
        table = linkage_map(coil.field, model)
        over = surface(table.y - shape.y, table.z - shape.axis_height, table.linkage)
        heard.append(SensedCoil(share=coil.share, surface=over, reversible=w.slope_y if w.sideways else w.slope_z,
                                sideways=w.sideways, middle=float(w.mean(lambda x: x)),
                                means=w.mean(lambda x: string.shapes(bridge_distance - x, count))))
    memory, swung = NONE, None
    if remembers(shape, layers):
        most = int(np.argmax([abs(c.share * c.main_slope) for c in heard]))
        swung = SwungString(listening[most].field, shape, layers, sideways=heard[most].sideways, numerics=numerics)
        memory = swing_memory(swung, heard[most].surface)
    pull = heard_pull(listening[0].field, shape, layers, numerics, swung)
    return SensedString(
        string=string, bridge_distance=bridge_distance, coils=tuple(replace(c, light=memory.light) for c in heard),
        point=string.shapes(np.array([bridge_distance]), count)[:, 0], springs=(pull.stiffness_y, pull.stiffness_z),
        memory=memory,
    )


_AGAINST = ("coil{}: one part of the string takes away what it hears of another, and a signal made of what is left "
            "is not computed; move it nearer to the poles that magnetise the string")
