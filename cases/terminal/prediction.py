"""The prediction as a winder reads it: string by string, then the poles and the coil."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from rich.console import Console
from rich.table import Table

from stringflux.geometry.notes import pitch_words
from stringflux.postprocess.records.prediction import PlaceRecord, StringRecord
from stringflux.postprocess.results.prediction import Prediction

from .field import HEADS, band_cell, field_cell
from .lengths import MILLIMETRES, Inches, length_cell, length_head, length_unit
from .tables import Column, digits, fitting, table
from .turns import print_turns

STRONG, WEAK = "▲", "▼"


def print_prediction(prediction: Prediction, to: Console, told: Sequence[str] = (), units: str = "both",
                     inches: Inches = MILLIMETRES) -> None:
    """Tables of strings and poles, the coil, and what the marks mean; then what is `told` of the coils."""
    title = prediction.title or "Untitled case"
    to.print(f"{title} (quality {prediction.quality})", style="bold", markup=False)
    several = len(prediction.strings) > 1
    names, physics = _names(prediction.strings), _physics(prediction.strings, units, inches)
    balance = _balance(prediction.strings) if several else []
    whole = fitting("Strings", [*names, *physics, *balance], to)
    if whole is not None:
        to.print(whole)
    else:  # narrow: in two
        for made in _pieces("Strings", names, physics, to):
            to.print(made)
        if balance:
            to.print(table("Balance of the strings", [*names, *balance]))
    if several:
        to.print(
            f"{STRONG} strongest, {WEAK} weakest, in dB: by S; at equal pluck force; at equal pluck distance."
        )
    if len(prediction.strings[0].over) > 1:
        to.print("Gap and field: over the row or coil of that name.")
    to.print("S: voltage per speed of the string, up and down or across; brackets and ±: doubt about its metal.")
    if prediction.poles:
        to.print(_poles(prediction, units, inches))
    if prediction.quarter_turns:
        print_turns(prediction, to)
    _print_coils(prediction, to)
    for sentence in told:
        to.print(sentence, markup=False, soft_wrap=True)
    if prediction.solver == "solid":
        to.print(f"Solver: 3-D: {prediction.why}.", markup=False)
    elif prediction.solver == "plane":
        to.print(f"Solver: a plane across long bars, with their ends: {prediction.why}.", markup=False)
    for note in prediction.notes:
        to.print(f"Note: {note}", markup=False)


def _pieces(title: str, names: list[Column], columns: list[Column], to: Console) -> list[Table]:
    """One table, or several under each other, so that no number is cut off: each has as many columns as fit."""
    made, rest = list[Table](), columns
    while rest:
        count = next((n for n in range(len(rest), 1, -1) if fitting(title, [*names, *rest[:n]], to)), 1)
        head, rest = [*names, *rest[:count]], rest[count:]
        made.append(fitting(title, head, to) or table(title, head))
    return made


def _print_coils(prediction: Prediction, to: Console) -> None:
    """Each coil, how each two are coupled, and what they make together."""
    whole = prediction.coil
    around = "its poles" if prediction.solver == "row" else "the bodies"
    if len(prediction.coils) > 1:
        for coil in prediction.coils:
            to.print(
                f"Coil {coil.name}: {coil.turns:g} turns; {inductance(coil.inductance)} with {around}, "
                f"{inductance(coil.inductance_air)} in air.",
                markup=False,
            )
        for pair in prediction.pairs:
            to.print(
                f"{pair.first} and {pair.second}: mutual inductance {inductance(pair.mutual)}, "
                f"coupling {pair.coupling:.3f}.",
                markup=False,
            )
        head = f"Together ({prediction.connection})"
    else:
        head = f"Coil: {whole.turns:g} turns"
    to.print(
        f"{head}: {inductance(whole.inductance)} with {around}, {inductance(whole.inductance_air)} in air.".replace(
            " turns: ", " turns; "
        ),
        markup=False,
    )


def print_details(prediction: Prediction, to: Console) -> None:
    """What `-v` adds: how the poles act on each other, and the time of every stage."""
    if prediction.solver == "row":
        bias, signal = prediction.rounds
        to.print(
            f"Neighbours change a pole's magnetisation by up to {prediction.coupling:.1%}; "
            f"{bias} rounds for the magnets, {signal} for the coil."
        )
    cells = sorted(prediction.timings.items(), key=lambda item: -item[1])
    to.print(
        table(
            "Time",
            [
                Column(head="Stage", cells=tuple(name.replace("_", " ") for name, _ in cells)),
                Column(head="s", cells=tuple(f"{seconds:.2f}" for _, seconds in cells)),
            ],
            left=1,
        )
    )


def inductance(value: float) -> str:
    """In H, or mH where it is small."""
    return f"{value:.3g} H" if abs(value) >= 0.1 else f"{value * 1e3:.3g} mH"


def _names(strings: Sequence[StringRecord]) -> list[Column]:
    pitch = tuple(pitch_words(s.pitch) for s in strings)
    return [
        Column(head="No.", cells=tuple(str(s.number) for s in strings)),
        Column(head="Pitch", cells=pitch),
    ]


def _physics(strings: Sequence[StringRecord], units: str, inches: Inches) -> list[Column]:
    def column(head: str, cell: Callable[[StringRecord], str]) -> Column:
        return Column(head=head, cells=tuple(cell(s) for s in strings))

    return [
        *_over(strings, "Gap", length_unit(inches=inches.gap),
               lambda s: length_cell(s.gap, inches=inches.gap), lambda p: length_cell(p.gap, inches=inches.gap)),
        *_over(strings, "Field at\nstring", HEADS[units], lambda s: field_cell(s.bias[2], units),
               lambda p: field_cell(p.bias[2], units)),
        column("Flux\nlinkage\nµWb", lambda s: digits(s.linkage * 1e6)),
        column("S (range)\nmV per m/s", _sensitivity),
        column("S\nacross\nmV per\nm/s", lambda s: digits(s.sensitivity_across * 1e3)),
        column("0.1 mm\ncloser\ndB", lambda s: _change(-1e-4 * s.gap_slope)),
        column("B in\nsteel\nT", lambda s: f"{s.peak_flux_density:.2f}"),
    ]


def _over(strings: Sequence[StringRecord], head: str, unit: str, one: Callable[[StringRecord], str],
          there: Callable[[PlaceRecord], str]) -> list[Column]:
    """One column, or one over every coil that has a place of its own."""
    places = strings[0].over
    if len(places) < 2 or (head == "Gap" and any(math.isnan(p.gap) for p in places)):
        return [Column(head=f"{head}\n{unit}", cells=tuple(one(s) for s in strings))]
    return [Column(head=f"{head}\n{place.name}\n{unit}", cells=tuple(there(s.over[k]) for s in strings))
            for k, place in enumerate(places)]


def _sensitivity(s: StringRecord) -> str:
    if not s.heard:
        return "0"
    low, high = (digits(v * 1e3) for v in s.sensitivity_band)
    return f"{digits(s.sensitivity * 1e3)} ({low}–{high})"


def _balance(strings: Sequence[StringRecord]) -> list[Column]:
    by_s = [f"{s.balance:.1f} ± {_doubt(s):.1f}" if s.heard else "–" for s in strings]
    columns = [("balance\nby S", by_s, [s.balance for s in strings])]
    for head, values in (
        ("equal\npluck\nforce", [s.balance_force for s in strings]),
        ("equal\npluck\ndistance", [s.balance_displacement for s in strings]),
    ):
        columns.append((head, [_level(v) for v in values], values))
    return [Column(head=f"{head}\ndB", cells=_marked(cells, values)) for head, cells, values in columns]


def _level(value: float) -> str:
    return "–" if math.isnan(value) else f"{value:.1f}"


def _change(value: float) -> str:
    return "–" if math.isnan(value) else f"{value:+.2f}"


def _doubt(s: StringRecord) -> float:
    """The farther end of the band."""
    return max(abs(end - s.balance) for end in s.balance_band)


def _marked(cells: Sequence[str], values: Sequence[float]) -> tuple[str, ...]:
    heard = [v for v in values if not math.isnan(v)]
    mark = {values.index(min(heard)): WEAK, values.index(max(heard)): STRONG} if len(heard) > 1 else {}
    # -0.0 is an odd thing to read
    return tuple(f"{c.replace('-0.0', '0.0')} {mark.get(i, ' ')}" for i, c in enumerate(cells))


def _poles(prediction: Prediction, units: str, inches: Inches) -> Table:
    poles = prediction.poles
    fields = [band_cell(p.field, p.field_band if p.band_counts else None, units) for p in poles]
    ranges = " (range)" if any(p.band_counts for p in poles) else ""
    head = f"Field {prediction.probe_height * 1e3:g} mm over it{ranges}\n{HEADS[units]}"
    place = [Column(head="Along\nmm", cells=tuple(f"{p.x * 1e3:.2f}" for p in poles))]
    columns = [
        Column(head="No.", cells=tuple(str(p.number) for p in poles)),
        *(place if len({p.x for p in poles}) > 1 else []),
        Column(head=length_head("Face at", inches=inches.face),
               cells=tuple(length_cell(p.face, inches=inches.face) for p in poles)),
        Column(head="Up", cells=tuple("N" if p.field > 0 else "S" if p.field < 0 else "–" for p in poles)),
        Column(head=head, cells=tuple(fields)),
    ]
    return table("Poles", columns)
