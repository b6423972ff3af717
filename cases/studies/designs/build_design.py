"""One design that is no row of poles: the figures of bodies and coils anywhere, from one 3-D solution.

The solution depends on bodies, windows of the coils and materials alone; a process keeps its last ones. What gaps,
strings, turns and connections change is computed from it. With b_k of one turn of each coil and the signed turns w_k
as they are connected,

    b = n Σ_k (w_k/n) b_k,    n = max |w_k|;        S ∝ n,   L = wᵀ L₁ w,   A = Σ_k w_k A_k

so stages hold the strings over b/n, and turns changed in one ratio cost nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.geometry.mesh.solid_forms import exact_volume
from stringflux.geometry.shapes.row import StringShape
from stringflux.postprocess.coil.controls import LoadedCoil, Response, network
from stringflux.postprocess.coil.hum import HumArea
from stringflux.postprocess.coil.hum_several import combined_area, solid_areas
from stringflux.postprocess.coil.shares import connected, joined_resistance
from stringflux.postprocess.plucked.modes import Damping
from stringflux.postprocess.plucked.sensed import sensed_string
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.linkage import rest_model
from stringflux.postprocess.string.model import StringModel
from stringflux.postprocess.string.pull import pull_of
from stringflux.solver.materials import Materials
from stringflux.solver.seam import REACH
from stringflux.solver.solid.each_coil import each_coil
from stringflux.solver.solid.field import SolidField
from stringflux.solver.solid.solve import SolvedSolid
from stringflux.solver.stages import Keep

from ...jobs.plucked import bridge_distance, vibrating_string
from ...kept.digest import digest
from ...solved.abstract import FREQUENCIES
from ...solved.choice import choose
from ...solved.materials import case_materials
from ...solved.solve_build import connected_turns, solid_inputs, solve_solid_inputs, strings_over
from ...solved.terminals import build_inductance, connected_coils
from ...solved.windings import coil_windings
from .row_design import EQUAL_PLUCK, Rest, rest_of, shifts

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


class BuildDesign:
    """A case of bodies and coils anywhere, and its kept stages.

    Parameters
    ----------
    case : Case
    quality : str
    keep : Keep
        Asked for every stage before it is computed.

    Raises
    ------
    CaseError
        If the 3-D solver cannot do the case.
    """

    turns = 1.0  # every figure of this class holds all turns

    def __init__(self, case: Case, quality: str, keep: Keep) -> None:
        choose(case)
        self.case, self.quality, self.keep = case, quality, keep

    @cached_property
    def materials(self) -> Materials:
        return case_materials(self.case)

    def rests(self) -> list[Rest]:
        """Every string at rest."""
        return [self._rest(i) for i in range(len(self.case.string))]

    def pulls(self) -> list[tuple[float, float]]:
        """Cents across and up of every string; b has no part in them."""
        return shifts(self.case, lambda i: self.keep("pull", self._place_key(i), lambda: pull_of(self._model(i))))

    def outputs(self) -> list[float]:
        """Rms voltage of every string plucked alike, open coils as they are connected, V."""
        return [self._rms(i) if self.case.is_magnetised else 0.0 for i in range(len(self.case.string))]

    def faces(self) -> Array:
        """Field over every pole's face at the probe height, T."""
        height = self.case.probe_height
        return self.keep("faces", (self._digest, height), lambda: self._solved.face_field(height))

    def hum(self) -> HumArea:
        """The area of all coils together for uniform fields."""
        return combined_area(self._coils.areas, self._weights)

    def loaded(self) -> Response:
        """The coils with controls, cable and amplifier, eddy currents of bodies and sheets included."""
        frequency = np.array(FREQUENCIES)
        per_turn = self.keep("eddies", (self._digest, FREQUENCIES), lambda: build_inductance(
            self.case, self._solved, self.materials, frequency))
        circuit = connected_coils(self.case, per_turn, frequency).circuit()
        return LoadedCoil(coil=circuit, network=network(self.case.load)).response()

    def inductance(self) -> float:
        """Of the coils as they are connected, H."""
        return abs(float(self._weights @ self._coils.matrix @ self._weights))

    def resistance(self) -> float:
        """At the terminals, Ω; nothing is solved for it."""
        each, how = np.array([w.resistance for w in coil_windings(self.case)]), self.case.connection.coils
        return joined_resistance(each[connected(how, self.case.coil_names())], how == "parallel")

    def capacitance(self) -> float:
        """At the terminals, F."""
        return connected_coils(self.case, self._coils.matrix, _ANY).capacitance

    def magnets(self) -> float:
        """Volume of all magnets, m³."""
        return sum(exact_volume(body.form) for body in self.case.solid_bodies() if body.polarity)

    @cached_property
    def _inputs(self) -> Any:
        return solid_inputs(self.case, self.quality, self.materials)

    @cached_property
    def _digest(self) -> str:
        return digest(self._inputs)

    @cached_property
    def _solved(self) -> SolvedSolid:
        return solve_solid_inputs(self._inputs, keep=self.keep)

    @cached_property
    def _coils(self) -> CoilFigures:
        def make() -> CoilFigures:
            solved = self._solved
            return CoilFigures(matrix=solved.matrix, areas=solid_areas(solved, [1.0] * len(solved.coils)))

        return self.keep("build", self._digest, make)

    @cached_property
    def _weights(self) -> Array:
        return connected_turns(self.case, self._coils.matrix)

    @property
    def _scale(self) -> float:
        return float(np.max(np.abs(self._weights)))

    @cached_property
    def _strings(self) -> tuple[StringShape, ...]:
        return self.case.string_shapes()

    @cached_property
    def _field(self) -> SolidField:
        """The fields and what lies under the strings, all turns over the largest number of them."""
        over = strings_over(self.case)

        def make() -> SolidField:
            return self._solved.over(over, self.materials, QUALITIES[self.quality], REACH).field

        return self.keep("under", (self._digest, over), make).connected(self._weights / self._scale)

    def _model(self, i: int) -> StringModel:
        shape = self._strings[i]
        return rest_model(self._field, shape, layers_of(shape, self.materials))

    def _place_key(self, i: int) -> tuple[Any, ...]:
        """All that the magnets' part of string i depends on; the poles' answers reach as high as all strings need."""
        shape = self._strings[i]
        metals = [self.materials[name] for name in (shape.steel, shape.wrap) if name]
        return self._digest, strings_over(self.case), shape, metals

    def _string_key(self, i: int) -> tuple[Any, ...]:
        return *self._place_key(i), self._weights / self._scale

    def _rest(self, i: int) -> Rest:
        n, one = self._scale, self.keep("rest", self._string_key(i), lambda: rest_of(self._model(i)))
        return Rest(linkage=n * one.linkage, slope=n * one.slope, curvature=n * one.curvature)

    def _rms(self, i: int) -> float:
        shape, string = self._strings[i], vibrating_string(self.case, i, self._strings[i], self.materials, Damping())
        distance, turns = bridge_distance(self.case), np.array([c.turns * c.sense for c in self.case.racetracks()])
        shares = self._weights / turns

        def play() -> float:
            fields = each_coil(self._field, turns) if len(turns) > 1 else ()
            heard = [c for c in zip(self.case.coil_names(), shares.tolist(), fields, strict=False) if c[1]]
            whole = self._field if fields else self._field.connected(self._weights)
            sensed = sensed_string(whole, shape, layers_of(shape, self.materials), string, distance, coils=heard)
            return sensed.play(EQUAL_PLUCK, name=f"string {i + 1}").rms

        # every coil is heard at its own place, with its own turns
        return self.keep("rms", (*self._place_key(i), turns, shares, string, distance, i), play)
