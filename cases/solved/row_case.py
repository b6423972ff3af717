"""A case of one row of poles in one coil, by the row solver."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from stringflux.geometry.arrays import Array, ComplexArray
from stringflux.geometry.case.placed_strings import PlacedString
from stringflux.geometry.errors import InputError
from stringflux.geometry.mesh.solid import solid_mesh
from stringflux.geometry.shapes.row import Racetrack
from stringflux.geometry.units import mm
from stringflux.postprocess.coil.circuit import CoilCircuit, coil_circuit
from stringflux.postprocess.coil.hum import HumArea, hum_area
from stringflux.postprocess.pictures.plane import PlaneField
from stringflux.postprocess.pictures.pole_section import section_record
from stringflux.postprocess.pictures.row_plane import row_plane
from stringflux.postprocess.pictures.whole import WholeField, whole_row
from stringflux.postprocess.plucked.sensed import HeardCoil
from stringflux.postprocess.records.prediction import CoilRecord, PairRecord, PlaceRecord, PoleRecord
from stringflux.solver.aside import Aside, aside
from stringflux.solver.row.everywhere import Everywhere, SectionFields
from stringflux.solver.row.field import RowField
from stringflux.solver.row.impedance import RowImpedance, row_impedance
from stringflux.solver.row.nearby import Nearby
from stringflux.solver.row.solve import SolvedRow, with_signals
from stringflux.solver.row.turn_flux import turn_flux
from stringflux.solver.seam import SolvedField
from stringflux.solver.section.space import Section, bare
from stringflux.solver.stages import if_kept

from ..kept.digest import digest
from .abstract import SolvedCase, Stage, held, pole_record, quiet, refuse_low, shown_point
from .records import Ends, HumAreas, Picture, Settled, Terminals, UnitFields
from .signal_doubt import signal_materials
from .solve_row import RowInputs, row_inputs, solve_inputs, solve_inputs_near


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

_ABOUT, _SWUNG = 0.3e-3, 1.4e-3  # m: how far under and over a string at rest an estimate asks for fields
_NEAR = 1.5  # radii of a pole within which its table holds from its floor on (solver/row/ring_table.py)


class RowCase(SolvedCase):
    """A row of poles in one coil.

    The row is solved for a coil of one turn and scaled afterwards: λ ∝ N, L ∝ N².
    """

    def solution(self, above: float = 0.0, stage: Stage = quiet) -> SolvedRow:
        if above not in self._solutions:
            inputs = self._inputs_up_to(above) if above else self._inputs
            self._solutions[above] = solve_inputs(inputs, stage, self.keep).wound(self._turns)
        return self._solutions[above]

    @cached_property
    def _solutions(self) -> dict[float, SolvedRow]:
        return {}

    def near(self, before: SolvedCase, stage: Stage = quiet) -> SolvedRow:
        inputs = self._inputs
        if not isinstance(before, RowCase):
            raise InputError("estimate: received a pickup that is no row of poles; write one that is")
        there = before._inputs
        known = dict(there.materials)
        if (len(inputs.places), inputs.quality, inputs.history, inputs.numerics, inputs.reach) != (
                len(there.places), there.quality, there.history, there.numerics, there.reach) or any(
                known.get(name, material) != material for name, material in inputs.materials) or any(
                bare(a.shape) != bare(b.shape) for a, b in zip(inputs.places, there.places, strict=True)):
            raise InputError("estimate: received a pickup of other poles; write one with as many of the same form, "
                             "of the same quality")
        shapes = [s.shape for s in self.strings]
        row = before._of_one_turn
        near = Nearby(places=row.places, cells=row.cells, poles=row.field.poles, bias=row.bias, signal=row.signal,
                      low=min(s.axis_height - s.outer_radius for s in shapes) - _ABOUT,
                      high=max(s.axis_height + s.outer_radius for s in shapes) + _SWUNG)
        return solve_inputs_near(inputs, near, stage, self.keep).wound(self._turns)

    def coils_in_series(self) -> tuple[Racetrack, ...]:
        return self.case.racetracks()

    def poles(self) -> tuple[PoleRecord, ...]:
        row, field = self.solution(), self.face_field()
        factors = row.face_factors(self.case.probe_height)
        return tuple(pole_record(i, (0.0, p.y, p.face), float(b), sorted(factors[p.shape]))
                     for i, (p, b) in enumerate(zip(row.places, field, strict=True), start=1))

    def coils(self) -> tuple[tuple[CoilRecord, ...], tuple[PairRecord, ...]]:
        row = self.solution()
        return (CoilRecord(name=self.case.coil_names()[0], turns=self.case.coil.turns,
                           inductance_air=abs(row.inductance_air), inductance=abs(row.inductance)),), ()

    def over_coils(self, string: PlacedString) -> tuple[PlaceRecord, ...]:
        return ()

    def field_over(self, points: Array) -> SolvedField:
        inputs = self._inputs
        across = np.array([np.hypot(points[0], points[1] - p.y) for p in inputs.places])
        # the tables are no field close by a pole below what is asked for over it
        lowest = np.max([np.where(r < _NEAR * p.radius, floor, inputs.band[0])
                         for p, floor, r in zip(inputs.places, inputs.floors, across, strict=True)], axis=0)
        refuse_low(points, np.maximum(lowest, inputs.coil.top))
        far = np.flatnonzero(np.max(across, axis=0) > inputs.reach)
        if far.size:
            raise InputError(f"points: received {shown_point(points[:, far[0]])}; the fields are computed up to "
                             f"{mm(inputs.reach)} from every pole's axis")
        return self.solution(max(0.0, float(np.max(points[2])) - inputs.band[1])).field

    def picture(self, stage: Stage = quiet, *, cut: bool = True) -> Picture:
        row = self.solution()
        first = row.cells[row.places[0].shape]
        return Picture(section=section_record(first.section, first.alone))

    def plane(self, plane: str, string: PlacedString) -> PlaneField:
        row, inputs = self.solution(), self._inputs
        at = 0.0 if plane == "along" else row.places[string.pole - 1].y
        heights = max(inputs.band[0], inputs.coil.top), inputs.band[1]
        return row_plane(self.case, plane, at, self._everywhere, row.field, heights, inputs.floors, _NEAR)

    def whole(self) -> WholeField:
        bodies = self.case.magnetic_bodies()
        return whole_row(solid_mesh(bodies, self.numerics.solid_mesh(self.quality)), bodies, self._everywhere)

    def turn_flux(self) -> float | None:
        return turn_flux(self._everywhere, self._inputs.coil)

    @property
    def _everywhere(self) -> Everywhere:
        def fields_of(section: Section, orders: int) -> SectionFields:
            return self.keep("section fields", (bare(section.shape), self._inputs.quality, orders),
                             lambda: SectionFields(section, orders))

        return self.keep("everywhere", self._digest, lambda: Everywhere(self.solution(), fields_of))

    def settled(self) -> Settled:
        row = self.solution()
        return Settled(coupling=row.bias.coupling, rounds=(row.bias.rounds, row.signal.rounds))

    def ahead(self, stage: Stage = quiet) -> None:
        self.solution(stage=stage)
        if if_kept(self.keep, "signal ends", self._digest) is None:
            row = self._of_one_turn
            begun = aside(self._made_signal_ends, *vars(row).values(), *vars(row.field).values())
            if begun.begun:
                self._begun = begun

    _begun: Aside[tuple[SolvedRow, ...]] | None = None

    def signal_ends(self) -> tuple[SolvedRow, ...]:
        """Of one turn they are kept."""
        make = self._begun or self._made_signal_ends
        return tuple(row.wound(self._turns) for row in self.keep("signal ends", self._digest, make))

    def _made_signal_ends(self) -> tuple[SolvedRow, ...]:
        row = self._of_one_turn
        return tuple(with_signals(row, ends, self.keep) for ends in signal_materials(self.materials))

    def remarks(self) -> tuple[str, ...]:
        return ()

    def heard_coils(self, *, every: bool) -> tuple[HeardCoil, ...]:
        return ()

    def at_ends(self, stage: Callable[[str, float], None]) -> Ends:
        row = self.solution()
        stage("eddy currents", 0.9)
        points = np.array([(0.0, s.y, s.shape.axis_height) for s in self.strings]).T
        found = row_impedance(row, self.materials, self.numerics.band, points)
        circuit = self._circuit(found.frequency, found.inductance)
        grid = np.geomspace(found.frequency[0], found.frequency[-1], 300)
        between = found.at(grid).attenuation
        stage("", 1.0)
        return Ends(coil=circuit, ways=tuple((held(grid, ratio),) for ratio in between))

    def terminals(self, frequency: Array, stage: Callable[[str, float], None]) -> Terminals:
        self.solution(stage=lambda name: stage(name, 0.3))
        stage("eddy currents", 0.6)
        found = self._with_eddies(tuple(frequency.tolist()))
        stage("equivalent circuit", 0.95)
        circuit = self._circuit(frequency, self._turns**2 * found.inductance)
        low, high = (replace(circuit, capacitance=c) for c in self.windings[0].capacitance_band)
        return Terminals(circuit=circuit, ends=(low, high))

    def hum_areas(self) -> HumAreas:
        area = self.hum_area()
        return HumAreas(areas=(area,), together=area)

    def area(self) -> float:
        return float(self.hum_area().total[2])

    def unit_fields(self) -> UnitFields:
        return UnitFields(field=self._figures.field, turns=self._turns, magnets=(self._digest,))

    def face_field(self) -> Array:
        height = self.case.probe_height
        return self.keep("faces", (self._digest, height), lambda: self._of_one_turn.face_field(height))

    def hum_area(self) -> HumArea:
        one = self._figures.hum
        return HumArea(turns=self._turns * one.turns, poles=self._turns * one.poles)

    def inductance(self) -> float:
        return self._turns**2 * abs(self._figures.inductance)

    def resistance(self) -> float:
        return self.windings[0].resistance

    def capacitance(self) -> float:
        return self.windings[0].capacitance

    def circuit(self) -> CoilCircuit:
        found = self._with_eddies(self.numerics.frequencies)
        return self._circuit(found.frequency, self._turns**2 * found.inductance)

    def _with_eddies(self, frequency: tuple[float, ...]) -> RowImpedance:
        """One turn with the eddy currents of its poles."""
        return self.keep("eddies", (self._digest, frequency), lambda: row_impedance(
            self._of_one_turn, dict(self._inputs.materials), frequency))

    def per_turn(self, stage: Stage = quiet) -> Array:
        return np.array([[abs(self.solution(stage=stage).wound(1.0).inductance)]])

    def unknowns(self) -> tuple[int, int]:
        return 0, 0

    @property
    def _turns(self) -> float:
        return float(self.signed_turns[0])

    def _circuit(self, frequency: Array, inductance: ComplexArray) -> CoilCircuit:
        """The winding with L − jR_e/ω, H complex (f,), over frequencies (f,), Hz."""
        made = self.windings[0]
        return coil_circuit(frequency=frequency, inductance=inductance, resistance=made.resistance,
                            capacitance=made.capacitance, loss=made.loss, lead=self.case.lead.farads)

    def _inputs_up_to(self, above: float) -> RowInputs:
        inputs = row_inputs(self.case, self.quality, self.materials, above, self.numerics)
        return replace(inputs, history=self.history)

    @cached_property
    def _inputs(self) -> RowInputs:
        return self._inputs_up_to(0.0)

    @cached_property
    def _digest(self) -> str:
        return digest(self._inputs)

    @cached_property
    def _of_one_turn(self) -> SolvedRow:
        return solve_inputs(self._inputs, keep=self.keep)

    @cached_property
    def _figures(self) -> RowFigures:
        def make() -> RowFigures:
            row = self._of_one_turn
            return RowFigures(field=row.field, inductance=row.inductance, hum=hum_area(row))

        return self.keep("row", self._inputs, make)
