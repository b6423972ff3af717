"""`stringflux signal`: pluck every string alike, say the millivolts, write sound files and figures."""

from __future__ import annotations

import math
import re
import sys
from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Any

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError, OutputError
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.geometry.notes import pitch_words
from stringflux.geometry.units import parse, shown, within

from ..files.load import load_case
from ..output.document import CaseSource, case_source, document
from ..output.folder import Kind, replaced_folder
from ..terminal.progress import shown_progress
from ..terminal.quantities import read_quantity
from ..terminal.tables import Column, console, digits, table

if TYPE_CHECKING:
    from stringflux.postprocess.plucked.modes import Pluck
    from stringflux.postprocess.plucked.sensed import PlayedString

MARK = "signal.json"
KIND = Kind(MARK, r"(string-[0-9]+|strum)\.wav|(waveform|spectrum|distortion)\.(png|svg)")
EXCURSION = 1e-3  # swing at which H2 and H3 are told, m
UNITS = {
    **dict.fromkeys(("peak", "rms"), "V"),
    **dict.fromkeys(("swing_up", "swing_across", "displacement"), "m"),
    **dict.fromkeys(("balance", "reversible_level"), "dB"),
    "pitch": "Hz",
    "force": "N",
    "angle": "rad",
}


def run_signal(which: str, *, out: str | None, quality: str, changes: Mapping[str, Any], pluck: str | None,
               force: str | None, at: str, angle: str, loaded: bool, json: bool) -> None:
    """Everything that can be refused is refused before the computation starts."""
    if quality not in QUALITIES:
        raise CaseError(f"--quality: received {shown(quality)}; write {', '.join(QUALITIES)}")
    case, source = load_case(which, changes), case_source(which, changes)
    made = read_pluck(pluck, force, at, angle)
    said = pluck_words(made) + (", at the amplifier" if loaded else ", open coil")
    with ExitStack() as stack:
        folder = None if out is None else stack.enter_context(replaced_folder(out, KIND))
        from ..pickup import solve

        with shown_progress(bar_only=json) as progress:
            played = solve(case, quality=quality).signal(made, loaded=loaded, progress=progress)
        text = _document(case, source, made, played, loaded=loaded)
        if json:
            sys.stdout.write(text)
        else:
            _print(case, played, said)
        sys.stdout.flush()
        if folder is not None:
            _write(folder, played, said, text)
    words = sys.stderr if json else sys.stdout
    if out is not None:
        print(f"Results: {out}", file=words)
    elif not json:
        print("With --out DIR the sound files and figures are written there.")


def read_pluck(pluck: str | None, force: str | None, at: str, angle: str) -> Pluck:
    """The pluck that the options describe."""
    from stringflux.postprocess.plucked.modes import Pluck

    if pluck is not None and force is not None:
        raise CaseError("--force: received together with --pluck; keep one of them")
    displacement = newtons = None
    if force is not None:
        newtons = _within("--force", force, read_quantity("--force", force, "force")[0], 1e-3, 20.0, "1 mN to 20 N")
    else:
        text = pluck or "1 mm"
        displacement = _within("--pluck", text, read_quantity("--pluck", text, "length")[0], 1e-6, 20e-3,
                               "1 um to 20 mm")
    try:
        turned = parse(angle, "angle")
    except CaseError as error:
        raise CaseError(f"--angle: {error}") from None
    return Pluck(displacement=displacement, force=newtons, at=_part(at), angle=turned)


def _within(option: str, text: str, value: float, low: float, high: float, words: str) -> float:
    if not within(value, low, high):
        raise CaseError(f"{option}: received {shown(text)}; write {words}")
    return value


def _part(text: str) -> float:
    """1/8 or 0.125, between 1/100 and 99/100."""
    match = re.fullmatch(r"\s*([0-9]{1,4}(?:\.[0-9]{1,6})?|\.[0-9]{1,6})(?:\s*/\s*([0-9]{1,4}))?\s*", text)
    value = math.nan
    if match is not None and (match[2] is None or int(match[2]) > 0):
        value = float(match[1]) / int(match[2] or 1)
    if not within(value, 0.01, 0.99):
        raise CaseError(
            f"--at: received {shown(text)}; write the place from the bridge as a part of the string, for example "
            "1/8, between 1/100 and 99/100"
        )
    return value


def pluck_words(pluck: Pluck) -> str:
    """A pluck in words."""
    amount = f"{pluck.force:g} N" if pluck.force is not None else f"{1e3 * (pluck.displacement or 0):g} mm"
    return (f"plucked by {amount}, {pluck.at:.3g} of the string from the bridge, "
            f"{math.degrees(pluck.angle):.0f}° to the plate")


def _balance(played: Sequence[PlayedString]) -> list[float]:
    """By the rms voltage, dB against the loudest."""
    loudest = max(p.signal.rms for p in played)
    return [20 * math.log10(p.signal.rms / loudest) for p in played]


def _harmonics(played: PlayedString) -> tuple[float, float]:
    """H2 and H3 at the stated swing, or nan where the map does not reach so far."""
    import numpy as np

    swings, H = played.string.distortion()
    if swings.size == 0 or swings[-1] < EXCURSION:
        return math.nan, math.nan
    h2, h3 = (float(np.exp(np.interp(math.log(EXCURSION), np.log(swings), np.log(h)))) for h in H)
    return h2, h3


def _print(case: Case, played: Sequence[PlayedString], said: str) -> None:
    to = console()
    to.print(case.title or "Untitled case", style="bold", markup=False)
    to.print(f"All {said}.")
    harmonics = [_harmonics(p) for p in played]
    columns: dict[str, list[str]] = {
        "No.": [str(p.number) for p in played],
        "Pitch": [pitch_words(p.string.string.pitch) for p in played],
        "Peak\nmV": [digits(1e3 * p.signal.peak) for p in played],
        "Rms\nmV": [digits(1e3 * p.signal.rms) for p in played],
        "Balance\ndB": [f"{b:.1f}".replace("-0.0", "0.0") for b in _balance(played)],
        "Reversible\ndB": [f"{p.string.reversible_level:+.1f}" for p in played],
        "Swing up\n± mm": [f"{1e3 * p.signal.excursion:.2f}" for p in played],
        "H2 at ± 1 mm\n%": [_percent(h[0]) for h in harmonics],
        "H3 at ± 1 mm\n%": [_percent(h[1]) for h in harmonics],
    }
    to.print(table("Strings", [Column(head=head, cells=tuple(cells)) for head, cells in columns.items()]))
    if any(p.string.cancels for p in played):
        to.print("The coils cancel each other for a string that moves as a whole: what is heard is how it bends over "
                 "them. H2 and H3 would be parts of next to nothing.", soft_wrap=True)
    to.print("Rms and balance: over the first half second; how fast the partials die away is a guess.")
    to.print("Reversible: the change of level on the steel's reversible slope; a real string lies between.")


def _percent(value: float) -> str:
    return "–" if math.isnan(value) else digits(100 * value)


def _document(case: Case, source: CaseSource, pluck: Pluck, played: Sequence[PlayedString], *,
              loaded: bool) -> str:
    strings = []
    for p, balance in zip(played, _balance(played), strict=True):
        h2, h3 = _harmonics(p)
        strings.append({
            "number": p.number, "pitch": p.string.string.pitch, "peak": p.signal.peak, "rms": p.signal.rms,
            "balance": balance, "reversible_level": p.string.reversible_level, "swing_up": p.signal.excursion,
            "inharmonicity": p.string.string.inharmonicity, "h2_at_1_mm": h2, "h3_at_1_mm": h3,
        })
    result = {"pluck": pluck, "loaded": loaded, "strings": strings}
    return document("signal", case, source, result, UNITS, _files(played))


def _files(played: Sequence[PlayedString]) -> list[str]:
    sounds = [f"string-{p.number}.wav" for p in played] + (["strum.wav"] if len(played) > 1 else [])
    figures = [f"{name}.{kind}" for name in ("waveform", "spectrum", "distortion") for kind in ("png", "svg")]
    return sorted([*sounds, *figures, MARK])


def _write(folder: Path, played: Sequence[PlayedString], said: str, text: str) -> None:
    from stringflux.postprocess.figures.signal import signal_figures
    from stringflux.postprocess.plucked.signal import strum
    from stringflux.postprocess.plucked.wav import write_sounds

    from ..output.results import save_figure

    rate = played[0].signal.rate
    signals = {f"string-{p.number}": p.signal.voltage for p in played}
    if len(played) > 1:
        signals["strum"] = strum(list(signals.values()), rate)
    try:
        write_sounds(folder, signals, rate)
        for name, figure in signal_figures(played, said).items():
            save_figure(figure, folder / f"{name}.png", folder / f"{name}.svg")
        (folder / MARK).write_text(text, encoding="utf-8")
    except OSError as error:
        raise OutputError(f"--out: the results cannot be written ({error.strerror or error})") from None
