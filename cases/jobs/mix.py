"""A mix computed: every pickup's row and coil, the strings over all of them, and what reaches the amplifier."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import shown
from stringflux.postprocess.coil.controls import NO_LOAD, LoadResponse, network
from stringflux.postprocess.mix.hum import MixHum, every_hum
from stringflux.postprocess.mix.neighbours import LeftOut, Neighbour, left_out
from stringflux.postprocess.mix.network import Mix, MixInput
from stringflux.postprocess.mix.string import MixedString, mixed, rms
from stringflux.postprocess.plucked.modes import PLUCK, Pluck
from stringflux.postprocess.plucked.sensed import SensedString
from stringflux.postprocess.plucked.signal import RATE, RMS_OVER
from stringflux.postprocess.results.each import numbered

from ..files.mixes import LoadedMix, row_places
from ..solved.direct_current import refuse_direct_current
from ..solved.records import Ends
from ..solved.solve import solved_case
from ..solved.unmagnetised import UNMAGNETISED
from .plucked import sensed_strings

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from stringflux.postprocess.figures.mix import MixCurves

Stage = Callable[[str, float], None]


@dataclass(frozen=True, kw_only=True, eq=False)
class PickupAtPlace:
    """A pickup solved, with the strings over it.

    Attributes
    ----------
    name : str
    bridge_distance : float
        m.
    ends : Ends
        Its coils at their terminals.
    strings : tuple of SensedString
    neighbour : Neighbour
        As the other pickups see it.
    reversed : bool
        Leads exchanged.
    area : array (3,)
        For uniform fields, as it is wound and its coils are connected, m².
    """

    name: str
    bridge_distance: float
    ends: Ends
    strings: tuple[SensedString, ...]
    neighbour: Neighbour
    reversed: bool
    area: Array

    @property
    def resistance(self) -> float:
        """At the terminals at direct current, Ω."""
        return self.ends.coil.resistance

    def polarity(self) -> int:
        """+1 or −1: which way its leads go when the strings move up, most of the strings deciding.

        Where coils of the pickup cancel each other it is that of the first one that is connected.
        """
        each = np.array([[c.share * c.slope() for c in s.coils] for s in self.strings]).sum(axis=0)
        up = each.sum()
        if all(s.cancels for s in self.strings):
            up = each[np.flatnonzero(each)[0]]
        return int(np.sign(up)) * (-1 if self.reversed else 1)


@dataclass(frozen=True, kw_only=True, eq=False)
class Selection:
    """What is switched on, and what comes of it.

    Attributes
    ----------
    name, file : str
        For people, and for names of files.
    pickups : tuple of int
        From 0.
    mix : Mix
    response : Response
        Of the wiring, for the same EMF in all coils.
    voltages : array (strings, n)
        At the amplifier, V.
    levels : array (strings,)
        Rms over the first half second, V.
    partials : tuple of (array, array)
        For every string frequencies, Hz, and rms voltages of the partials just after the pluck, V.
    """

    name: str
    file: str
    pickups: tuple[int, ...]
    mix: Mix
    response: LoadResponse
    voltages: Array
    levels: Array
    partials: tuple[tuple[Array, Array], ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class MixedPickups:
    """A computed mix.

    Attributes
    ----------
    pickups : tuple of PickupAtPlace
        All, in the order of the file.
    selections : tuple of Selection
        Each pickup that is on alone, then all of these as wired, then with the last one's leads exchanged.
    against : tuple of str
        Of those that are on, the ones that stand out of phase with the first as wired.
    left_out : LeftOut
        What the pickups do to each other, and the mix leaves out.
    hum : tuple of MixHum
        Of every choice of those that are on; their numbers count among `names_on`.
    names_on : tuple of str
        Of the pickups that are on.
    """

    pickups: tuple[PickupAtPlace, ...]
    selections: tuple[Selection, ...]
    against: tuple[str, ...]
    left_out: LeftOut
    hum: tuple[MixHum, ...]
    names_on: tuple[str, ...]

    @property
    def pitches(self) -> tuple[float, ...]:
        """Of the strings, Hz."""
        return tuple(s.string.pitch for s in self.pickups[0].strings)

    def plot(self, ax: Axes | None = None, what: str = "levels", *, string: int = 1) -> Axes:
        """Draw the "levels" of the strings, the "response" of the wiring, or the "partials" of a string (from 1).

        Parameters
        ----------
        ax : Axes, optional
            A new figure's if left out.

        Raises
        ------
        InputError
            For another panel or string.
        """
        from stringflux.postprocess.figures import mix
        from stringflux.postprocess.figures.panel import panel

        numbered(string, self.pitches)
        return panel(ax, {"levels": lambda ax: mix.string_levels(ax, self._curves(), self.pitches),
                          "response": lambda ax: mix.responses(ax, self._curves()),
                          "partials": lambda ax: mix.partials_of(ax, self._curves(), string - 1, self.pitches)}, what)

    def figures(self, title: str = "", said: str = "") -> dict[str, Figure]:
        """The figure that `stringflux mix` writes, by the name of its file; `said`: how the strings are plucked."""
        from stringflux.postprocess.figures.mix import mix_figure

        return {"mix": mix_figure(self._curves(), self.pitches, title, said)}

    def _curves(self) -> list[MixCurves]:
        from stringflux.postprocess.figures.mix import MixCurves

        return [MixCurves(name=s.name, mix=s.mix, opposed=s.file == "reversed", levels=s.levels, partials=s.partials)
                for s in self.selections]


def mix(which: str, pluck: Pluck = PLUCK, *, quality: str = "normal",
        progress: Stage = lambda stage, share: None) -> MixedPickups:
    """Several pickups under the same strings, through their controls into one amplifier.

    Parameters
    ----------
    which : str
        A mix file, or the name of a shipped mix.
    pluck : Pluck
        Of every string.
    quality : {"draft", "normal", "fine"}

    Raises
    ------
    CaseError
        When there is no such mix, a pickup has no charged magnet, or a string swings out of what is computed.

    Examples
    --------
    >>> from stringflux.cases import mix
    >>> import tempfile, pathlib
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = pathlib.Path(folder, "two.toml")
    ...     _ = file.write_text('''
    ...         pickup = [{ name = "neck", case = "bench-single", bridge_distance = "150 mm" },
    ...                   { name = "bridge", case = "bench-single", bridge_distance = "40 mm" }]''')
    ...     found = mix(str(file), quality="draft")
    >>> [selection.name for selection in found.selections]
    ['neck alone', 'bridge alone', 'both, in phase', 'both, out of phase']
    >>> neck, bridge = (float(selection.levels[0]) for selection in found.selections[:2])  # V
    >>> neck > bridge
    True
    >>> found.plot(what="levels").get_ylabel()
    'rms voltage (mV)'
    """
    from ..files.mixes import load_mix

    return compute_mix(load_mix(which), pluck, quality=quality, progress=progress)


def compute_mix(loaded: LoadedMix, pluck: Pluck, *, quality: str = "normal",
                progress: Stage = lambda stage, share: None) -> MixedPickups:
    """Solve all pickups and play the strings over them.

    Raises
    ------
    CaseError
        When a pickup has no charged magnet, or a string swings out of what is computed.
    """
    for entry, case in zip(loaded.file.pickup, loaded.cases, strict=True):
        refuse_direct_current(case, f"a mix, with pickup {shown(entry.name)},")
        if not case.is_magnetised:
            raise CaseError(f"pickup {shown(entry.name)}: {UNMAGNETISED}, and what other pickups' magnets do over it "
                            "is left out, so it adds no voltage to a mix; take it out")
    count = len(loaded.cases)
    pickups = []
    for i, case in enumerate(loaded.cases):
        entry = loaded.file.pickup[i]

        def stage(text: str, share: float, i: int = i, name: str = entry.name) -> None:
            progress(f"{name}: {text}" if text else "", (i + share) / count * 0.9)

        pickups.append(pickup_at_place(case, entry.name, reverse=entry.reversed, quality=quality, progress=stage))
    progress("mixing", 0.9)
    whole, on = wired(loaded, pickups), loaded.on()
    against = tuple(pickups[i].name for i in on if pickups[i].polarity() != pickups[on[0]].polarity())
    strings = tuple(
        MixedString(number=n + 1, places=tuple(pickups[i].strings[n] for i in on),
                    ways=tuple(pickups[i].ends.ways[n] for i in on), pull=tuple(p.strings[n] for p in pickups))
        for n in range(len(pickups[0].strings))
    )
    names = [pickups[i].name for i in on]
    emf = np.array([s.voltages(pluck, names) for s in strings])
    choices: list[tuple[str, str, tuple[int, ...], Mix]] = [
        (f"{names[k]} alone", f"alone-{i + 1}", (k,), whole.only((k,))) for k, i in enumerate(on)]
    if len(on) > 1:
        every, swapped = tuple(range(len(on))), whole.with_reversed(len(on) - 1)
        words = phase_words(names, in_phase=not against)
        choices += [(words[0], "together", every, whole), (words[1], "reversed", every, swapped)]
    selections = tuple(_selection(name, file, chosen, mix, on, emf, strings, pluck)
                       for name, file, chosen, mix in choices)
    progress("", 1.0)
    return MixedPickups(pickups=tuple(pickups), selections=selections, against=against,
                        left_out=left_out([p.neighbour for p in pickups]),
                        hum=every_hum(whole, np.array([pickups[i].area for i in on])), names_on=tuple(names))


def pickup_at_place(case: Case, name: str, *, reverse: bool, quality: str, progress: Stage) -> PickupAtPlace:
    """Solve one pickup, and set the strings over it."""
    solved = solved_case(case, quality)
    strings = sensed_strings(solved, every=True, progress=progress)
    ends, solution = solved.at_ends(progress), solved.solution()
    neighbour = Neighbour(
        place=strings[0].bridge_distance, field=solution.field, area=solved.area(), rows=row_places(case),
        strings=np.array([(s.y, s.shape.axis_height) for s in solved.strings]).T,
        inductance=abs(solution.inductance),
    )
    return PickupAtPlace(name=name, bridge_distance=strings[0].bridge_distance, ends=ends, strings=strings,
                         neighbour=neighbour, reversed=reverse, area=solved.hum_area().total)


def wired(loaded: LoadedMix, pickups: Sequence[PickupAtPlace]) -> Mix:
    """The network of the pickups that are switched on."""
    wiring, shared = loaded.file.mix.wiring, network(loaded.file.load)
    own = wiring != "master controls"
    inputs = tuple(
        MixInput(source=pickups[i].ends.coil, controls=network(loaded.controls(i)) if own else NO_LOAD,
                 reversed=pickups[i].reversed)
        for i in loaded.on()
    )
    output = replace(shared, volume=np.inf, tone=np.inf) if own else shared
    return Mix(inputs=inputs, output=output, decoupled=wiring == "own volumes, decoupled")


def phase_words(names: Sequence[str], *, in_phase: bool) -> tuple[str, str]:
    """What to call all pickups as wired, and with the last one's leads exchanged."""
    if len(names) == 2:
        words = ("both, in phase", "both, out of phase")
        return words if in_phase else words[::-1]
    return "all", f"all, {names[-1]} reversed"


def _selection(name: str, file: str, chosen: tuple[int, ...], mix: Mix, on: tuple[int, ...], emf: Array,
               strings: Sequence[MixedString], pluck: Pluck) -> Selection:
    voltages = mixed(emf[:, chosen, :], RATE, mix.transfer)
    partials = []
    for s in strings:
        part = replace(s, places=tuple(s.places[k] for k in chosen), ways=tuple(s.ways[k] for k in chosen))
        f, lines = part.partials(pluck, mix.transfer)
        partials.append((f, np.abs(lines)))
    return Selection(
        name=name, file=file, pickups=tuple(on[k] for k in chosen), mix=mix, response=mix.response(),
        voltages=voltages, levels=np.array([rms(v, RATE, RMS_OVER) for v in voltages]), partials=tuple(partials),
    )
