"""`stringflux signal`: pluck every string alike, say the millivolts, write sound files and figures."""

from __future__ import annotations

import math
import sys
from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError, OutputError
from stringflux.geometry.notes import pitch_words

from ..files.taps import load_at_tap
from ..output.document import CaseSource, case_source, document
from ..output.folder import FolderKind, replaced_folder
from ..terminal.options import MotionOptions, OutOptions, TapOptions, said_in
from ..terminal.progress import shown_progress
from ..terminal.tables import console, digits, headed
from ..terminal.words import pluck_words, print_oddities

if TYPE_CHECKING:
    from stringflux.geometry.arrays import Array
    from stringflux.postprocess.plucked.sensed import PlayedString
    from stringflux.postprocess.results.signals import Signals

MARK = "signal.json"
KIND = FolderKind(MARK, r"(string-[0-9]+|strum)\.wav|string-[0-9]+\.(csv|parquet)|volts\.txt|"
                        r"(waveform|spectrum|distortion)\.(png|svg)")
SECONDS, FADE = 8.0, 1.0
LONGEST = 60.0
"""s that a signal may last."""
UNITS = {
    **dict.fromkeys(("peak", "rms"), "V"),
    **dict.fromkeys(("swing_up", "swing_across", "displacement"), "m"),
    **dict.fromkeys(("balance", "curve_level", "reversible_level"), "dB"),
    "pitch": "Hz",
    "force": "N",
    "angle": "rad",
    "seconds": "s",
    "frequency": "Hz",
    "amplitude": "m",
    "volts_per_full_scale": "V",
}


@dataclass(frozen=True, kw_only=True)
class SignalOptions(OutOptions, MotionOptions, TapOptions):
    """What the command line says; None where it says nothing."""

    seconds: Annotated[float, typer.Option(
        "--seconds", metavar="S", help="How long it sounds; the last second fades.")] = SECONDS
    loaded: Annotated[
        bool, typer.Option("--loaded", help="At the amplifier: through eddy currents, controls and cable.")
    ] = False


@said_in(SignalOptions)
def signal(options: SignalOptions) -> None:
    """Everything that can be refused is refused before the computation starts."""
    json, out, loaded = options.json, options.out, options.loaded
    case, changes = load_at_tap(options.which, options.changes, options.tap)
    source = case_source(options.which, changes)
    made, seconds = options.motion(), options.seconds
    if not 0.5 <= seconds <= LONGEST:
        raise CaseError(f"--seconds: received {seconds:g}; write 0.5 to {LONGEST:g}")
    said = pluck_words(made) + (", at the amplifier" if loaded else ", open coil")
    with ExitStack() as stack:
        folder = None if out is None else stack.enter_context(replaced_folder(out, KIND))
        from ..solving import solve

        with shown_progress(bar_only=json) as progress:
            pickup = solve(case, quality=options.quality)
            played = pickup.signal(made, loaded=loaded, seconds=seconds, progress=progress)
            other = None
            if folder is not None:
                other = pickup.signal(made, loaded=not loaded, seconds=seconds, progress=progress)
        text = _document(case, source, seconds, played)
        if json:
            sys.stdout.write(text)
        else:
            _print(case, played, said)
            print_oddities(case, console())
        sys.stdout.flush()
        if folder is not None and other is not None:
            _write(folder, played, other, said, text)
    words = sys.stderr if json else sys.stdout
    if out is not None:
        print(f"Results: {out}", file=words)
    elif not json:
        print("With --out DIR the sound files and figures are written there.")


def _balance(played: Sequence[PlayedString]) -> list[float]:
    """By the rms voltage, dB against the loudest."""
    loudest = max(p.signal.rms for p in played)
    return [20 * math.log10(p.signal.rms / loudest) for p in played]


def _print(case: Case, played: Sequence[PlayedString], said: str) -> None:
    to = console()
    to.print(case.title or "Untitled case", style="bold", markup=False)
    to.print(f"All {said}.")
    harmonics = [p.string.harmonics() for p in played]
    columns: dict[str, list[str]] = {
        "No.": [str(p.number) for p in played],
        "Pitch": [pitch_words(p.string.string.pitch) for p in played],
        "Peak\nmV": [digits(1e3 * p.signal.peak) for p in played],
        "Rms\nmV": [digits(1e3 * p.signal.rms) for p in played],
        "Balance\ndB": [f"{b:.1f}".replace("-0.0", "0.0") for b in _balance(played)],
        "One curve\ndB": [f"{p.string.curve_level:+.1f}".replace("-0.0", "+0.0") for p in played],
        "Swing up\n± mm": [f"{1e3 * p.signal.excursion:.2f}" for p in played],
        "H2 at ± 1 mm\n%": [_percent(h[0]) for h in harmonics],
        "H3 at ± 1 mm\n%": [_percent(h[1]) for h in harmonics],
    }
    to.print(headed("Strings", columns))
    if any(p.string.cancels for p in played):
        to.print("The coils cancel each other for a string that moves as a whole: what is heard is how it bends over "
                 "them. H2 and H3 would be parts of next to nothing.", soft_wrap=True)
    to.print("Rms and balance: over the first half second; how fast the partials die away is a guess.")
    to.print("One curve: how much louder a light swing would be if the steel had no memory.")


def _percent(value: float) -> str:
    return "–" if math.isnan(value) else digits(100 * value)


def _document(case: Case, source: CaseSource, seconds: float, played: Signals) -> str:
    strings = []
    for p, balance in zip(played, _balance(played), strict=True):
        h2, h3 = p.string.harmonics()
        strings.append({
            "number": p.number, "pitch": p.string.string.pitch, "peak": p.signal.peak, "rms": p.signal.rms,
            "balance": balance, "curve_level": p.string.curve_level,
            "reversible_level": p.string.reversible_level, "swing_up": p.signal.excursion,
            "inharmonicity": p.string.string.inharmonicity, "h2_at_1_mm": h2, "h3_at_1_mm": h3,
        })
    from stringflux.postprocess.plucked.wav import full_scale

    result = {"pluck": played.pluck, "loaded": played.loaded, "seconds": seconds,
              "volts_per_full_scale": full_scale(sounds(played)), "strings": strings}
    return document("signal", case, source, result, UNITS, _files(played))


def _files(played: Sequence[PlayedString]) -> list[str]:
    each = [f"string-{p.number}.{kind}" for p in played for kind in ("wav", "csv", "parquet")]
    figures = [f"{name}.{kind}" for name in ("waveform", "spectrum", "distortion") for kind in ("png", "svg")]
    return sorted([*each, *(["strum.wav"] if len(played) > 1 else []), "volts.txt", *figures, MARK])


def sounds(played: Signals) -> dict[str, Array]:
    """The signals (n,) of the sound files, V, by their names."""
    from stringflux.postprocess.plucked.signal import strum

    signals = {f"string-{p.number}": p.signal.voltage for p in played}
    if len(played) > 1:
        signals["strum"] = strum(list(signals.values()), played[0].signal.rate)
    return signals


def _write(folder: Path, played: Signals, other: Signals, said: str, text: str) -> None:
    from stringflux.postprocess.plucked.wav import full_scale, write_sounds

    from ..output.figure_files import save_figure
    from ..output.series import write_series

    signals = sounds(played)
    try:
        write_sounds(folder, signals, played[0].signal.rate, fade=FADE)
        (folder / "volts.txt").write_text(volts_text(signals, full_scale(signals)), encoding="utf-8")
        by_load = (other, played) if played.loaded else (played, other)
        for unloaded, loaded in zip(*by_load, strict=True):
            write_series(folder, f"string-{unloaded.number}", unloaded.signal, loaded.signal.voltage)
        for name, figure in played.figures(said).items():
            save_figure(figure, folder / f"{name}.png", folder / f"{name}.svg")
        (folder / MARK).write_text(text, encoding="utf-8")
    except OSError as error:
        raise OutputError(f"--out: the results cannot be written ({error.strerror or error})") from None


def volts_text(signals: Mapping[str, Array], full: float) -> str:
    """What the samples of the sound files stand for."""
    lines = ["All sound files have one gain: a sample of full scale (1.0) is this many volts.", "",
             f"{full:.6g} V", "", "Peaks, before the last second fades:"]
    lines += [f"{name}.wav  {1e3 * float(abs(signal).max()):.4g} mV" for name, signal in signals.items()]
    return "\n".join(lines) + "\n"
