"""`stringflux readings`: what the bench says against what the program says."""

from __future__ import annotations

import math
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, cast

import typer
from rich.console import Console

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError, OutputError
from stringflux.geometry.units import shown

from ..files.load import find_case, find_readings, load_case, read_content, read_toml, shipped_cases
from ..files.named_files import text_with_whole_paths
from ..files.whole import usable_folder, write_new
from ..output.csv_table import Cell, csv_text
from ..output.document import CaseSource, case_source, document
from ..terminal.field import field_words
from ..terminal.options import OutOptions, Units, said_in
from ..terminal.progress import shown_progress
from ..terminal.tables import Column, console, digits, fitting, headed, table
from ..terminal.words import print_oddities

if TYPE_CHECKING:
    from stringflux.postprocess.readings.fit import Fitted
    from stringflux.postprocess.readings.parameters import ReadModel
    from stringflux.postprocess.readings.reading import Residual

    from ..readings.relative import RelativeString
    from ..readings.study import Study

FILES = ("readings.csv", "readings.png", "readings.svg")
HEADS = ("line", "reading", "unit", "value", "uncertainty", "predicted", "doubt", "difference", "sigma", "fitted",
         "sigma fitted")
FITTED = "fitted-case.toml"
FALLING_CASES = (  # demonstrations.falling_magnet.SHIPPED, which is slow to load
    "falling-magnet", "magnet-in-a-tube", "magnet-onto-steel")
UNITS = {"field": "T", "probe offset": "m", "resistance": "ohm", "inductance": "H", "resonance": "Hz", "output": "dB",
         "emf peak": "V", "emf rms": "V", "flux step": "Wb",
         "turns": "1", "capacitance": "F", "gap": "m", "probe": "m", "coercivity": "1", "charge": "1",
         "sensitivity": "V s/m", "voltage": "V"}
_KEYS = {name.replace(" ", "_"): unit for name, unit in UNITS.items()}


@dataclass(frozen=True, kw_only=True)
class ReadingsOptions(OutOptions):
    """What the command line says; None where it says nothing."""

    file: Annotated[str, typer.Argument(metavar="FILE", help="Readings: a CSV file, or shipped ones by name.",
                                        show_default=False)]
    fit: Annotated[
        list[str] | None,
        typer.Option("--fit", metavar="NAME", show_default=False,
                     help="coercivity, charge (or -each), turns, capacitance, gap, probe, all."),
    ] = None
    relative_to: Annotated[
        str | None,
        typer.Option("--relative-to", metavar="CASE", show_default=False, help="Case that FILE was read on."),
    ] = None
    units: Units = "both"


@said_in(ReadingsOptions)
def readings(options: ReadingsOptions) -> None:
    """Everything that can be refused is refused before the computation starts."""
    from ..readings.file import read_readings

    relative_to, quality, json = options.relative_to, options.quality, options.json
    if relative_to is not None and (options.fit or options.out is not None):
        raise CaseError("--relative-to: received together with --fit or --out; fit the measured pickup first, then "
                        "give its fitted case here")
    which, changes = options.which, options.changes
    if _falls(which):
        _run_falling(options)
        return
    case, source = load_case(which, changes), case_source(which, changes)
    if relative_to is not None:
        _run_relative(case, source, options.file, relative_to, quality, json)
        return
    read, names = read_readings(find_readings(options.file), case), options.fit or ()
    _names_are_usable(names, case)
    folder = None if options.out is None else usable_folder(options.out)
    from ..readings.fitted_case import fitted_case
    from ..readings.study import study_readings

    with shown_progress(bar_only=json) as progress:
        study = study_readings(case, read, names, quality=quality, progress=progress)
    made, refused = None, tuple[str, ...]()
    if folder is not None and study.fit is not None and study.fit.fitted:
        data, file = read_content(which, changes), find_case(which)
        try:
            made = fitted_case(text_with_whole_paths(file.read_text(encoding="utf-8-sig"), file.parent), data, case,
                               cast("ReadModel", study.model), study.fit,
                               ohms=len(case.coils()) == 1  # of several it is nobody's own
                               and any(r.quantity == "resistance" and r.frequency is None for r in read),
                               remark=f"Fitted to {shown(Path(options.file).name)}: stringflux readings --fit "
                                      f"{' --fit '.join(names)}")
        except CaseError as error:
            refused = (f"{FITTED} is not written: {error}",)
    notes = (*study.notes, *refused)
    if json:
        _print_json(case, source, study, notes)
    else:
        _print(case.title, study, notes, console(), options.units)
        print_oddities(case, console())
    sys.stdout.flush()
    if folder is not None:
        written = _write(folder, case.title or find_case(which).stem, study, made)
        print(f"Written: {', '.join(written)} in {options.out}", file=sys.stderr if json else sys.stdout)


def _falls(which: str) -> bool:
    """Whether a case is that of a magnet that falls through a coil, by its name or by what its file holds."""
    if which in shipped_cases():
        return False
    try:
        data = read_toml(Path(which)) if Path(which).is_file() else {}
    except (CaseError, ValueError):
        return False
    return "drop" in data or (not data and which in FALLING_CASES)


def _run_falling(options: ReadingsOptions) -> None:
    """Readings of a magnet that falls through a coil."""
    from ..demonstrations.falling_magnet import read
    from ..readings.falling import study_falling
    from ..readings.file import read_falling_readings

    if options.fit or options.relative_to is not None:
        raise CaseError("--fit, --relative-to: received with the case of a falling magnet, of which nothing is "
                        "fitted; leave them out, and try another value with --set")
    case, source = read(options.which, options.changes)
    found = read_falling_readings(find_readings(options.file), by_hand=case.drop.speed is not None)
    folder = None if options.out is None else usable_folder(options.out)
    with shown_progress(bar_only=options.json) as progress:
        study = study_falling(case, found, options.quality, progress)
    if options.json:
        _print_json(case, source, study, study.notes)
    else:
        _print(case.title, study, study.notes, console(), options.units)
    sys.stdout.flush()
    if folder is not None:
        written = _write(folder, case.title or source.name, study, None)
        print(f"Written: {', '.join(written)} in {options.out}", file=sys.stderr if options.json else sys.stdout)


def _names_are_usable(names: Sequence[str], case: Case) -> None:
    from stringflux.postprocess.readings.build_model import build_fits
    from stringflux.postprocess.readings.parameters import FIT_NAMES, check_names

    from ..solved.choice import choose

    check_names(names, tuple(FIT_NAMES) if choose(case).solver == "row" else build_fits(case))


def _print(title: str, study: Study, notes: Sequence[str], to: Console, units: str) -> None:
    to.print(title or "Untitled case", style="bold", markup=False)
    beside, below = (_columns(study, units, lines=lines) for lines in (False, True))
    to.print(fitting("Readings", beside, to, left=2) or table("Readings", below, left=2))
    to.print("Off: reading less prediction, over the uncertainty of both; left: after the fit, over the reading's "
             "alone. The level of outputs is free.", soft_wrap=True)
    if study.fit is not None:
        _print_fit(study, to)
    for note in notes:
        to.print(f"Note: {note}.", markup=False, soft_wrap=True)


def _columns(study: Study, units: str, *, lines: bool) -> list[Column]:
    """The table of the readings; a field's two units beside each other, or in two `lines`."""
    def words(x: Residual, value: float) -> str:
        if x.reading.quantity != "field":
            return x.reading.words(value)
        said = field_words(value, units)
        return said.replace(" (", "\n").rstrip(")") if lines else said

    rows = study.residuals
    columns = {
        "Line": [str(x.reading.line) for x in rows],
        "Reading": [x.reading.label for x in rows],
        "Read": [words(x, x.reading.value) for x in rows],
        "Predicted": [words(x, x.predicted) for x in rows],
        "Off\nσ": [f"{x.sigma:+.1f}" for x in rows],
    }
    if study.fit is not None:
        columns["Fitted"] = [words(x, x.fitted) for x in rows if x.fitted is not None]
        columns["Left\nσ"] = [f"{x.sigma_fitted:+.1f}" for x in rows if x.sigma_fitted is not None]
    return [Column(head=head, cells=tuple(cells)) for head, cells in columns.items()]


def _print_fit(study: Study, to: Console) -> None:
    from ..readings.study import value_words

    fit = study.fit
    assert fit is not None
    for title, group in (("Fitted", fit.fitted), ("Doubts of the prediction, as they come out with it", fit.doubts)):
        if not group:
            continue
        columns = {
            "": [f.parameter.words.removeprefix("the ") for f in group],
            "Case": [value_words(f.parameter, study.start.get(f.parameter.name, f.parameter.start)) for f in group],
            "Fitted": [value_words(f.parameter, f.value) for f in group],
            "95 % interval": [" to ".join(value_words(f.parameter, v) for v in f.interval) for f in group],
        }
        to.print(headed(title, columns, left=1))
    wide = "" if fit.widened == 1.0 else f"; the intervals are widened {fit.widened:.2g} times"
    to.print(f"Sum of squares {fit.chi_square:.1f} for {fit.freedom} degrees of freedom{wide}.")
    for sentence in fit.refused:
        to.print(f"Not fitted: {sentence}.", markup=False, soft_wrap=True)


def _print_json(case: Any, source: CaseSource, study: Study, notes: Sequence[str]) -> None:
    def fitted(group: Iterable[Fitted]) -> dict[str, object]:
        return {f.parameter.name: {"value": f.value, "interval": f.interval} for f in group}

    fit = study.fit
    result = {
        "readings": study.residuals,
        "fit": None if fit is None else {
            "fitted": fitted(fit.fitted), "doubts": fitted(fit.doubts), "refused": fit.refused,
            "chi_square": fit.chi_square, "freedom": fit.freedom, "widened": fit.widened,
        },
        "notes": tuple(notes),
    }
    sys.stdout.write(document("readings", case, source, result, _KEYS))


def _write(folder: Path, title: str, study: Study, made: str | None) -> list[str]:
    from ..output.figure_files import save_figure

    write_new(str(folder / FILES[0]), readings_csv(study), argument="--out", force=True)
    written = list(FILES)
    if made is not None:
        write_new(str(folder / FITTED), made, argument="--out", force=True)
        written.append(FITTED)
    try:
        save_figure(study.figures(title)["readings"], folder / FILES[1], folder / FILES[2])
    except OSError as error:
        raise OutputError(f"--out: the figure cannot be written ({error.strerror or error})") from None
    return written


def readings_csv(study: Study) -> str:
    """The residual table, SI units."""
    rows: list[tuple[Cell, ...]] = []
    for x in study.residuals:
        r = x.reading
        numbers = (r.value, r.uncertainty, x.predicted, x.doubt, x.difference, x.sigma, x.fitted, x.sigma_fitted)
        rows.append((r.line, r.label, UNITS[r.quantity], *numbers))
    return csv_text(HEADS, rows)


def _run_relative(case: Case, source: CaseSource, file: str, relative_to: str, quality: str, json: bool) -> None:
    from ..readings.file import read_readings
    from ..readings.relative import relative_strings

    measured = load_case(relative_to)
    readings = read_readings(find_readings(file), measured)

    with shown_progress(bar_only=json) as progress:
        found = relative_strings(measured, readings, case, quality=quality, progress=progress)
    names = source.name, find_case(relative_to).stem
    if json:
        result = {"relative_to": names[1], "strings": found}
        sys.stdout.write(document("readings", case, source, result, _KEYS))
        return
    _print_relative(found, *names, len(measured.string) == len(case.string), console())
    print_oddities(case, console())


def _relative_level(s: RelativeString) -> str:
    if math.isnan(s.level):
        return "–"
    return f"{s.level:+.1f} ({s.band[0]:+.1f} to {s.band[1]:+.1f})"


def _print_relative(found: Sequence[RelativeString], new: str, old: str, alike: bool, to: Console) -> None:
    columns = {
        "String": [str(s.number) for s in found],
        "S, measured one\nmV per m/s": [digits(s.measured * 1e3) for s in found],
        "S, this one\nmV per m/s": [digits(s.predicted * 1e3) for s in found],
        "This over that (range)\ndB": [_relative_level(s) for s in found],
    }
    if any(s.voltage is not None for s in found):
        columns["At the readings' drive\nmV"] = [
            "–" if s.voltage is None or s.uncertainty is None
            else f"{digits(s.voltage * 1e3)} ± {digits(s.uncertainty * 1e3)}" for s in found]
    title = f"{new} relative to {old}"
    to.print(headed(title, columns))
    to.print("Each at its own case's gap; the strings' steel and the drive are taken to be the same for both.")
    if not alike:
        to.print("Note: the two cases have different numbers of strings; those beyond are left out.")
