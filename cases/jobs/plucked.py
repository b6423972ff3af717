"""The strings of a case plucked alike: their signals, and the pull of the magnets on each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from stringflux.geometry.case.controls import Load
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import PlacedString
from stringflux.geometry.errors import CaseError
from stringflux.postprocess.coil.controls import LoadedCoil, network
from stringflux.postprocess.plucked.modes import Damping, Pluck, VibratingString
from stringflux.postprocess.plucked.sensed import HeardCoil, PlayedString, SensedString, sensed_string
from stringflux.postprocess.plucked.signal import SECONDS
from stringflux.postprocess.plucked.sine import Sine
from stringflux.postprocess.results.each import EachString
from stringflux.postprocess.string.heard import heard_pull
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.linkage import band_over_heights
from stringflux.postprocess.string.pull import Detuning, Pull, Vibration, detuning, gap_of_one_cent
from stringflux.solver.materials import Materials, string_metal
from stringflux.solver.seam import SolvedField

from ..solved.abstract import SolvedCase
from ..solved.records import Ends
from ..solved.unmagnetised import refuse_unmagnetised
from .string_records import string_key

if TYPE_CHECKING:
    from matplotlib.axes import Axes

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


@dataclass(frozen=True, kw_only=True, eq=False)
class Pulls(EachString[StringPull]):
    """The pull on every string, a sequence of StringPull."""

    def plot(self, ax: Axes | None = None, what: str = "shift") -> Axes:
        """Bars of the "force" towards the poles, or of the "shift" of the fundamental up and down and across.

        Parameters
        ----------
        ax : Axes, optional
            A new figure's if left out.

        Raises
        ------
        InputError
            For another panel.
        """
        from stringflux.postprocess.figures.bar_charts import groups
        from stringflux.postprocess.figures.panel import panel

        force = {"force": np.array([-1e3 * p.pull.force_z for p in self])}
        shift = {"up and down": np.array([p.detuning.cents_z for p in self]),
                 "across": np.array([p.detuning.cents_y for p in self])}
        return panel(ax, {"shift": lambda ax: groups(ax, shift, "Shift of the fundamental by the magnets", "(cent)"),
                          "force": lambda ax: groups(ax, force, "Pull towards the poles", "force (mN)")}, what)


def bridge_distance(case: Case) -> float:
    """From the row to the bridge, m; it has to be in the case."""
    distance = case.strings.bridge_distance
    if distance is None:
        raise CaseError(
            'strings, bridge_distance: it is missing, and where along the string the pickup sits decides the '
            'answer; add it, for example bridge_distance = "95 mm"'
        )
    return distance


def sensed_strings(solved: SolvedCase, *, damping: Damping | None = None, every: bool = False, string: int = 0,
                   progress: Stage = lambda stage, share: None) -> tuple[SensedString, ...]:
    """Every string of a solved case, ready to be plucked.

    Parameters
    ----------
    every : bool
        With all coils of a build, also those with open ends, which a load hears through the others.
    string : int
        That one alone, from 1; 0 for all.

    Raises
    ------
    CaseError
        Without `bridge_distance` in the case, or without a charged magnet.
    """
    case, materials = solved.case, solved.materials
    refuse_unmagnetised(case, "so they make no voltage, however they are plucked")
    distance = bridge_distance(case)
    field = solved.solution(stage=lambda stage: progress(stage, 0.1)).field
    coils = solved.heard_coils(every=every)
    out, wanted = [], [s for s in solved.strings if string in (0, s.number)]
    for i, placed in enumerate(wanted):
        progress(f"string {placed.number} of {len(solved.strings)}", 0.5 + 0.5 * i / len(wanted))
        vibrating = vibrating_string(placed, materials, damping or Damping())
        key = (*string_key(solved, placed), vibrating, distance, every, tuple(solved.signed_turns))
        out.append(solved.keep("sensed", key, partial(
            _sensed, solved, field, placed, vibrating, distance, coils)))
    progress("", 1.0)
    return tuple(out)


def _sensed(solved: SolvedCase, field: SolvedField, string: PlacedString, vibrating: VibratingString,
            distance: float, coils: Sequence[HeardCoil]) -> SensedString:
    return sensed_string(
        solved.among(field).over(string.number), string.shape, layers_of(string.shape, solved.materials), vibrating,
        distance, coils=among_others(solved, string, coils), numerics=solved.numerics.string)


def among_others(solved: SolvedCase, string: PlacedString, coils: Sequence[HeardCoil]) -> tuple[HeardCoil, ...]:
    """Coils as they hear a string with the others in their places."""
    return tuple(replace(coil, field=solved.among(coil.field).over(string.number)) for coil in coils)


def vibrating_string(string: PlacedString, materials: Materials, damping: Damping) -> VibratingString:
    """A string as a vibrating body."""
    return VibratingString(
        pitch=string.pitch, unit_mass=string.unit_mass, length=string.scale, diameter=2 * string.shape.core_radius,
        youngs_modulus=string_metal(materials, string.shape.steel).youngs_modulus, damping=damping,
    )


def vibration_of(string: PlacedString, distance: float) -> Vibration:
    """What of a string's vibration meets the magnets of a pickup `distance` from the bridge, m."""
    return Vibration(frequency=string.pitch, unit_mass=string.unit_mass, length=string.scale,
                     bridge_distance=distance)


def pulls_of(solved: SolvedCase, progress: Stage = lambda stage, share: None) -> Pulls:
    """The pull on every string, its detuning, and the gap from which it is under a cent.

    Raises
    ------
    CaseError
        Without `bridge_distance` in the case.
    """
    distance = bridge_distance(solved.case)
    field = solved.solution(HIGHER, lambda stage: progress(stage, 0.1)).field
    out = []
    for i, string in enumerate(solved.strings):
        progress(f"string {i + 1} of {len(solved.strings)}", 0.5 + 0.5 * i / len(solved.strings))
        out.append(solved.keep("string pull", (*string_key(solved, string), distance), partial(
            _pull_of, solved, field, string, distance)))
    progress("", 1.0)
    return Pulls(strings=tuple(out))


def _pull_of(solved: SolvedCase, field: SolvedField, string: PlacedString, distance: float) -> StringPull:
    shape, under, numerics = string.shape, string.grounded, solved.numerics.string
    layers, over = layers_of(shape, solved.materials), solved.among(field).over(string.number)
    pull = heard_pull(over, shape, layers, numerics)
    vibration = vibration_of(string, distance)
    band = band_over_heights([shape], [string.face.height])
    heights = (band[0], band[1] + HIGHER)
    one_cent = gap_of_one_cent(over, shape, layers, vibration, heights, numerics, softer=pull.softer)
    looked = (heights[0] + shape.outer_radius - under, heights[1] - shape.outer_radius - under)
    return StringPull(number=string.number, gap=string.gap, pull=pull, detuning=detuning(pull, vibration),
                      one_cent_gap=float(one_cent - under) if np.isfinite(one_cent) else one_cent, looked=looked)


def played_open(sensed: Sequence[SensedString], pluck: Pluck | Sine, first: int = 1,
                seconds: float = SECONDS) -> tuple[PlayedString, ...]:
    """Strings, from the `first` on, plucked or driven alike: the voltage of the open coil, without eddy currents.

    Raises
    ------
    CaseError
        When a string swings out of what is computed.
    """
    return tuple(PlayedString(number=i, string=s, signal=s.play(pluck, seconds=seconds, name=f"string {i}"))
                 for i, s in enumerate(sensed, start=first))


def played_loaded(sensed: Sequence[SensedString], pluck: Pluck | Sine, ends: Ends, load: Load,
                  first: int = 1, seconds: float = SECONDS) -> tuple[PlayedString, ...]:
    """The same at the amplifier, by way of eddy currents, winding, controls and cable.

    Parameters
    ----------
    sensed : sequence of SensedString
        With every coil, those with open ends too.
    """
    behind = LoadedCoil(coil=ends.coil, network=network(load))
    return tuple(
        PlayedString(number=i, string=s, signal=s.play(pluck, ways=ends.ways[i - 1], responses=(behind,),
                                                       seconds=seconds, name=f"string {i}"))
        for i, s in enumerate(sensed, start=first)
    )
