r"""A string of metal with memory: put in place, shaken, and swung: λ round the loop, and what is heard of it.

The field is raised in steps with the string where it rests; then it swings with an amplitude that dies away, as it
does when it is played; then it moves as z = z₀ + A sin θ, and from the second time round on the loop is the same::

    c_n = (2/N) Σ λ e^{−inθ}        S e^{−iφ} = ± i c_1/A        H_n = n |c_n|/|c_1|

S is what the voltage's first harmonic is per velocity, and λ lags by φ. S lies between the reversible slope, for the
smallest swings, and the static one for large ones. H2 and H3 are those of the voltage. What the metal turns into
heat, μ₀ ∮ h dm over its volume, is taken from the string's energy.

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError
from stringflux.geometry.shapes.row import StringShape
from stringflux.solver.constants import MU0
from stringflux.solver.seam import StringField

from .held import HeldLayer, Inside
from .line_fields import Span
from .linkage import CLEARANCE
from .magnetisation import Layer
from .march import March
from .model import string_model
from .numerics import SHIPPED, StringNumerics
from .way import Way

SHAKEN = 1.2e-3
"""The swing that a string is shaken with first, m, where it has the room."""


@dataclass(frozen=True, kw_only=True)
class Steps:
    """How finely a string goes its way; halving all of them changes S by less than 0.2 %.

    Attributes
    ----------
    raised : int
        Steps in which the field is raised.
    dying : float
        Each swing of the shaking over the one before.
    least : float
        Swings below this end it, m.
    half : int
        Steps of half a swing.
    first, round : int
        Places of the first time round, and of the one that counts.
    settled : float
        Of :class:`.march.March`.
    """

    raised: int = 1
    dying: float = 0.75
    least: float = 0.05e-3
    half: int = 1
    first: int = 4
    round: int = 12
    settled: float = 1e-2

    @property
    def halved(self) -> Steps:
        """Twice as fine."""
        return Steps(raised=2 * self.raised, dying=self.dying**0.5, least=self.least / 2, half=2 * self.half,
                     first=2 * self.first, round=2 * self.round, settled=self.settled / 2)


@dataclass(frozen=True, kw_only=True, eq=False)
class SwingLoop:
    """A string's loop at one amplitude.

    Attributes
    ----------
    amplitude : float
        A, m.
    sideways : bool
        Whether it swings across the strings, not up and down.
    angle : array (n,)
        θ, rad, equal steps of one time round.
    moved : array (n,)
        A sin θ from its rest, m.
    linkage : array (n,)
        λ, Wb; positive as :class:`.linkage.Slopes` counts it.
    sensitivity : float
        S, V·s/m (V per m/s), never negative.
    lag : float
        By how much λ's first harmonic comes after the place, rad.
    second, third : float
        H2 and H3 of the voltage, parts of its first harmonic.
    heat : float
        What the metal turns into heat each time round, J.
    """

    amplitude: float
    sideways: bool
    angle: Array
    moved: Array
    linkage: Array
    sensitivity: float
    lag: float
    second: float
    third: float
    heat: float


class SwungString:
    """A string over a solved pickup, its metal with memory, in place and shaken.

    Parameters
    ----------
    field : StringField
    shape : StringShape
    layers : tuple of Layer
        Of the static curve; their answer across is that of the last pass but one.
    held : tuple of HeldLayer
        The same metal with memory.
    shaken : bool
        False: put in place and never played.
    sideways : bool
        The swings to come.
    steps : Steps
    numerics : StringNumerics
    """

    def __init__(self, field: StringField, shape: StringShape, layers: tuple[Layer, ...],
                 held: tuple[HeldLayer, ...], *, shaken: bool = True, sideways: bool = False,
                 steps: Steps | None = None, numerics: StringNumerics = SHIPPED) -> None:
        self.steps, self._sideways = steps or Steps(), sideways
        face = field.places[field.nearest(shape.y)].face
        self.reach = SHAKEN if sideways else _room(shape, face)
        room = self.reach + shape.outer_radius
        up, side = (shape.outer_radius, room) if sideways else (room, shape.outer_radius)
        span = Span(y=(shape.y - side, shape.y + side), z=(shape.axis_height - up, shape.axis_height + up))
        self.model = string_model(field, shape, layers, span, numerics)
        self.way = Way(self.model, -self.reach, self.reach, sideways=sideways)
        self.layers = held
        self._length = self.model.grid.weight[1:-1]
        self._march = March(held, self._length, self.steps.settled)
        rest = self.way.stand(np.zeros(1))
        for part in np.arange(1, self.steps.raised + 1) / self.steps.raised:
            self._march.go(part * rest.outside[0], part * rest.across[0], rest.kernel[0])
        if shaken:
            self._go(self._march, self._shaking())

    def loop(self, amplitude: float) -> SwingLoop:
        """The string swung with an amplitude, m.

        Raises
        ------
        CaseError
            Where it has not the room for it.
        SolveError
        """
        if not 0 < amplitude <= self.reach * (1 + 1e-9):
            raise CaseError(
                f"string at y = {self.model.shape.y * 1e3:.1f} mm: an amplitude of {amplitude * 1e3:.3g} mm is not "
                f"computed there; write one above 0 and up to {self.reach * 1e3:.3g} mm, or raise the string")
        march = self._march.copy()
        first = 2 * np.pi * np.arange(1, self.steps.first + 1) / self.steps.first
        self._go(march, amplitude * np.sin(first))
        angle = 2 * np.pi * np.arange(1, self.steps.round + 1) / self.steps.round
        moved = amplitude * np.sin(angle)
        linkage, heat = self._swing(march, moved)
        lines = 2 * np.fft.fft(np.roll(linkage, 1))[:4] / angle.size  # cos + i sin of n θ
        s = lines * 1j / amplitude
        n = np.abs(s) / np.abs(s[1])
        lag = -np.angle(s[1] if s[1].real > 0 else -s[1])
        return SwingLoop(amplitude=amplitude, sideways=self._sideways, angle=angle, moved=moved, linkage=linkage,
                         sensitivity=float(abs(s[1])), lag=float(lag), second=float(2 * n[2]), third=float(3 * n[3]),
                         heat=heat)

    def along(self, moved: Array) -> Array:
        """λ (n,), Wb, on the way by places (n,) m from rest, from where it was put; they may be within ± `reach`."""
        return self._swing(self._march.copy(), moved)[0]

    def _shaking(self) -> Array:
        steps = self.steps
        swings = self.reach * steps.dying ** np.arange(
            max(1, int(np.ceil(np.log(steps.least / self.reach) / np.log(steps.dying)))))
        once = np.sin(np.pi / 2 + np.pi * np.arange(2 * steps.half) / steps.half)  # from one end to the other
        return np.ravel(np.multiply.outer(swings, once))

    def _go(self, march: March, moved: Array) -> None:
        stand = self.way.stand(moved)
        for outside, across, kernel in zip(stand.outside, stand.across, stand.kernel, strict=True):
            march.go(outside, across, kernel)

    def _swing(self, march: March, moved: Array) -> tuple[Array, float]:
        """λ (n,) at places (n,), and the heat of going round them."""
        stand = self.way.stand(moved)
        pasts = []
        along = []
        for outside, across, kernel in zip(stand.outside, stand.across, stand.kernel, strict=True):
            along.append(march.go(outside, across, kernel))
            pasts.append(march.past)
        total = np.tensordot([layer.area for layer in self.layers], np.stack(along, axis=1), 1)
        heard = self.way.listening(moved)
        charge = -np.diff(np.pad(total, ((0, 0), (1, 1))))
        across = heard.left - np.einsum("bcns,bs->bcn", heard.answered, charge)
        modulus = np.hypot(across[:, 0], across[:, 1])
        factor, heat = np.zeros_like(modulus), 0.0
        for i, layer in enumerate(self.layers):
            state = np.stack([p[i].state for p in pasts], axis=1)
            h = np.stack([p[i].inside.h for p in pasts])
            a = np.stack([p[i].inside.a for p in pasts])
            factor += layer.area * _across(layer, state, h, a, modulus)
            m = np.stack([p[i].m for p in pasts])
            done = np.sum((h + np.roll(h, 1, axis=0)) / 2 * (m - np.roll(m, 1, axis=0)), axis=0)
            heat += MU0 * layer.area * float(self._length @ done)
        g = self.model.grid
        linkage = np.einsum("n,bcn,bcn->b", g.weight, factor[:, None] * across, heard.across)
        return linkage + np.einsum("n,bn,bn->b", self._length, total, heard.along), heat


def _across(layer: HeldLayer, state: Array, h: Array, a: Array, across: Array) -> Array:
    """Moment per metal area across the string over the field across, (b, n + 2); M along vanishes at both ends."""
    ends = ((0, 0), (1, 1))
    inside = Inside(h=np.pad(h, ends), across=np.zeros_like(across), a=np.pad(a, ends, mode="edge"))
    state = np.pad(state, ((0, 0), *ends))
    chi = layer.response(state, layer.response(state, inside, across).inside, across).chi
    return np.asarray(chi / (1 + chi / 2))


def _room(shape: StringShape, face: float) -> float:
    """How far a string can swing down, m."""
    low = face + CLEARANCE + shape.outer_radius
    return min(SHAKEN, max(shape.axis_height - low, 0.05e-3))
