r"""A string of metal with memory: put in place, shaken, and swung: λ round the loop, and what is heard of it.

The field is raised in steps with the string where it rests; then it swings with an amplitude that dies away, as it
does when it is played, down first and each time less far than to the other side before; then it moves as
z = z₀ + A sin θ, and from the second time round on the loop is the same::

    c_n = (2/N) Σ λ e^{−inθ}        S e^{−iφ} = ± i c_1/A        H_n = n |c_n|/|c_1|

S is what the voltage's first harmonic is per velocity, and λ lags by φ. S lies between the reversible slope, for the
smallest swings, and the static one for large ones. H2 and H3 are those of the voltage. What the metal turns into
heat, μ₀ ∮ h dm over its volume, is taken from the string's energy.

References
----------
Derived here.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError
from stringflux.geometry.shapes.row import StringShape
from stringflux.solver.constants import MU0
from stringflux.solver.seam import StringField

from .held import HeldLayer, Inside, held_layers
from .magnetisation import Layer
from .march import March
from .model import StringModel
from .numerics import SHIPPED, StringNumerics
from .pull import force
from .room import ABOVE, SHAKEN, room_below, sideways_model, swing_model
from .travel import Been, Stop, travel
from .way import Way

AMPLITUDE = 0.1e-3
"""The swing that S is told of, m, where there is room for it: that of a light pluck, over the pickup."""


_TOGETHER = 8
"""Strings whose numbers of nodes come to the same multiple of it go side by side, each as it goes alone."""


@dataclass(frozen=True, kw_only=True)
class Steps:
    """How finely a string goes its way.

    Over all strings of the shipped rows halving all of them changes S of a swing of 0.1 mm by less than 0.03 %, twice
    as many shares in the metal (:attr:`.StringMemory.cells`) by less than 0.06 %, both on and on by less than 0.07 %.
    Between turning points nothing needs to stand: what is dragged goes as far in one step. But each is to lie as far
    from the one before as from the next. Shaken to both sides alike S would be 0.1 to 0.4 % larger, for all that is
    held would be left on one side.

    Attributes
    ----------
    raised : int
        Steps in which the field is raised.
    swings : int
        How often it turns while it is shaken, at (1 − k/swings)² of the reach, k = 0, 1, …
    half : int
        Steps from one turn to the next.
    first, round : int
        Places of the first time round, and of the one that counts.
    settled : float
        Of :class:`.march.March`.
    """

    raised: int = 1
    swings: int = 9
    half: int = 1
    first: int = 2
    round: int = 8
    settled: float = 1e-2

    @property
    def halved(self) -> Steps:
        """Twice as fine."""
        return Steps(raised=2 * self.raised, swings=2 * self.swings, half=2 * self.half, first=2 * self.first,
                     round=2 * self.round, settled=self.settled / 2)


COARSE = Steps(swings=5, round=6)
"""For what is a doubt anyway: S is within 0.2 %."""


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
    """A string over a solved pickup, its metal with memory, in place and shaken if it has been played.

    Parameters
    ----------
    field : StringField
    shape : StringShape
    layers : tuple of Layer
        What they do on the static curve stands for their part across, in the answer of the bodies below.
    sideways : bool
        The swings to come go across the strings.
    lower, higher : float
        How much lower or higher it may be put in place as well, m.
    steps : Steps
    numerics : StringNumerics
    model : StringModel, optional
        For swings up and down, what :func:`.room.swing_model` gives, if it is there.
    begin : array, optional
        As of :meth:`.StringSetting.static`, if the string has been at rest.

    Raises
    ------
    SolveError
        Where the metal's state does not settle.
    """

    def __init__(self, field: StringField, shape: StringShape, layers: tuple[Layer, ...], *, sideways: bool = False,
                 lower: float = 0.0, higher: float = ABOVE, steps: Steps | None = None,
                 numerics: StringNumerics = SHIPPED, model: StringModel | None = None,
                 begin: Array | None = None) -> None:
        self.steps, self.sideways, self._rest = steps or Steps(), sideways, 0.0
        self._face = field.places[field.nearest(shape.y)].face
        if sideways:
            self.reach = down = up = SHAKEN
            self.model = sideways_model(field, shape, layers, numerics)
        else:
            self.reach = room_below(shape, self._face)
            down, up = lower + room_below(shape, self._face, -lower), SHAKEN + higher
            self.model = model or swing_model(field, shape, layers, numerics, lower=lower, higher=higher)
        self.begin = begin
        self.way = Way(self.model, -down, up, sideways=sideways, begin=begin)
        self._length = self.model.grid.weight[1:-1]
        self._unused = -self._length.size % _TOGETHER
        self._above: SwungString | None = None
        self._begin(held_layers(layers))

    def of(self, layers: tuple[Layer, ...], steps: Steps | None = None) -> SwungString:
        """The same string of other metal, whose part across is answered to as the first one's was."""
        return self._other(held_layers(layers), 0.0, steps)

    def above(self) -> SwungString:
        """The same string put in place :data:`ABOVE` higher, and shaken as far as this one."""
        if self._above is None:
            self._above = self._other(self.layers, self._rest + ABOVE, None)
        return self._above

    def at(self, moved: float) -> SwungString:
        """The same string put in place `moved` m from where it is, and shaken as far as there is room."""
        return self._other(self.layers, self._rest + moved, None, room_below(self.model.shape, self._face, moved))

    def _other(self, held: tuple[HeldLayer, ...], rest: float, steps: Steps | None,
               reach: float | None = None) -> SwungString:
        other = copy(self)
        other.steps, other._rest = steps or self.steps, rest
        other.reach = self.reach if reach is None else reach
        other._begin(held)
        return other

    def _begin(self, held: tuple[HeldLayer, ...]) -> None:
        self.layers = held
        self._light: SwingLoop | None = None
        self._in_place: March | None = None
        self._above = None

    @property
    def _march(self) -> March:
        """In place and shaken."""
        if self._in_place is None:
            march = March(self.layers, self.lengths, self.steps.settled)
            self._in_place = travel(march, [self._stops_to_its_place()])[0][-1][0]
        return self._in_place

    @property
    def lengths(self) -> Array:
        """What each node on the way stands for, m; :data:`_TOGETHER` times as many as are needed, the last of them
        nothing."""
        return np.pad(self._length, (0, self._unused))

    def light_trip(self) -> tuple[list[Stop], list[Stop]]:
        """The stops to its place, and those of a light swing there."""
        return self._stops_to_its_place(), self._stops_round(self._lightly)

    def has_been(self, to: Been, round_: list[Been]) -> None:
        """It has come to its place, and has swung lightly."""
        there, i = to
        self._in_place = there.only(i, self.layers)
        self._light = self._loop(self._lightly, self._round(self._lightly, round_))

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
        return self._loop(amplitude, self._round(amplitude))

    def _loop(self, amplitude: float, way: Course) -> SwingLoop:
        linkage, heat = way.linkage, way.heat
        angle, moved = self._once_round(amplitude)
        s = _harmonics(linkage, amplitude)
        n = np.abs(s) / np.abs(s[1])
        lag = -np.angle(s[1] if s[1].real > 0 else -s[1])
        return SwingLoop(amplitude=amplitude, sideways=self.sideways, angle=angle, moved=moved, linkage=linkage,
                         sensitivity=float(abs(s[1])), lag=float(lag), second=float(2 * n[2]), third=float(3 * n[3]),
                         heat=heat)

    def light(self) -> SwingLoop:
        """The loop that S is told of: of :data:`AMPLITUDE`, or as far as there is room."""
        if self._light is None:
            self._light = self.loop(self._lightly)
        return self._light

    @property
    def swung(self) -> bool:
        """Whether :meth:`light` is there."""
        return self._light is not None

    @property
    def _lightly(self) -> float:
        return min(AMPLITUDE, self.reach)

    def along(self, moved: Array) -> Array:
        """λ (n,), Wb, on the way by places (n,) m from rest, from where it was put; they may be within ± `reach`."""
        return self.course(moved).linkage

    def course(self, moved: Array) -> Course:
        """What happens on the way by places (n,) m from rest, as of :meth:`along`."""
        return self._course(moved, travel(self._march, [self._stops(moved)])[0])

    def pulled(self) -> tuple[Array, float]:
        """What pulls a string in a light swing: the mean force (2,), across and up, N, and −∂F/∂z (sideways −∂F/∂y),
        N/m, by its first harmonic."""
        amplitude = self._lightly
        way, moved = self._round(amplitude), self._once_round(amplitude)[1]
        shape = self.model.shape
        y, z = np.full(moved.size, shape.y), np.full(moved.size, shape.axis_height + self._rest)
        y, z = (y + moved, z) if self.sideways else (y, z + moved)
        pulled = force(self.model, y, z, way.moment, way.moment_across)
        stiffness = -float(np.real(_harmonics(pulled[0 if self.sideways else 1], amplitude)[1]))
        return np.mean(pulled, axis=1), stiffness

    def _shaking(self) -> Array:
        n, half = self.steps.swings, self.steps.half
        turns = -self.reach * (1 - np.arange(n) / n) ** 2 * (-1.0) ** np.arange(n)
        return np.asarray(np.interp(np.arange(1, half * n + 1) / half, np.arange(n + 1), np.pad(turns, (1, 0))))

    def _once_round(self, amplitude: float) -> tuple[Array, Array]:
        """Angles and places (n,) of the time round that counts."""
        angle = 2 * np.pi * np.arange(1, self.steps.round + 1) / self.steps.round
        return angle, amplitude * np.sin(angle)

    def _stops(self, moved: Array) -> list[Stop]:
        """At places (n,), m from where it was put."""
        stand, more = self.way.stand(self._rest + moved), (0, self._unused)
        return list(zip(np.pad(stand.outside, ((0, 0), more)), np.pad(stand.across, ((0, 0), more)),
                        np.pad(stand.kernel, ((0, 0), more, more)), strict=True))

    def _stops_to_its_place(self) -> list[Stop]:
        """The field raised, and shaken if it has been played."""
        ((outside, across, kernel),) = self._stops(np.zeros(1))
        parts = np.arange(1, self.steps.raised + 1) / self.steps.raised
        shaken = self._stops(self._shaking()) if self.model.shape.state == "played" else []
        return [*((part * outside, part * across, kernel) for part in parts), *shaken]

    def _stops_round(self, amplitude: float) -> list[Stop]:
        """Of the first time round, and of the one that counts."""
        # with both ends among the places, for a string that was not shaken
        first = amplitude * np.cos(2 * np.pi * np.arange(self.steps.first) / self.steps.first)
        return self._stops(np.concatenate([first, self._once_round(amplitude)[1]]))

    def _round(self, amplitude: float, been: list[Been] | None = None) -> Course:
        """What happens in the time round that counts; `been`: where that is already gone."""
        been = been or travel(self._march, [self._stops_round(amplitude)])[0]
        return self._course(self._once_round(amplitude)[1], been[-self.steps.round:])

    def _course(self, moved: Array, been: list[Been]) -> Course:
        """What happens from place to place (n,)."""
        n = self._length.size
        total = np.tensordot([layer.area for layer in self.layers],
                             np.stack([march.along[:, i, :n] for march, i in been], axis=1), 1)
        heard = self.way.listening(self._rest + moved)
        charge = -np.diff(np.pad(total, ((0, 0), (1, 1))))
        across = heard.left - np.einsum("bcns,bs->bcn", heard.answered, charge)
        modulus = np.hypot(across[:, 0], across[:, 1])
        factor, heat = np.zeros_like(modulus), 0.0
        for k, layer in enumerate(self.layers):
            state = np.stack([march.past[k].state[:, i, :n] for march, i in been], axis=1)
            h = np.stack([march.past[k].inside.h[i, :n] for march, i in been])
            a = np.stack([march.past[k].inside.a[i, :n] for march, i in been])
            factor += layer.area * _across(layer, state, h, a, modulus)
            m = np.stack([march.past[k].m[i, :n] for march, i in been])
            done = np.sum((h + np.roll(h, 1, axis=0)) / 2 * (m - np.roll(m, 1, axis=0)), axis=0)
            heat += MU0 * float(layer.area * (self._length @ done))
        g = self.model.grid
        moment_across = factor[:, None] * across
        linkage = np.einsum("n,bcn,bcn->b", g.weight, moment_across, heard.across)
        linkage = linkage + np.einsum("n,bn,bn->b", self._length, total, heard.along)
        return Course(linkage=linkage, heat=heat, moment=total, moment_across=moment_across)


@dataclass(frozen=True, kw_only=True, eq=False)
class Course:
    """What a string meets on its way, place by place.

    Attributes
    ----------
    linkage : array (b,)
        λ, Wb.
    heat : float
        Of going round the places, J.
    moment : array (b, n)
        Per length along the string, at the inner nodes of its grid, A·m.
    moment_across : array (b, 2, n + 2)
        Across it, at all nodes, A·m.
    """

    linkage: Array
    heat: float
    moment: Array
    moment_across: Array


def _across(layer: HeldLayer, state: Array, h: Array, a: Array, across: Array) -> Array:
    """Moment per metal area across the string over the field across, (b, n + 2); M along vanishes at both ends."""
    ends = ((0, 0), (1, 1))
    inside = Inside(h=np.pad(h, ends), across=np.zeros_like(across), a=np.pad(a, ends, mode="edge"))
    state = np.pad(state, ((0, 0), *ends))
    chi = layer.response(state, layer.response(state, inside, across).inside, across).chi
    return np.asarray(chi / (1 + chi / 2))


def first_harmonic(linkage: Array, amplitude: float) -> complex:
    """S e^{−iφ}, V·s/m, of λ (n,) at places A sin θ, θ = 2π/n … 2π; negative where λ falls with z."""
    return complex(_harmonics(linkage, amplitude)[1])


def _harmonics(linkage: Array, amplitude: float) -> npt.NDArray[np.complex128]:
    """i c_n/A of n = 0 … 3."""
    return np.asarray(2j * np.fft.fft(np.roll(linkage, 1))[:4] / (linkage.size * amplitude))
