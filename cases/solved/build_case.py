"""A case of bodies and coils anywhere, by the 3-D solver; the fields of long bars by the planar one where it is
asked for.

The solution depends on bodies, windows of the coils and materials alone. What gaps, strings, turns and connections
change is computed from it. With b_k of one turn of each coil and the signed turns w_k as they are connected,

    b = n Σ_k (w_k/n) b_k,    n = max |w_k|;        S ∝ n,   L = wᵀ L₁ w,   A = Σ_k w_k A_k
"""

from __future__ import annotations

import math
from abc import abstractmethod
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations

import numpy as np
from scipy.interpolate import CubicSpline

from stringflux.geometry.arrays import Array, ComplexArray
from stringflux.geometry.case.placed_strings import PlacedString, rows_under
from stringflux.geometry.errors import InputError
from stringflux.geometry.mesh.pole import Quality
from stringflux.geometry.shapes.row import Racetrack
from stringflux.geometry.units import shown
from stringflux.postprocess.coil.circuit import CoilCircuit
from stringflux.postprocess.coil.connection import CoilNetwork
from stringflux.postprocess.coil.hum import MAINS, HumArea
from stringflux.postprocess.coil.hum_several import combined_area, hum_residue, solid_areas
from stringflux.postprocess.coil.shares import connected, joined_resistance
from stringflux.postprocess.pictures.plane import PlaneField, sliced
from stringflux.postprocess.pictures.slice import slice_record
from stringflux.postprocess.pictures.whole import WholeField, whole_field
from stringflux.postprocess.plucked.sensed import HeardCoil
from stringflux.postprocess.plucked.signal import Response
from stringflux.postprocess.records.prediction import (
    CoilRecord,
    PairRecord,
    PlaceRecord,
    PoleRecord,
    SliceRecord,
)
from stringflux.postprocess.string.linkage import CLEARANCE
from stringflux.solver.aside import Aside, aside
from stringflux.solver.coil.several import inductance_matrix_air
from stringflux.solver.plane.solve import SolvedBars
from stringflux.solver.row.numerics import RowNumerics
from stringflux.solver.seam import SolvedField
from stringflux.solver.solid.charges import Charges
from stringflux.solver.solid.each_coil import each_coil
from stringflux.solver.solid.field import SolidField, field_in_air
from stringflux.solver.solid.flux import keep_off
from stringflux.solver.solid.solve import SolvedSolid, with_signals

from ..kept.digest import digest
from .abstract import SolvedCase, Stage, held, pole_record, quiet, refuse_low, shown_point
from .records import Ends, HumAreas, Picture, Settled, Terminals, UnitFields
from .signal_doubt import signal_materials
from .solid_inputs import SolidInputs, solid_inputs
from .solve_build import answers_for, connected_turns, over_strings, solve_solid_inputs, strings_over
from .solve_row import one_thread
from .terminals import build_band, build_inductance, connected_coils
from .thin_gaps import thin_gaps

_ANY = np.array([100.0])  # Hz: where static inductances are written down


@dataclass(frozen=True, kw_only=True, eq=False)
class CoilFigures:
    """What is left of a solved build, one turn a coil, when its mesh is gone.

    Attributes
    ----------
    matrix : array (coils, coils)
        H.
    areas : tuple of HumArea
        One for each coil.
    """

    matrix: Array
    areas: tuple[HumArea, ...]


class BuildCase(SolvedCase):
    """Bodies and coils anywhere, whichever solver has their fields: what both have alike."""

    @abstractmethod
    def solution(self, above: float = 0.0, stage: Stage = quiet) -> SolvedSolid | SolvedBars: ...

    def coils_in_series(self) -> tuple[Racetrack, ...]:
        return tuple(replace(c, turns=abs(float(w)), sense=1 if w > 0 else -1)
                     for c, w in zip(self.case.racetracks(), self.solution().field.weights, strict=True) if w)

    def poles(self) -> tuple[PoleRecord, ...]:
        solved = self.solution()
        ends = solved.face_factors(self.case.probe_height, self.materials).tolist()
        return tuple(pole_record(i, (p.x, p.y, p.face), float(b), factor) for i, (p, b, factor) in
                     enumerate(zip(solved.poles, self.face_field(), ends, strict=True), start=1))

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

    def field_over(self, points: Array) -> SolvedField:
        top = max([b.form.bounds[1][2] + CLEARANCE for b in self.case.magnetic_bodies()]
                  + [c.top for c in self.case.racetracks()])
        refuse_low(points, np.array(top))
        return self.solution().field

    def plane(self, plane: str, string: PlacedString) -> PlaneField:
        if plane != "side":
            raise InputError(f"plane: received {shown(plane)}; of a pickup that is no plain row there is the plane "
                             "\"side\", along the strings")
        return sliced(self.case, self._cut)

    @property
    @abstractmethod
    def _cut(self) -> SliceRecord:
        """The plane of its pictures."""

    def settled(self) -> Settled:
        return Settled()

    def at_ends(self, stage: Callable[[str, float], None]) -> Ends:
        """b of the eddy currents is taken at each string over the middle of each coil."""
        solved, strings = self._bodies(lambda name: stage(name, 0.2)), [s.shape for s in self.strings]
        points = np.array([[(c.x_centre, s.y, s.axis_height + s.slope * c.x_centre) for s in strings]
                           for c in solved.coils]).transpose(0, 2, 1)
        band = np.array(self.numerics.band)
        found = build_band(self.case, solved, self.materials, band, points,
                           lambda share: stage("eddy currents", 0.2 + 0.75 * share), self.numerics.eddies)
        coils = connected_coils(self.case, found.inductance, band)
        kappa = CubicSpline(np.log(band), found.attenuation, axis=2)
        grid = np.geomspace(band[0], band[-1], 300)
        between = kappa(np.log(grid))  # (coils, strings, 300)
        stage("", 1.0)
        return Ends(coil=coils, ways=tuple(
            tuple(_weighed(coils, k, held(grid, ratio)) for k, ratio in enumerate(of_string))
            for of_string in between.transpose(1, 0, 2)))

    def terminals(self, frequency: Array, stage: Callable[[str, float], None]) -> Terminals:
        self._bodies(lambda name: stage(name, 0.3))
        stage("eddy currents", 0.6)
        per_turn = self._with_eddies(frequency, lambda share: stage("eddy currents", 0.6 + 0.35 * share))
        network = connected_coils(self.case, per_turn, frequency)
        low, high = (network.with_capacitance([w.capacitance_band[i] for w in self.windings]).circuit()
                     for i in (0, 1))
        return Terminals(circuit=network.circuit(), ends=(low, high), network=network)

    def hum_areas(self) -> HumAreas:
        turns, weights = self.signed_turns, self._weights
        areas = tuple(HumArea(turns=n * a.turns, poles=n * a.poles)
                      for n, a in zip(turns.tolist(), self._coils.areas, strict=True))
        residue = hum_residue(areas, np.abs(turns).tolist(), weights / turns, MAINS[0]) if len(areas) > 1 else None
        return HumAreas(areas=areas, together=self.hum_area(), residue=residue)

    def area(self) -> float:
        return float(self.hum_area().total[2])

    def hum_area(self) -> HumArea:
        return combined_area(self._coils.areas, self._weights)

    def resistance(self) -> float:
        each, how = np.array([w.resistance for w in self.windings]), self.case.connection.coils
        return joined_resistance(each[connected(how, self.case.coil_names())], how == "parallel")

    def capacitance(self) -> float:
        return connected_coils(self.case, self._coils.matrix, _ANY).capacitance

    def circuit(self) -> CoilCircuit:
        frequency = np.array(self.numerics.frequencies)
        return connected_coils(self.case, self._with_eddies(frequency), frequency).circuit()

    def per_turn(self, stage: Stage = quiet) -> Array:
        return self._bodies(stage).matrix

    def unknowns(self) -> tuple[int, int]:
        space = self._bodies(quiet).space
        return space.unknowns, space.copies

    def _bodies(self, stage: Stage) -> SolvedSolid:
        """The 3-D solution without a string, one turn a coil."""
        return solve_solid_inputs(self._inputs, stage, self.keep)

    def _with_eddies(self, frequency: Array, progress: Callable[[float], None] = lambda share: None) -> ComplexArray:
        """L − jR_e/ω of one turn each over frequencies (f,), Hz; H, complex (f, coils, coils)."""
        settings = self.numerics.eddies
        return self.keep("eddies", (self._digest, tuple(frequency.tolist()), settings), lambda: build_inductance(
            self.case, self._bodies(quiet), self.materials, frequency, progress, settings))

    @cached_property
    def _inputs(self) -> SolidInputs:
        return replace(solid_inputs(self.case, self.quality, self.materials, self.numerics), history=self.history)

    @cached_property
    def _digest(self) -> str:
        return digest(self._inputs)

    @cached_property
    def _coils(self) -> CoilFigures:
        def make() -> CoilFigures:
            solved = self._bodies(quiet)
            return CoilFigures(matrix=solved.matrix, areas=solid_areas(solved, [1.0] * len(solved.coils)))

        return self.keep("build", self._digest, make)

    @cached_property
    def _weights(self) -> Array:
        """Signed turns of every coil (coils,), shared as the coils are connected."""
        return self.signed_turns * self._shares(self._coils.matrix)

    @property
    def _looked(self) -> tuple[Quality, float, RowNumerics]:
        """The numerical settings that what lies under the strings depends on."""
        return self.numerics.section_mesh(self.quality), self.numerics.string.reach, self.numerics.row


class SolidCase(BuildCase):
    """The fields of bodies and coils by the 3-D solver."""

    def solution(self, above: float = 0.0, stage: Stage = quiet) -> SolvedSolid:
        if above not in self._solutions:
            bodies = self._bodies(stage)
            turned = bodies.connected(connected_turns(self.case, bodies.matrix))
            self._solutions[above] = over_strings(self.case, self.quality, turned, self.materials, stage, above,
                                                  self.numerics)
        return self._solutions[above]

    @cached_property
    def _solutions(self) -> dict[float, SolvedSolid]:
        return {}

    def field_over(self, points: Array) -> SolvedField:
        """Anywhere in air, about an element off every magnetic body."""
        if not self.case.magnetic_bodies():
            coils = self._inputs.coils
            return field_in_air(coils, connected_turns(self.case, inductance_matrix_air(coils)), self._inputs.direct)
        solved = self._bodies(quiet)
        near = np.flatnonzero(~keep_off(solved, points))
        if near.size:
            raise InputError(f"points: received {shown_point(points[:, near[0]])}, in a magnetic body or too close "
                             "to one; the fields hold some two millimetres off, or less at a finer quality")
        return solved.connected(connected_turns(self.case, solved.matrix)).field

    def ahead(self, stage: Stage = quiet) -> None:
        under = answers_for(self.case, self.quality, self.materials, stage, self.numerics)
        solved = solve_solid_inputs(self._inputs, stage, self.keep, under)

        def make() -> tuple[tuple[Charges, ...], tuple[SolvedSolid, ...]]:
            with one_thread():
                return solved.magnet_ends(self.materials), self._with_signal_ends(solved)

        begun = aside(make, *vars(solved).values()) if "ends" not in solved.kept else None
        if begun is not None and begun.begun:
            self._begun = begun

    _begun: Aside[tuple[tuple[Charges, ...], tuple[SolvedSolid, ...]]] | None = None

    def poles(self) -> tuple[PoleRecord, ...]:
        if self._begun is not None:
            self.solution().kept.setdefault("ends", self._begun()[0])
        return super().poles()

    def over_coils(self, string: PlacedString) -> tuple[PlaceRecord, ...]:
        named: dict[float, list[str]] = {}
        for name, coil in zip(self.case.coil_names(), self.case.racetracks(), strict=True):
            named.setdefault(round(coil.x_centre, 6), []).append(name)
        if list(named) == [0.0]:
            return ()
        field, shape, out = self.solution().field, string.shape, []
        for x, names in named.items():
            at = np.array([[x], [string.y], [shape.axis_height + shape.slope * x]])
            rows = [row for row in rows_under(self.case, string.y) if abs(row.row.x - x) < 1e-6]
            gap = string.gap_over(rows[0].face_under(string.y)) if rows else math.nan
            out.append(PlaceRecord(name=" and ".join(names), x=x, gap=gap,
                                   bias=field.bias(at)[:, 0],
                                   reciprocal=field.reciprocal(at)[:, 0]))
        return tuple(out)

    def picture(self, stage: Stage = quiet, *, cut: bool = True) -> Picture:
        if not cut:
            return Picture()
        stage("picture of the field")
        return Picture(cut=self._cut)

    def whole(self) -> WholeField:
        return whole_field(self.solution())

    @cached_property
    def _cut(self) -> SliceRecord:
        return slice_record(self.case, self.solution())

    def signal_ends(self) -> tuple[SolvedSolid, ...]:
        weights = self.solution().field.weights
        return tuple(end.connected(weights) for end in self._signal_ends)

    @property
    def _signal_ends(self) -> tuple[SolvedSolid, ...]:
        """One turn a coil, without what answers to the strings."""
        def make() -> tuple[SolvedSolid, ...]:
            if self._begun is not None:
                return self._begun()[1]
            with one_thread():
                return self._with_signal_ends(self._bodies(quiet))

        return self.keep("signal ends", self._digest, make)

    def _with_signal_ends(self, solved: SolvedSolid) -> tuple[SolvedSolid, ...]:
        return tuple(with_signals(solved, ends) for ends in signal_materials(self.materials))

    def signal_inductances(self) -> tuple[float, ...]:
        w = self._weights
        return tuple(abs(float(w @ end.matrix @ w)) for end in self._signal_ends)

    def remarks(self) -> tuple[str, ...]:
        return thin_gaps(self.solution().bodies)

    def heard_coils(self, *, every: bool) -> tuple[HeardCoil, ...]:
        solved, turns = self.solution(), self.signed_turns
        if len(solved.coils) == 1:
            return ()
        found = zip(self.case.coil_names(), self._shares(solved.matrix), each_coil(solved.field, turns), strict=True)
        return tuple(HeardCoil(name=name, share=float(share), field=field) for name, share, field in found
                     if share or every)

    def unit_fields(self) -> UnitFields:
        return self._unit_fields

    @cached_property
    def _unit_fields(self) -> UnitFields:
        w, over = self._weights, strings_over(self.case)
        n = float(np.max(np.abs(w)))
        each = zip(self.case.coil_names(), each_coil(self._under, w / n), w, strict=True) if len(w) > 1 else ()
        return UnitFields(field=self._under.connected(w / n), turns=n, coils=(w / n,),
                          magnets=(self._digest, over, self._looked),
                          heard=tuple(HeardCoil(name=name, field=own) for name, own, turns in each if turns))

    def face_field(self) -> Array:
        height = self.case.probe_height
        return self.keep("faces", (self._digest, height), lambda: self._bodies(quiet).face_field(height))

    def inductance(self) -> float:
        return abs(float(self._weights @ self._coils.matrix @ self._weights))

    @cached_property
    def _under(self) -> SolidField:
        """The 3-D fields and what lies under the strings, whatever the turns."""
        over = strings_over(self.case)

        def make() -> SolidField:
            section, reach, poles = self._looked
            return self._bodies(quiet).over(over, self.materials, section, reach, poles).field

        return self.keep("under", (self._digest, over, self._looked), make)


def _weighed(coils: CoilNetwork, k: int, eddy: Response) -> Response:
    if len(coils.coils) == 1:
        return eddy
    return lambda at: eddy(at) * coils.ways(at)[k]
