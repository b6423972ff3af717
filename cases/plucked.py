"""The strings of a case plucked alike: their signals, and the pull of the magnets on each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.interpolate import CubicSpline

from stringflux.geometry.arrays import Array
from stringflux.geometry.case import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.shapes import StringShape
from stringflux.postprocess.circuit import CoilCircuit, coil_circuit
from stringflux.postprocess.coil_weights import static_weights
from stringflux.postprocess.connection import CoilNetwork
from stringflux.postprocess.layers import layers_of
from stringflux.postprocess.linkage import band_over_heights, rest_model
from stringflux.postprocess.load import LoadedCoil, network
from stringflux.postprocess.plucked_string import PlayedString, SensedString, sensed_string
from stringflux.postprocess.pull import Detuning, Pull, Vibration, detuning, gap_of_one_cent, pull_of
from stringflux.postprocess.signal import Response
from stringflux.postprocess.string_field import StringField
from stringflux.postprocess.string_modes import Damping, Pluck, VibratingString
from stringflux.postprocess.winding import winding
from stringflux.solver.eddy import band_impedance
from stringflux.solver.solid_each import each_coil
from stringflux.solver.solved_solid import SolvedSolid

from .build_circuit import build_band, connected_coils
from .case_materials import case_materials
from .case_solid import solid_inputs, solve_solid_inputs
from .case_solve import choose, solve_case
from .prediction import solve_case_row
from .unmagnetised import refuse_unmagnetised

Stage = Callable[[str, float], None]
BAND = np.geomspace(20.0, 20e3, 10)
"""Frequencies at which a build's eddy currents are computed, Hz; twice as many change κ by up to 0.4 % (one rod)."""
HIGHER = 6e-3
"""How far above the strings' maps the gap of one cent is looked for, m."""


@dataclass(frozen=True, kw_only=True)
class StringPull:
    """The pull on one string of a case.

    Attributes
    ----------
    number : int
        From 1.
    gap : float
        Of the string at rest, m.
    pull : Pull
    detuning : Detuning
    one_cent_gap : float
        Gap above which the fundamental moves by less than a cent either way, m; inf or −inf where it lies
        above or below what was looked at.
    looked : (float, float)
        Gaps that were looked at, m.
    """

    number: int
    gap: float
    pull: Pull
    detuning: Detuning
    one_cent_gap: float
    looked: tuple[float, float]


def bridge_distance(case: Case) -> float:
    """From the row to the bridge, m; it has to be in the case."""
    distance = case.strings.bridge_distance
    if distance is None:
        raise CaseError(
            'strings, bridge_distance: it is missing, and where along the string the pickup sits decides the '
            'answer; add it, for example bridge_distance = "95 mm"'
        )
    return distance


def sense_case(case: Case, *, quality: str = "normal", damping: Damping | None = None, every: bool = False,
               solver: str = "auto", progress: Stage = lambda stage, share: None) -> tuple[SensedString, ...]:
    """Every string of a case over its solved row or build, ready to be plucked.

    Parameters
    ----------
    every : bool
        With all coils of a build, also those with open ends, which a load hears through the others.
    solver : {"auto", "row", "solid"}

    Raises
    ------
    CaseError
        Without `bridge_distance` in the case.
    """
    refuse_unmagnetised(case, "so they make no voltage, however they are plucked")
    distance = bridge_distance(case)
    materials = case_materials(case)
    row = solve_case(case, quality, materials, lambda stage: progress(stage, 0.1), solver=solver)
    coils = _coils(case, row, every=every)
    out = []
    shapes = case.string_shapes()
    for i, shape in enumerate(shapes):
        progress(f"string {i + 1} of {len(shapes)}", 0.5 + 0.5 * i / len(shapes))
        string = vibrating_string(case, i, shape, materials, damping or Damping())
        out.append(sensed_string(row.field, shape, layers_of(shape, materials), string, distance, coils=coils))
    progress("", 1.0)
    return tuple(out)


def _coils(case: Case, solved: Any, *, every: bool) -> tuple[tuple[str, float, StringField], ...]:
    """Name, share and field of every coil of several; () for one coil."""
    if not isinstance(solved, SolvedSolid) or len(solved.coils) == 1:
        return ()
    turns, names = _turns(case), case.coil_names()
    shares = static_weights(case.connection.coils, case.connection.reversed, names,
                            solved.matrix * np.outer(turns, turns))
    found = zip(names, shares, each_coil(solved.field, turns), strict=True)
    return tuple((name, float(share), field) for name, share, field in found if share or every)


def _turns(case: Case) -> Array:
    return np.array([c.turns * c.sense for c in case.racetracks()])


def vibrating_string(case: Case, i: int, shape: StringShape, materials: dict[str, Any],
                     damping: Damping) -> VibratingString:
    """String i of a case as a vibrating body."""
    return VibratingString(
        pitch=case.frequencies()[i], unit_mass=case.unit_masses()[i], length=case.scales()[i],
        diameter=2 * shape.core_radius, youngs_modulus=materials[shape.steel].youngs_modulus, damping=damping,
    )


def pull_case(case: Case, *, quality: str = "normal",
              progress: Stage = lambda stage, share: None) -> tuple[StringPull, ...]:
    """The pull on every string, its detuning, and the gap from which it is under a cent.

    Raises
    ------
    CaseError
        Without `bridge_distance` in the case.
    """
    distance = bridge_distance(case)
    materials = case_materials(case)
    row = solve_case(case, quality, materials, lambda stage: progress(stage, 0.1), above=HIGHER)
    gaps, faces = case.gaps(), case.faces_below()
    out = []
    shapes = case.string_shapes()
    for i, shape in enumerate(shapes):
        progress(f"string {i + 1} of {len(shapes)}", 0.5 + 0.5 * i / len(shapes))
        layers = layers_of(shape, materials)
        pull = pull_of(rest_model(row.field, shape, layers))
        vibration = Vibration(frequency=case.frequencies()[i], unit_mass=case.unit_masses()[i],
                              length=case.scales()[i], bridge_distance=distance)
        under = shape.axis_height - gaps[i]  # what the axis's height is over the gap
        band = band_over_heights([shape], [faces[i]])
        heights = (band[0], band[1] + HIGHER)
        one_cent = gap_of_one_cent(row.field, shape, layers, vibration, heights)
        looked = (heights[0] + shape.outer_radius - under, heights[1] - shape.outer_radius - under)
        out.append(StringPull(number=i + 1, gap=shape.axis_height - under, pull=pull,
                              detuning=detuning(pull, vibration), one_cent_gap=float(one_cent - under)
                              if np.isfinite(one_cent) else one_cent, looked=looked))
    progress("", 1.0)
    return tuple(out)


def play_case(case: Case, pluck: Pluck, *, quality: str = "normal", loaded: bool = False,
              damping: Damping | None = None,
              progress: Stage = lambda stage, share: None) -> tuple[PlayedString, ...]:
    """All strings plucked alike.

    Parameters
    ----------
    loaded : bool
        The voltage at the amplifier, by way of eddy currents, winding, controls and cable; else that of the coil
        in an open circuit without eddy currents.

    Raises
    ------
    CaseError
        When a string swings out of what is computed, or `bridge_distance` is missing.
    """
    sensed = sense_case(case, quality=quality, damping=damping, every=loaded, progress=progress)
    return _loaded(case, sensed, pluck, quality, progress) if loaded else _open(sensed, pluck)


def play_both(case: Case, pluck: Pluck, *,
              quality: str = "normal") -> tuple[tuple[PlayedString, ...], tuple[PlayedString, ...]]:
    """All strings plucked alike, at the open coil and at the amplifier: both of :func:`play_case`."""
    sensed = sense_case(case, quality=quality, every=True)
    return _open(sensed, pluck), _loaded(case, sensed, pluck, quality, lambda stage, share: None)


def _open(sensed: Sequence[SensedString], pluck: Pluck) -> tuple[PlayedString, ...]:
    return tuple(PlayedString(number=i, string=s, signal=s.play(pluck, name=f"string {i}"))
                 for i, s in enumerate(sensed, start=1))


def _loaded(case: Case, sensed: Sequence[SensedString], pluck: Pluck, quality: str,
            progress: Stage) -> tuple[PlayedString, ...]:
    ends = coil_and_eddies(case, quality=quality, progress=progress)
    behind = LoadedCoil(coil=ends.coil, network=network(case.load))
    return tuple(
        PlayedString(number=i, string=s, signal=s.play(pluck, ways=ways, responses=(behind,), name=f"string {i}"))
        for i, (s, ways) in enumerate(zip(sensed, ends.ways, strict=True), start=1)
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class Ends:
    """A pickup at its terminals.

    Attributes
    ----------
    coil : CoilCircuit or CoilNetwork
        What the EMF stands behind.
    ways : tuple of tuple of Response
        For every string what each coil's voltage goes through on its way into that EMF: b(f)/b(0) of the eddy
        currents at the string, and the coil's weight in the connection.
    """

    coil: CoilCircuit | CoilNetwork
    ways: tuple[tuple[Response, ...], ...]


def coil_and_eddies(case: Case, *, quality: str = "normal", solver: str = "auto",
                    progress: Stage = lambda stage, share: None) -> Ends:
    """The coils at their terminals, eddy currents of poles, bodies and sheets included."""
    if choose(case, solver).solver != "row":
        return _of_build(case, quality, progress)
    materials, made = case_materials(case), winding(case)
    row = solve_case_row(case, quality, materials)
    progress("eddy currents", 0.9)
    points = np.array([(0.0, s.y, s.axis_height) for s in case.string_shapes()]).T
    found = band_impedance(row, materials, points)
    circuit = coil_circuit(frequency=found.frequency, inductance=found.inductance, resistance=made.resistance,
                           capacitance=made.capacitance)
    grid = np.geomspace(found.frequency[0], found.frequency[-1], 300)
    between = found.at(grid).attenuation
    progress("", 1.0)
    return Ends(coil=circuit, ways=tuple((_held(grid, ratio),) for ratio in between))


def _of_build(case: Case, quality: str, progress: Stage) -> Ends:
    """The same of a build, b at each string over the middle of each coil."""
    materials = case_materials(case)
    solved = solve_solid_inputs(solid_inputs(case, quality, materials), lambda stage: progress(stage, 0.2))
    strings = case.string_shapes()
    points = np.array([[(c.x_centre, s.y, s.axis_height + s.slope * c.x_centre) for s in strings]
                       for c in solved.coils]).transpose(0, 2, 1)
    found = build_band(case, solved, materials, BAND, points,
                       lambda share: progress("eddy currents", 0.2 + 0.75 * share))
    coils = connected_coils(case, found.inductance, BAND)
    kappa = CubicSpline(np.log(BAND), found.attenuation, axis=2)
    grid = np.geomspace(BAND[0], BAND[-1], 300)
    between = kappa(np.log(grid))  # (coils, strings, 300)
    progress("", 1.0)
    return Ends(coil=coils, ways=tuple(
        tuple(_weighed(coils, k, _held(grid, ratio)) for k, ratio in enumerate(of_string))
        for of_string in between.transpose(1, 0, 2)))


def _weighed(coils: CoilNetwork, k: int, eddy: Response) -> Response:
    if len(coils.coils) == 1:
        return eddy
    return lambda at: eddy(at) * coils.ways(at)[k]


def _held(grid: Array, ratio: Any) -> Response:
    """b(f)/b(0): 1 at 0 Hz, kept at its last value above the grid."""
    f, values = np.append(0.0, grid), np.append(1.0 + 0j, ratio)
    return lambda at: np.interp(at, f, values)
