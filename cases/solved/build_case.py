"""A case of bodies and coils anywhere, by the 3-D solver; the fields of long bars by the planar one where it is
asked for."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cached_property
from itertools import combinations

import numpy as np
from scipy.interpolate import CubicSpline

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.placed_strings import rows_under
from stringflux.geometry.shapes.row import StringShape
from stringflux.postprocess.coil.connection import CoilNetwork
from stringflux.postprocess.coil.hum import MAINS
from stringflux.postprocess.coil.hum_several import combined_area, hum_residue, solid_areas
from stringflux.postprocess.coil.shares import static_weights
from stringflux.postprocess.pictures.bar_section import plane_record
from stringflux.postprocess.pictures.slice import slice_record
from stringflux.postprocess.plucked.signal import Response
from stringflux.postprocess.records.prediction import CoilRecord, PairRecord, PlaceRecord, PoleRecord
from stringflux.solver.plane.solve import SolvedBars
from stringflux.solver.seam import StringField
from stringflux.solver.solid.each_coil import each_coil
from stringflux.solver.solid.solve import SolvedSolid

from .abstract import Ends, HumAreas, Picture, Settled, SolvedCase, Stage, Terminals, held, pole_record, quiet
from .solve_bars import ENDS_ESTIMATED, solve_case_plane
from .solve_build import SolidInputs, connected_turns, magnetic_bodies, over_strings, solid_inputs, solve_solid_inputs
from .terminals import build_band, build_network, connected_coils
from .thin_gaps import thin_gaps

BAND = np.geomspace(20.0, 20e3, 10)
"""Frequencies at which a build's eddy currents are computed, Hz; twice as many change κ by up to 0.4 % (one rod)."""


class BuildCase(SolvedCase):
    """Bodies and coils anywhere."""

    def solution(self, above: float = 0.0, stage: Stage = quiet) -> SolvedSolid | SolvedBars:
        found = super().solution(above, stage)
        assert isinstance(found, SolvedSolid | SolvedBars)
        return found

    def _solve(self, above: float, stage: Stage) -> SolvedSolid | SolvedBars:
        if self.choice.solver == "plane":
            return solve_case_plane(self.case, self.quality, self.materials, stage, above, self.keep)
        return over_strings(self.case, self.quality, self._connected(stage), self.materials, stage, above)

    def poles(self) -> tuple[PoleRecord, ...]:
        solved, height = self.solution(), self.case.probe_height
        ends = solved.face_factors(height, self.materials).tolist()
        return tuple(pole_record(i, (p.x, p.y, p.face), float(b), factor) for i, (p, b, factor) in
                     enumerate(zip(solved.poles, solved.face_field(height), ends, strict=True), start=1))

    def coils(self) -> tuple[tuple[CoilRecord, ...], tuple[PairRecord, ...]]:
        solved, turns, names = self.solution(), self.signed_turns, self.case.coil_names()
        air, full = (m * np.outer(turns, turns) for m in (solved.matrix_air, solved.matrix))
        coils = tuple(CoilRecord(name=name, turns=track.turns, inductance_air=float(air[i, i]),
                                 inductance=float(full[i, i]))
                      for i, (name, track) in enumerate(zip(names, self.case.racetracks(), strict=True)))
        pairs = tuple(PairRecord(first=names[i], second=names[j], mutual=float(full[i, j]),
                                 coupling=float(full[i, j] / np.sqrt(full[i, i] * full[j, j])))
                      for i, j in combinations(range(len(coils)), 2))
        return coils, pairs

    def over_coils(self, shape: StringShape) -> tuple[PlaceRecord, ...]:
        named: dict[float, list[str]] = {}
        for name, coil in zip(self.case.coil_names(), self.case.racetracks(), strict=True):
            named.setdefault(round(coil.x_centre, 6), []).append(name)
        solved = self.solution()
        if isinstance(solved, SolvedBars) or list(named) == [0.0]:
            return ()
        out = []
        for x, names in named.items():
            axis = shape.axis_height + shape.slope * x
            at = np.array([[x], [shape.y], [axis]])
            rows = [row for row in rows_under(self.case, shape.y) if abs(row.row.x - x) < 1e-6]
            face = rows[0].row.faces()[rows[0].nearest(shape.y)] if rows else math.nan
            out.append(PlaceRecord(name=" and ".join(names), x=x, gap=axis - shape.outer_radius - face,
                                   bias=solved.field.bias(at)[:, 0],
                                   reciprocal=solved.field.reciprocal(at)[:, 0]))
        return tuple(out)

    def picture(self, stage: Stage = quiet, *, cut: bool = True) -> Picture:
        if not cut:
            return Picture()
        stage("picture of the field")
        solved = self.solution()
        return Picture(cut=plane_record(self.case, magnetic_bodies(self.case), solved)
                       if isinstance(solved, SolvedBars) else slice_record(self.case, solved))

    def settled(self) -> Settled:
        return Settled()

    def remarks(self) -> tuple[str, ...]:
        solved = self.solution()
        return (ENDS_ESTIMATED,) if isinstance(solved, SolvedBars) else thin_gaps(solved.bodies)

    def heard_coils(self, *, every: bool) -> tuple[tuple[str, float, StringField], ...]:
        solved, turns, names = self.solution(), self.signed_turns, self.case.coil_names()
        if isinstance(solved, SolvedBars) or len(solved.coils) == 1:
            return ()
        shares = static_weights(self.case.connection.coils, self.case.connection.reversed, names,
                                solved.matrix * np.outer(turns, turns))
        found = zip(names, shares, each_coil(solved.field, turns), strict=True)
        return tuple((name, float(share), field) for name, share, field in found if share or every)

    def at_ends(self, stage: Callable[[str, float], None]) -> Ends:
        """b of the eddy currents is taken at each string over the middle of each coil."""
        solved, strings = self._bodies(lambda name: stage(name, 0.2)), self.case.string_shapes()
        points = np.array([[(c.x_centre, s.y, s.axis_height + s.slope * c.x_centre) for s in strings]
                           for c in solved.coils]).transpose(0, 2, 1)
        found = build_band(self.case, solved, self.materials, BAND, points,
                           lambda share: stage("eddy currents", 0.2 + 0.75 * share))
        coils = connected_coils(self.case, found.inductance, BAND)
        kappa = CubicSpline(np.log(BAND), found.attenuation, axis=2)
        grid = np.geomspace(BAND[0], BAND[-1], 300)
        between = kappa(np.log(grid))  # (coils, strings, 300)
        stage("", 1.0)
        return Ends(coil=coils, ways=tuple(
            tuple(_weighed(coils, k, held(grid, ratio)) for k, ratio in enumerate(of_string))
            for of_string in between.transpose(1, 0, 2)))

    def terminals(self, frequency: Array, stage: Callable[[str, float], None]) -> Terminals:
        solved = self._bodies(lambda name: stage(name, 0.3))
        stage("eddy currents", 0.6)
        network = build_network(self.case, solved, self.materials, frequency,
                                lambda share: stage("eddy currents", 0.6 + 0.35 * share))
        low, high = (network.with_capacitance([w.capacitance_band[i] for w in self.windings]).circuit()
                     for i in (0, 1))
        return Terminals(circuit=network.circuit(), ends=(low, high), network=network)

    def hum_areas(self) -> HumAreas:
        solved, turns = self._connected(quiet), self.signed_turns.tolist()
        areas, weights = solid_areas(solved, turns), solved.field.weights / turns
        residue = hum_residue(areas, [abs(n) for n in turns], weights, MAINS[0]) if len(areas) > 1 else None
        return HumAreas(areas=areas, together=combined_area(areas, weights), residue=residue)

    def area(self) -> float:
        return float(self._connected(quiet).area[2])

    def per_turn(self, stage: Stage = quiet) -> Array:
        return self._bodies(stage).matrix

    def unknowns(self) -> tuple[int, int]:
        space = self._bodies(quiet).space
        return space.unknowns, space.copies

    def _bodies(self, stage: Stage) -> SolvedSolid:
        """The 3-D solution without a string, one turn a coil."""
        return solve_solid_inputs(self._inputs, stage, self.keep)

    def _connected(self, stage: Stage) -> SolvedSolid:
        solved = self._bodies(stage)
        return solved.connected(connected_turns(self.case, solved.matrix))

    @cached_property
    def _inputs(self) -> SolidInputs:
        return replace(solid_inputs(self.case, self.quality, self.materials), history=self.history)


def _weighed(coils: CoilNetwork, k: int, eddy: Response) -> Response:
    if len(coils.coils) == 1:
        return eddy
    return lambda at: eddy(at) * coils.ways(at)[k]
