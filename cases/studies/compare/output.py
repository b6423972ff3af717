"""What a comparison of designs prints and writes: a ranking, a table, a figure of the trade-off, a document."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from stringflux.geometry.errors import WriteError
from stringflux.geometry.units import KINDS
from stringflux.postprocess.figures.style import legible

from ...files.load import built_in_uses
from ...output.document import CaseSource, document
from ...output.figure_files import save_figure
from ...terminal.field import HEADS, field_cell
from ...terminal.tables import Column, console, fitting, table
from ..designs.outputs import figure_of
from ..designs.table import InputColumn, write_table
from ..engine.task import Outcome
from .comparison import Comparison
from .ranking import unit_words
from .result import ComparedDesigns, readable_unit

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from rich.console import Console

_ROWS = 40
_FAULTS = 10


def print_ranking(found: ComparedDesigns, units: str = "both") -> None:
    """The designs, best first, and those that failed; flux densities in `units`, as of `--units`."""
    to, asked = console(), found.asked
    to.print(asked.case.title or "Untitled case", style="bold", markup=False)
    said = ", then ".join(f"{r.column} ({r.better} is better)" for r in asked.ranks)
    to.print(f"Ranked by {said}.", markup=False)
    print_designs(found, to, found.main, len(asked.ranks), units=units)
    print_failed(found, to)


def print_designs(found: ComparedDesigns, to: Console, names: Sequence[str], least: int, *,
                  marked: bool = True, units: str = "both") -> None:
    """The designs that did not fail, best first, with as many figures as there is room for, at least so many."""
    asked, outcomes, order = found.asked, found.outcomes, found.order
    best = found.best if marked and len(asked.ranks) > 1 else frozenset()
    shown = order[:_ROWS]
    if order:
        numbers = (f"{outcomes[i].number + 1}{' •' if i in best else '  '}" for i in shown)
        lead = [Column(head="Design", cells=tuple(numbers))]
        rows = [asked.plan[i] for i in shown]
        for place, v in enumerate(asked.plan.variations):
            lead.append(Column(head=_broken(v.field.path), cells=tuple(row[place].text for row in rows)))
        figures = [_column(name, outcomes, shown, units) for name in names]
        for count in range(len(figures), 0, -1):
            made = fitting("Designs", [*lead, *figures[:count]], to, left=0)
            if made is not None or count <= least:
                to.print(made or table("Designs", [*lead, *figures[:count]], loose=False))
                break
    if best:
        to.print(f"•: no other design is as good in {listed([r.column for r in asked.ranks])} and better in one.",
                 markup=False)
    if len(order) > _ROWS:
        to.print(f"{len(order) - _ROWS} more designs stand in the table of the folder.")
    for note in _crowded(found, shown):
        to.print(f"Note: {note}.", markup=False, soft_wrap=True)


def print_failed(found: ComparedDesigns, to: Console) -> None:
    """The designs that failed, and of what."""
    asked, outcomes = found.asked, found.outcomes
    failed = [o for o in outcomes if o.failure]
    if failed:
        to.print(f"\nFailed: {len(failed)} of {len(outcomes)} designs", style="bold")
    for o in failed[:_FAULTS]:
        to.print(f"{o.number + 1} ({design_words(asked, o.number)}): {o.failure}", markup=False)
    if len(failed) > _FAULTS:
        to.print(f"{len(failed) - _FAULTS} more stand in the table of the folder.")


def _crowded(found: ComparedDesigns, shown: Sequence[int]) -> list[str]:
    """What is to be said of designs with more turns than windings usually hold, of all alike once."""
    from stringflux.geometry.reading.check_sense import crowded
    from stringflux.geometry.reading.read import read_case

    from ...jobs.wind import case_wound_on

    uses, said = built_in_uses(), dict[str, list[int]]()
    for i in sorted(shown):
        case = read_case(found.asked.tasks[i].document, materials=uses)
        if found.asked.tasks.sought:  # its document has few turns, from which they were looked for
            case = case_wound_on(case, found.outcomes[i].values["turns"] / case.coil.turns, whole=True)
        for sentence in crowded(case):
            said.setdefault(sentence, []).append(found.outcomes[i].number + 1)
    return [sentence if len(of) == len(shown) else f"design {', '.join(map(str, of))}: {sentence}"
            for sentence, of in said.items()]


def design_words(asked: Comparison, number: int) -> str:
    """What is varied in a design, by its number from 0."""
    return ", ".join(f"{v.field.path} {value.text}" for v, value in
                     zip(asked.plan.variations, asked.plan[number], strict=True))


def _column(name: str, outcomes: Sequence[Outcome], shown: Sequence[int], units: str) -> Column:
    figure, values = figure_of(name), [outcomes[i].values.get(name, math.nan) for i in shown]
    field = figure.unit == "T"
    cells = tuple((field_cell(v, units) if field and math.isfinite(v) else _number(v / figure.size)) for v in values)
    unit = HEADS[units] if field else unit_words(figure)
    return Column(head=f"{_broken(name.replace('_', ' ').capitalize())}\n{unit}", cells=cells)


def _number(value: float) -> str:
    return legible(value) if math.isfinite(value) else "–"


def _broken(words: str) -> str:
    """A long head in two lines, at a blank or a point near its middle."""
    places = [i + 1 for i, letter in enumerate(words) if letter in " ."]
    if len(words) < 13 or not places:
        return words
    cut = min(places, key=lambda i: abs(i - len(words) / 2))
    return f"{words[:cut].rstrip()}\n{words[cut:]}"


def listed(words: Sequence[str]) -> str:
    """Words as a sentence has them."""
    return ", ".join(words[:-1]) + f" and {words[-1]}" if len(words) > 1 else words[0]


def write_comparison(folder: Path, found: ComparedDesigns,
                     figures: Callable[[], Mapping[str, Figure]] | None = None) -> None:
    """``table.csv``, ``table.parquet``, and the figures, its own if none are given."""
    plan, outcomes = found.asked.plan, found.outcomes
    rows = list(plan)
    inputs = [
        InputColumn(name=v.field.path, unit=v.field.unit, values=[row[i] for row in rows],
                    shown=readable_unit(v)[1])
        for i, v in enumerate(plan.variations)
    ]
    write_table(folder, outcomes, inputs=inputs)
    try:
        for name, figure in (figures or found.figures)().items():
            save_figure(figure, folder / f"{name}.png", folder / f"{name}.svg")
    except OSError as error:
        raise WriteError(f"the figure cannot be written into {folder} ({error.strerror or error}); the designs are "
                         "kept, make room and run the same command with --resume") from None


def comparison_document(found: ComparedDesigns, source: CaseSource, folder: Path) -> str:
    """One JSON document: what was varied, the ranking, every design with its inputs and figures in SI."""
    return document("compare", found.asked.case, source, comparison_result(found, folder), figure_units(found))


def figure_units(found: ComparedDesigns) -> dict[str, str]:
    """SI units of the figures that a study has."""
    return {name: figure_of(name).unit for name in dict.fromkeys(name for o in found.outcomes for name in o.values)}


def comparison_result(found: ComparedDesigns, folder: Path) -> dict[str, Any]:
    """What a document says of the designs."""
    asked, outcomes, order, best = found.asked, found.outcomes, found.order, found.best
    fields = [v.field for v in asked.plan.variations]
    return {
        "quality": asked.tasks.quality, "combine": asked.plan.combine,
        "varied": {f.path: {"unit": f.unit, "dimension": KINDS[f.kind].name if f.kind else ""} for f in fields},
        "rank": [{"figure": r.column, "better": r.better} for r in asked.ranks],
        "order": [outcomes[i].number + 1 for i in order],
        "designs": [
            {
                "design": o.number + 1, "best": i in best,
                "inputs": {f.path: {"value": value.si, "as_written": value.text}
                           for f, value in zip(fields, asked.plan[i], strict=True)},
                "values": {name: v if math.isfinite(v) else None for name, v in o.values.items()},
                "failure": o.failure,
            }
            for i, o in enumerate(outcomes)
        ],
        "folder": str(folder),
    }
