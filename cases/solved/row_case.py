"""A case of one row of poles in one coil, by the row solver."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import StringShape
from stringflux.postprocess.coil.circuit import coil_circuit
from stringflux.postprocess.coil.hum import hum_area
from stringflux.postprocess.pictures.pole_section import section_record
from stringflux.postprocess.records.prediction import CoilRecord, PairRecord, PlaceRecord, PoleRecord
from stringflux.solver.row.impedance import band_impedance, row_impedance
from stringflux.solver.row.solve import SolvedRow
from stringflux.solver.seam import StringField

from .abstract import Ends, HumAreas, Picture, Settled, SolvedCase, Stage, Terminals, held, pole_record, quiet
from .solve_row import row_inputs, solve_inputs


class RowCase(SolvedCase):
    """A row of poles in one coil."""

    def solution(self, above: float = 0.0, stage: Stage = quiet) -> SolvedRow:
        row = super().solution(above, stage)
        assert isinstance(row, SolvedRow)
        return row

    def _solve(self, above: float, stage: Stage) -> SolvedRow:
        inputs = replace(row_inputs(self.case, self.quality, self.materials, above), history=self.history)
        row = solve_inputs(inputs, stage, self.keep)
        return row.wound(float(self.signed_turns[0]))

    def poles(self) -> tuple[PoleRecord, ...]:
        row, height = self.solution(), self.case.probe_height
        field, factors = row.face_field(height), row.face_factors(height)
        return tuple(pole_record(i, (0.0, p.y, p.face), float(b), sorted(factors[p.shape]))
                     for i, (p, b) in enumerate(zip(row.places, field, strict=True), start=1))

    def coils(self) -> tuple[tuple[CoilRecord, ...], tuple[PairRecord, ...]]:
        row = self.solution()
        return (CoilRecord(name=self.case.coil_names()[0], turns=self.case.coil.turns,
                           inductance_air=abs(row.inductance_air), inductance=abs(row.inductance)),), ()

    def over_coils(self, shape: StringShape) -> tuple[PlaceRecord, ...]:
        return ()

    def picture(self, stage: Stage = quiet, *, cut: bool = True) -> Picture:
        row = self.solution()
        first = row.cells[row.places[0].shape]
        return Picture(section=section_record(first.section, first.alone))

    def settled(self) -> Settled:
        row = self.solution()
        return Settled(coupling=row.bias.coupling, rounds=(row.bias.rounds, row.signal.rounds))

    def remarks(self) -> tuple[str, ...]:
        return ()

    def heard_coils(self, *, every: bool) -> tuple[tuple[str, float, StringField], ...]:
        return ()

    def at_ends(self, stage: Callable[[str, float], None]) -> Ends:
        row, made = self.solution(), self.windings[0]
        stage("eddy currents", 0.9)
        points = np.array([(0.0, s.y, s.axis_height) for s in self.case.string_shapes()]).T
        found = band_impedance(row, self.materials, points)
        circuit = coil_circuit(frequency=found.frequency, inductance=found.inductance, resistance=made.resistance,
                               capacitance=made.capacitance)
        grid = np.geomspace(found.frequency[0], found.frequency[-1], 300)
        between = found.at(grid).attenuation
        stage("", 1.0)
        return Ends(coil=circuit, ways=tuple((held(grid, ratio),) for ratio in between))

    def terminals(self, frequency: Array, stage: Callable[[str, float], None]) -> Terminals:
        row, made = self.solution(stage=lambda name: stage(name, 0.3)), self.windings[0]
        stage("eddy currents", 0.6)
        found = row_impedance(row, self.materials, frequency)
        stage("equivalent circuit", 0.95)
        circuit = coil_circuit(frequency=frequency, inductance=found.inductance, resistance=made.resistance,
                               capacitance=made.capacitance)
        low, high = (replace(circuit, capacitance=c) for c in made.capacitance_band)
        return Terminals(circuit=circuit, ends=(low, high))

    def hum_areas(self) -> HumAreas:
        area = hum_area(self.solution())
        return HumAreas(areas=(area,), together=area)

    def area(self) -> float:
        return float(hum_area(self.solution()).total[2])

    def per_turn(self, stage: Stage = quiet) -> Array:
        return np.array([[abs(self.solution(stage=stage).wound(1.0).inductance)]])

    def unknowns(self) -> tuple[int, int]:
        return 0, 0
