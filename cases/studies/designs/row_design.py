"""One design that is a row of poles: a case whose parts are computed when a figure asks for them, stage by stage.

All stages are computed for a coil of one turn and scaled afterwards (λ ∝ N, L ∝ N²), so that turns cost nothing.
A worker that finds the stage "row" kept never sees a mesh: the fields over the row are all that strings need.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Protocol

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.shapes.profiles import volume
from stringflux.geometry.shapes.row import StringShape
from stringflux.postprocess.coil.circuit import coil_circuit
from stringflux.postprocess.coil.controls import LoadedCoil, Response, network
from stringflux.postprocess.coil.hum import HumArea, hum_area
from stringflux.postprocess.coil.winding import Winding, winding
from stringflux.postprocess.plucked.modes import Damping, Pluck
from stringflux.postprocess.plucked.sensed import SensedString, sensed_string
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.linkage import rest_model, rest_slopes
from stringflux.postprocess.string.model import StringModel
from stringflux.postprocess.string.pull import Pull, Vibration, detuning, pull_of
from stringflux.solver.materials import Materials
from stringflux.solver.row.field import RowField
from stringflux.solver.row.impedance import RowImpedance, band_impedance
from stringflux.solver.row.solve import SolvedRow
from stringflux.solver.stages import Keep

from ...jobs.plucked import bridge_distance, vibrating_string
from ...kept.digest import digest
from ...solved.materials import case_materials
from ...solved.solve_row import row_inputs, solve_inputs

EQUAL_PLUCK = Pluck(displacement=1e-3)
"""What `stringflux signal` plucks all strings with when it is told nothing."""


@dataclass(frozen=True, kw_only=True, eq=False)
class RowFigures:
    """What is left of a solved row of one turn when its meshes are gone.

    Attributes
    ----------
    field : RowField
    inductance : float
        H.
    hum : HumArea
    """

    field: RowField
    inductance: float
    hum: HumArea


@dataclass(frozen=True, kw_only=True)
class Rest:
    """λ of a string at rest and its first two derivatives up: Wb, V·s/m, V·s/m² per turn; 0 of a string not heard."""

    linkage: float
    slope: float
    curvature: float


class Designed(Protocol):
    """What the figures of a design are made of, whichever solver they come from; SI, each computed when asked for."""

    @property
    def turns(self) -> float: ...
    def rests(self) -> list[Rest]: ...
    def pulls(self) -> list[tuple[float, float]]: ...
    def outputs(self) -> list[float]: ...
    def faces(self) -> Array: ...
    def hum(self) -> HumArea: ...
    def loaded(self) -> Response: ...
    def inductance(self) -> float: ...
    def resistance(self) -> float: ...
    def capacitance(self) -> float: ...
    def magnets(self) -> float: ...


class Design:
    """A case of one row of poles and its kept stages.

    Parameters
    ----------
    case : Case
    quality : str
    keep : Keep
        Asked for every stage before it is computed.
    """

    def __init__(self, case: Case, quality: str, keep: Keep) -> None:
        self.case, self.quality, self.keep = case, quality, keep

    @cached_property
    def turns(self) -> float:
        """Negative for a coil wound clockwise."""
        coil = self.case.racetrack()
        return coil.turns * coil.sense

    @cached_property
    def materials(self) -> Materials:
        return case_materials(self.case)

    @cached_property
    def row(self) -> RowFigures:
        def make() -> RowFigures:
            row = self._solved
            return RowFigures(field=row.field, inductance=row.inductance, hum=hum_area(row))

        return self.keep("row", self._inputs, make)

    def rests(self) -> list[Rest]:
        """Every string at rest."""
        return [self._of_string("rest", i, rest_of) for i in range(len(self.case.string))]

    def pulls(self) -> list[tuple[float, float]]:
        """Cents across and up of every string."""
        return shifts(self.case, lambda i: self._of_string("pull", i, pull_of))

    def outputs(self) -> list[float]:
        """Rms voltage of every string plucked alike, open coil, V."""
        return [abs(self.turns) * self._rms(i) if self.case.is_magnetised else 0.0
                for i in range(len(self.case.string))]

    def faces(self) -> Array:
        """Field over every pole's face at the probe height, T."""
        height = self.case.probe_height
        return self.keep("faces", (self._row_digest, height), lambda: self._solved.face_field(height))

    def hum(self) -> HumArea:
        """The area for uniform fields."""
        one = self.row.hum
        return HumArea(turns=self.turns * one.turns, poles=self.turns * one.poles)

    @cached_property
    def winding(self) -> Winding:
        return winding(self.case)

    def loaded(self) -> Response:
        """The coil with its controls, cable and amplifier, eddy currents of the poles included."""
        found = self.keep("eddies", self._row_digest, self._eddies)
        circuit = coil_circuit(frequency=found.frequency, inductance=self.turns**2 * found.inductance,
                               resistance=self.winding.resistance, capacitance=self.winding.capacitance)
        return LoadedCoil(coil=circuit, network=network(self.case.load)).response()

    def inductance(self) -> float:
        """Of the coil with its poles, H."""
        return self.turns**2 * abs(self.row.inductance)

    def resistance(self) -> float:
        """Of the winding, Ω."""
        return self.winding.resistance

    def capacitance(self) -> float:
        """Of the winding, F."""
        return self.winding.capacitance

    def magnets(self) -> float:
        """Volume of all magnets, m³."""
        parts = [part for place in self.case.placed_poles() for part in place.shape.parts if part.polarity]
        return sum(volume(part.outline) for part in parts)

    def _eddies(self) -> RowImpedance:
        return band_impedance(self._solved, dict(self._inputs.materials))

    @cached_property
    def _inputs(self) -> Any:
        return row_inputs(self.case, self.quality, self.materials)

    @cached_property
    def _row_digest(self) -> str:
        return digest(self._inputs)

    @cached_property
    def _solved(self) -> SolvedRow:
        return solve_inputs(self._inputs, keep=self.keep)

    @cached_property
    def _strings(self) -> tuple[StringShape, ...]:
        return self.case.string_shapes()

    def _of_string(self, kind: str, i: int, compute: Callable[[StringModel], Any]) -> Any:
        """A stage of string i: it depends on the row's fields, the string at its place, and its metals."""
        shape = self._strings[i]
        return self.keep(kind, self._string_key(i), lambda: compute(
            rest_model(self.row.field, shape, layers_of(shape, self.materials))))

    def _string_key(self, i: int) -> tuple[Any, ...]:
        shape = self._strings[i]
        metals = [self.materials[name] for name in (shape.steel, shape.wrap) if name]
        return self._row_digest, shape, metals

    def _rms(self, i: int) -> float:
        shape, string = self._strings[i], vibrating_string(self.case, i, self._strings[i], self.materials, Damping())
        distance = bridge_distance(self.case)

        def sense() -> SensedString:
            return sensed_string(self.row.field, shape, layers_of(shape, self.materials), string, distance)

        def play() -> float:
            return sense().play(EQUAL_PLUCK, name=f"string {i + 1}").rms

        return self.keep("rms", (*self._string_key(i), string, distance, i), play)


def shifts(case: Case, pull: Callable[[int], Pull]) -> list[tuple[float, float]]:
    """Cents across and up of every string, from the pull on it."""
    distance = bridge_distance(case)
    out = []
    for i, (f, m, length) in enumerate(zip(case.frequencies(), case.unit_masses(), case.scales(), strict=True)):
        shift = detuning(pull(i), Vibration(frequency=f, unit_mass=m, length=length, bridge_distance=distance))
        out.append((shift.cents_y, shift.cents_z))
    return out


def rest_of(model: StringModel) -> Rest:
    """λ at rest and its slopes; no slopes of a string that the coil does not hear."""
    found = rest_slopes(model)
    slope, curvature = (found.z, found.zz) if found.heard else (0.0, 0.0)
    return Rest(linkage=found.linkage, slope=slope, curvature=curvature)
