"""The strings of a case plucked alike: their signals, and the pull of the magnets on each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.shapes import StringShape
from stringflux.postprocess.circuit import CoilCircuit, coil_circuit
from stringflux.postprocess.layers import layers_of
from stringflux.postprocess.linkage import band_over_heights, rest_model
from stringflux.postprocess.load import LoadedCoil, network
from stringflux.postprocess.plucked_string import PlayedString, SensedString, sensed_string
from stringflux.postprocess.pull import Detuning, Pull, Vibration, detuning, gap_of_one_cent, pull_of
from stringflux.postprocess.signal import Response
from stringflux.postprocess.string_modes import Damping, Pluck, VibratingString
from stringflux.postprocess.winding import winding
from stringflux.solver.eddy import band_impedance

from .case_materials import case_materials
from .case_solve import solve_case
from .load import refuse_builds
from .prediction import solve_case_row

Stage = Callable[[str, float], None]
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
    shortest = min(case.scales())
    if distance >= shortest:
        raise CaseError(
            f"strings, bridge_distance: received {distance * 1e3:.6g} mm, but the shortest string sounds over only "
            f"{shortest * 1e3:.6g} mm; write less"
        )
    return distance


def sense_case(case: Case, *, quality: str = "normal", damping: Damping | None = None,
               progress: Stage = lambda stage, share: None) -> tuple[SensedString, ...]:
    """Every string of a case over its solved row, ready to be plucked.

    Raises
    ------
    CaseError
        Without `bridge_distance` in the case.
    """
    distance = bridge_distance(case)
    materials = case_materials(case)
    row = solve_case(case, quality, materials, lambda stage: progress(stage, 0.1))
    out = []
    shapes = case.string_shapes()
    for i, shape in enumerate(shapes):
        progress(f"string {i + 1} of {len(shapes)}", 0.5 + 0.5 * i / len(shapes))
        string = vibrating_string(case, i, shape, materials, damping or Damping())
        out.append(sensed_string(row.field, shape, layers_of(shape, materials), string, distance))
    progress("", 1.0)
    return tuple(out)


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
    sensed = sense_case(case, quality=quality, damping=damping, progress=progress)
    ways = loaded_responses(case, quality=quality, progress=progress) if loaded else ((),) * len(sensed)
    return tuple(
        PlayedString(number=i, string=s, signal=s.play(pluck, responses=way, name=f"string {i}"))
        for i, (s, way) in enumerate(zip(sensed, ways, strict=True), start=1)
    )


def loaded_responses(case: Case, *, quality: str = "normal",
                     progress: Stage = lambda stage, share: None) -> tuple[tuple[Response, ...], ...]:
    """For every string what its voltage goes through: b(f)/b(0) of the eddy currents there, then the loaded coil."""
    circuit, eddies = coil_and_eddies(case, quality=quality, progress=progress)
    load = LoadedCoil(coil=circuit, network=network(case.load))
    return tuple((eddy, load) for eddy in eddies)


def coil_and_eddies(case: Case, *, quality: str = "normal",
                    progress: Stage = lambda stage, share: None) -> tuple[CoilCircuit, tuple[Response, ...]]:
    """The coil at its terminals, and for every string b(f)/b(0) of the eddy currents there."""
    refuse_builds(case, "--loaded")
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
    return circuit, tuple(_held(grid, ratio) for ratio in between)


def _held(grid: Array, ratio: Any) -> Response:
    """b(f)/b(0): 1 at 0 Hz, kept at its last value above the grid."""
    f, values = np.append(0.0, grid), np.append(1.0 + 0j, ratio)
    return lambda at: np.interp(at, f, values)
