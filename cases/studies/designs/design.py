"""One design of a study: the figures of a solved case, each computed when it is asked for, and kept.

λ, S and voltages are computed for one turn and scaled afterwards (λ ∝ N), so that turns cost nothing. A worker that
finds what is left of a solution kept never sees a mesh: the fields over the strings are all that they need.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from stringflux.geometry.kernel.solids import exact_volume
from stringflux.geometry.shapes.row import StringShape
from stringflux.postprocess.coil.controls import LoadedCoil, LoadResponse, network
from stringflux.postprocess.plucked.modes import PLUCK, Damping
from stringflux.postprocess.plucked.sensed import sensed_string
from stringflux.postprocess.string.heard import heard_pull, heard_slopes
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.linkage import Slopes
from stringflux.postprocess.string.magnetisation import Layer
from stringflux.postprocess.string.numerics import StringNumerics
from stringflux.postprocess.string.pull import Pull, detuning
from stringflux.solver.seam import StringField

from ...jobs.plucked import among_others, bridge_distance, vibrating_string, vibration_of
from ...jobs.string_records import others_key
from ...solved.abstract import SolvedCase
from ...solved.records import UnitFields


@dataclass(frozen=True, kw_only=True)
class StringAtRest:
    """λ of a string at rest and its first two derivatives up: Wb, V·s/m, V·s/m² per turn; 0 of a string not heard."""

    linkage: float
    slope: float
    curvature: float


class Design:
    """A solved case and its kept stages.

    Parameters
    ----------
    solved : SolvedCase
        Its `keep` is asked for every stage before it is computed.
    """

    def __init__(self, solved: SolvedCase) -> None:
        self.solved, self.case = solved, solved.case

    @property
    def turns(self) -> float:
        """What :meth:`rests` are multiplied with."""
        return self._unit.turns

    def rests(self) -> list[StringAtRest]:
        """Every string at rest, for one turn."""
        return [self._of_string("rest", i, self._rest, self._unit.coils) for i in range(len(self.solved.strings))]

    def pulls(self) -> list[tuple[float, float]]:
        """Cents across and up of every string; b has no part in them."""
        distance = bridge_distance(self.case)
        found = [detuning(self._of_string("pull", i, self._pull), vibration_of(string, distance))
                 for i, string in enumerate(self.solved.strings)]
        return [(shift.cents_y, shift.cents_z) for shift in found]

    def outputs(self) -> list[float]:
        """Rms voltage of every string plucked alike, open coils as they are connected, V."""
        if not self.case.is_magnetised:
            return [0.0] * len(self.solved.strings)
        return [abs(self.turns) * self._rms(i) for i in range(len(self.solved.strings))]

    def loaded(self) -> LoadResponse:
        """The coils with controls, cable and amplifier, eddy currents of poles, bodies and sheets included."""
        return LoadedCoil(coil=self.solved.circuit(), network=network(self.case.load)).response()

    def magnets(self) -> float:
        """Volume of all magnets, m³."""
        return sum(exact_volume(body.form) for body in self.case.solid_bodies() if body.polarity)

    @cached_property
    def _unit(self) -> UnitFields:
        return self.solved.unit_fields()

    def _of_string(self, kind: str, i: int, compute: Callable[[int, StringShape, tuple[Layer, ...]], Any],
                   coils: tuple[object, ...] = ()) -> Any:
        """A stage of string i; `coils` is what of b it depends on."""
        shape = self.solved.strings[i].shape
        return self.solved.keep(kind, (*self._key(i), *coils), lambda: compute(
            i, shape, layers_of(shape, self.solved.materials)))

    def _rest(self, i: int, shape: StringShape, layers: tuple[Layer, ...]) -> StringAtRest:
        return rest_of(heard_slopes(self._over(i), shape, layers, self._numerics))

    def _pull(self, i: int, shape: StringShape, layers: tuple[Layer, ...]) -> Pull:
        return heard_pull(self._over(i), shape, layers, self._numerics)

    @property
    def _numerics(self) -> StringNumerics:
        return self.solved.numerics.string

    def _key(self, i: int) -> tuple[object, ...]:
        """All that the magnets' part of string i depends on: B₀, the string at its place, metals, numerics."""
        shape = self.solved.strings[i].shape
        metals = [self.solved.materials[m] for m in (shape.steel, shape.wrap) if m]
        return *self._unit.magnets, self._numerics, shape, metals, others_key(self.solved, i + 1)

    def _over(self, i: int) -> StringField:
        return self.solved.among(self._unit.field).over(i + 1)

    def _rms(self, i: int) -> float:
        """For one turn; every coil is heard at its own place."""
        placed, materials, distance = self.solved.strings[i], self.solved.materials, bridge_distance(self.case)
        shape, string = placed.shape, vibrating_string(placed, materials, Damping())

        def play() -> float:
            sensed = sensed_string(self._over(i), shape, layers_of(shape, materials), string, distance,
                                   coils=among_others(self.solved, placed, self._unit.heard), numerics=self._numerics)
            return sensed.play(PLUCK, name=f"string {i + 1}").rms

        return self.solved.keep("rms", (*self._key(i), *self._unit.coils, string, distance, i), play)


def rest_of(found: Slopes) -> StringAtRest:
    """λ at rest and its slopes; no slopes of a string that the coil does not hear."""
    slope, curvature = (found.z, found.zz) if found.heard else (0.0, 0.0)
    return StringAtRest(linkage=found.linkage, slope=slope, curvature=curvature)
