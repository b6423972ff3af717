"""`stringflux mix`: several pickups under the same strings, through their controls into one amplifier."""

from __future__ import annotations

import math
import sys
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from stringflux.geometry.errors import OutputError
from stringflux.geometry.notes import pitch_words

from ..output.csv_table import Cell, csv_text
from ..output.document import CaseSource, document
from ..output.folder import FolderKind, replaced_folder
from ..terminal.options import Json, Out, PluckOptions, Quality, Verbose, said_in
from ..terminal.progress import shown_progress
from ..terminal.tables import console, digits, headed, or_dash
from ..terminal.words import load_words, pluck_words, print_oddities

if TYPE_CHECKING:
    from rich.console import Console

    from stringflux.postprocess.plucked.modes import Pluck

    from ..files.mixes import LoadedMix
    from ..jobs.mix import MixedPickups, PickupAtPlace

MARK = "mix.json"
FILES = ("mix.png", "mix.svg", "partials.csv", "response.csv")
KIND = FolderKind(MARK, r"mix\.(png|svg)|(partials|response)\.csv|(alone-[0-9]+|together|reversed)\.wav")
COUNTS = 0.03  # of what is left out; more is a quarter of a decibel
PARTIALS = 24
UNITS = {**dict.fromkeys(("bridge_distance",), "m"), "inductance": "H", "resistance": "ohm", "level": "dB",
         "peak": "dB", "resonance": "Hz", "corner": "Hz", "pitch": "Hz", "levels": "V", "gain": "dB",
         "displacement": "m", "force": "N", "angle": "rad",
         **dict.fromkeys(("voltage_per_microtesla", "turned_per_microtesla"), "V"), "turned_level": "dB",
         "frequency": "Hz"}


@dataclass(frozen=True, kw_only=True)
class MixOptions(PluckOptions):
    """What the command line says; None where it says nothing."""

    which: Annotated[str, typer.Argument(metavar="FILE", help="A mix file or a shipped mix.", show_default=False)]
    out: Out = None
    quality: Quality = "normal"
    json: Json = False
    verbose: Verbose = 0


@said_in(MixOptions)
def mix(options: MixOptions) -> None:
    """Everything that can be refused is refused before the computation starts."""
    from ..files.mixes import load_mix

    json, out = options.json, options.out
    loaded, made = load_mix(options.which), options.read()
    said = pluck_words(made)
    with ExitStack() as stack:
        folder = None if out is None else stack.enter_context(replaced_folder(out, KIND))
        from ..jobs.mix import compute_mix

        with shown_progress(bar_only=json) as progress:
            found = compute_mix(loaded, made, quality=options.quality, progress=progress)
        text = _document(loaded, found, made)
        if json:
            sys.stdout.write(text)
        else:
            _print(loaded, found, said)
            for pickup, case in zip(loaded.file.pickup, loaded.cases, strict=True):
                print_oddities(case, console(), f"{pickup.name}: ")
        sys.stdout.flush()
        if folder is not None:
            _write(folder, found, _title(loaded), said, text)
    words = sys.stderr if json else sys.stdout
    if out is not None:
        print(f"Results: {out}", file=words)
    elif not json:
        print("With --out DIR the figure, its numbers and sound files are written there.")


def _title(loaded: LoadedMix) -> str:
    return loaded.file.title or loaded.name


def _gain(found: MixedPickups) -> list[float]:
    """dB of all pickups together over the louder of them alone, string by string; nothing with one pickup on."""
    together = [s for s in found.selections if s.file == "together"]
    alone = [s.levels for s in found.selections if s.file.startswith("alone")]
    if not together:
        return []
    return [_decibel(level, max(a[n] for a in alone)) for n, level in enumerate(together[0].levels)]


def _decibel(value: float, over: float) -> float:
    return 20 * math.log10(value / over) if value > 0 and over > 0 else -math.inf


def _print(loaded: LoadedMix, found: MixedPickups, said: str) -> None:
    to = console()
    to.print(_title(loaded), style="bold", markup=False)
    file = loaded.file
    columns = {
        "Name": [p.name for p in file.pickup],
        "Case": [p.case if len(p.case) <= 30 else f"…{p.case[-29:]}" for p in file.pickup],
        "To the bridge\nmm": [f"{1e3 * p.bridge_distance:.1f}" for p in file.pickup],
        "R\nkΩ": [digits(p.resistance / 1e3) for p in found.pickups],
        "L\nH": [f"{_low(p):.3f}" for p in found.pickups],
        "Switched": ["on" if p.on else "off" for p in file.pickup],
        "Leads": ["exchanged" if p.reversed else "as wound" for p in file.pickup],
    }
    if file.mix.wiring != "master controls":
        own = [loaded.controls(i) for i in range(len(file.pickup))]
        columns["Volume\nkΩ"] = [f"{c.volume / 1e3:g} at {c.volume_setting:g}" for c in own]
        if file.load.controls == "volume and tone":
            columns["Tone\nkΩ, nF"] = [f"{c.tone / 1e3:g} at {c.tone_setting:g}, {c.tone_capacitor * 1e9:g}"
                                         for c in own]
    to.print(headed("Pickups", columns, left=2))
    rows = [s for s in found.selections if s.file != "reversed"]
    to.print(headed("At the amplifier, for the same voltage in every coil", {
        "Switched on": [s.name.split(",")[0] for s in rows],
        "Level, low\ndB": [_level(s.response.level) for s in rows],
        "Resonance\nHz": [or_dash(s.response.resonance, "{:.0f}") for s in rows],
        "Peak\ndB": [or_dash(s.response.peak, "{:.1f}") for s in rows],
        "3 dB down\nHz": [or_dash(s.response.corner, "{:.0f}") for s in rows],
    }, left=1))
    pitches = found.pitches
    columns = {"No.": [str(n) for n in range(1, len(pitches) + 1)],
               "Pitch": [pitch_words(f) for f in pitches]}
    for s in found.selections:
        columns[f"{s.name}\nmV".replace(", ", "\n", 1)] = [digits(1e3 * v) for v in s.levels]
    gain = _gain(found)
    if gain:
        columns["together over\nthe louder\ndB"] = [_level(g, sign=True) for g in gain]
    to.print(headed(f"Strings at the amplifier, rms, {said}", columns))
    to.print("Rms over the first half second; how fast the partials die away is a guess.")
    _print_hum(found, to)
    if len(loaded.on()) > 1:
        to.print(_phase(found, file.pickup[loaded.on()[0]].name), markup=False)
    to.print(f"Wiring: {file.mix.wiring}. A pickup that is switched off is taken out with its controls; its magnets "
             "still pull.", soft_wrap=True)
    to.print(load_words(file.load), soft_wrap=True)
    to.print(_apart(loaded, found), soft_wrap=True)


def _print_hum(found: MixedPickups, to: Console) -> None:
    """Every choice of pickups, as wired and with the last of them turned."""
    from stringflux.postprocess.coil.hum import HOME_MEAN
    from stringflux.postprocess.mix.hum import MICROTESLA, choice_name

    field = HOME_MEAN / MICROTESLA
    to.print(headed(f"Hum at the amplifier, rms, {HOME_MEAN * 1e6:g} µT at {found.hum[0].frequency:g} Hz", {
        "Switched on": [choice_name(found.names_on, h.pickups) for h in found.hum],
        "as wired\nµV": [digits(1e6 * field * h.voltage) for h in found.hum],
        "over the\nlouder alone\ndB": [_over(h.level, len(h.pickups)) for h in found.hum],
        "the last turned\nµV": ["–" if math.isnan(h.turned) else digits(1e6 * field * h.turned) for h in found.hum],
        "over the\nlouder alone\ndB ": [_over(h.turned_level, len(h.pickups)) for h in found.hum],
    }, left=1))
    if len(found.names_on) > 1:
        to.print("The last turned: its leads exchanged, which turns its phase against the others; or wound the other "
                 "way round with its magnets turned, which leaves that as it is. The field is taken to be the same "
                 "at all pickups.", soft_wrap=True)


def _over(level: float, count: int) -> str:
    return "–" if count == 1 or math.isnan(level) else f"{level:+.1f}" if math.isfinite(level) else "nothing left"


def _phase(found: MixedPickups, first: str) -> str:
    if not found.against:
        return "As wired all stand in phase."
    stand = "stands" if len(found.against) == 1 else "stand"
    return f"As wired {', '.join(found.against)} {stand} out of phase with {first}."


def _apart(loaded: LoadedMix, found: MixedPickups) -> str:
    """How far the pickups stand apart, and what that leaves out."""
    parts = found.left_out
    words = (
        f"The nearest pickups stand {1e3 * loaded.nearest():.4g} mm apart. What they do to each other is left out: "
        f"mutual inductance is {_share(parts.inductance)} of their own, a neighbour's magnets are "
        f"{_share(parts.magnets)} of the field at the strings, and a coil hears {_share(parts.string)} of the string "
        "over its neighbour."
    )
    return words if parts.largest() < COUNTS else f"{words} That begins to count: take the figures as so rough."


def _share(part: float) -> str:
    return f"{100 * part:.2g} %"


def _low(pickup: PickupAtPlace) -> float:
    return float(pickup.neighbour.inductance)


def _level(value: float, *, sign: bool = False) -> str:
    if not math.isfinite(value):
        return "silent"
    return f"{round(value, 1) + 0.0:{'+' if sign else ''}.1f}"




def _document(loaded: LoadedMix, found: MixedPickups, pluck: Pluck) -> str:
    from stringflux.postprocess.mix.hum import choice_name

    pickups = [
        {"name": p.name, "case": entry.case, "on": entry.on, "reversed": p.reversed,
         "bridge_distance": p.bridge_distance, "inductance": _low(p), "resistance": p.resistance,
         "polarity": p.polarity()}
        for entry, p in zip(loaded.file.pickup, found.pickups, strict=True)
    ]
    selections = [{"name": s.name, "pickups": [found.pickups[i].name for i in s.pickups], "response": s.response,
                   "levels": s.levels} for s in found.selections]
    result = {
        "wiring": loaded.file.mix.wiring, "pluck": pluck, "pickups": pickups, "out_of_phase": found.against,
        "hum": [{"name": choice_name(found.names_on, h.pickups), "pickups": [found.names_on[i] for i in h.pickups],
                 "frequency": h.frequency, "voltage_per_microtesla": h.voltage, "level": h.level,
                 "turned_per_microtesla": h.turned, "turned_level": h.turned_level} for h in found.hum],
        "left_out": found.left_out, "selections": selections, "gain": _gain(found),
        "pitch": found.pitches,
    }
    source = CaseSource(name=loaded.name, text=loaded.text)
    return document("mix", loaded.file.title, source, result, UNITS, _files(found))


def _files(found: MixedPickups) -> list[str]:
    return sorted([*FILES, MARK, *(f"{s.file}.wav" for s in found.selections)])


def _write(folder: Path, found: MixedPickups, title: str, said: str, text: str) -> None:
    from stringflux.postprocess.plucked.signal import RATE, strum
    from stringflux.postprocess.plucked.wav import write_sounds

    from ..output.figure_files import save_figure

    try:
        save_figure(found.figures(title, said)["mix"], folder / FILES[0], folder / FILES[1])
        (folder / FILES[2]).write_text(partials_csv(found), encoding="utf-8")
        (folder / FILES[3]).write_text(response_csv(found), encoding="utf-8")
        write_sounds(folder, {s.file: strum(list(s.voltages), RATE) for s in found.selections}, RATE)
        (folder / MARK).write_text(text, encoding="utf-8")
    except OSError as error:
        raise OutputError(f"--out: the results cannot be written ({error.strerror or error})") from None


def response_csv(found: MixedPickups, points: int = 181) -> str:
    """V/EMF of every pickup in every selection, in dB and degrees, against frequency."""
    import numpy as np

    f = np.geomspace(20.0, 20e3, points)
    columns = {"frequency Hz": f}
    for s in found.selections:
        if s.file == "reversed":
            continue
        for i, h in zip(s.pickups, s.mix.transfer(f), strict=True):
            name = found.pickups[i].name if len(s.pickups) == 1 else f"{found.pickups[i].name} among all"
            with np.errstate(divide="ignore"):
                columns[f"{name} dB"] = 20 * np.log10(np.abs(h))
            columns[f"{name} deg"] = np.degrees(np.angle(h))
    return csv_text(columns, zip(*columns.values(), strict=True))


def partials_csv(found: MixedPickups) -> str:
    """The first partials of every string, rms just after the pluck, in every selection."""
    heads = ["string", "partial", "frequency Hz", *(f"{s.name} V" for s in found.selections)]
    rows: list[tuple[Cell, ...]] = []
    for n in range(len(found.pickups[0].strings)):
        f = found.selections[0].partials[n][0]
        for k in range(min(PARTIALS, f.size)):
            rows.append((n + 1, k + 1, f[k], *(s.partials[n][1][k] for s in found.selections)))
    return csv_text(heads, rows)
