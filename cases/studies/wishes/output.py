"""What a search for designs prints and writes: those that meet all wishes, or what is in the way; a document."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from stringflux.postprocess.figures.style import legible

from ...files.changed import inline
from ...files.start import next_line
from ...files.whole import write_whole
from ...output.document import CaseSource, document
from ...terminal.field import field_words
from ...terminal.tables import console
from ..compare.output import (
    comparison_result,
    design_words,
    figure_units,
    listed,
    print_designs,
    print_failed,
    write_comparison,
)
from ..compare.ranking import unit_words
from ..designs.outputs import figure_of
from ..designs.table import CSV, PARQUET
from .result import FoundDesigns, InTheWay
from .wish import Wish

if TYPE_CHECKING:
    from rich.console import Console

DOCUMENT = "design.json"
_FEW = 12
"""So many designs are all shown; of more those that no other betters."""


def print_found(found: FoundDesigns, which: str, units: str = "both") -> None:
    """The wishes, the designs that meet them with their trade-off, or which wishes are in the way; flux densities in
    `units`, as of `--units`."""
    to, asked = console(), found.asked
    to.print(asked.comparison.case.title or "Untitled case", style="bold", markup=False)
    for line in (*_wished(found, units), *asked.notes):
        to.print(line, markup=False, soft_wrap=True)
    if found.meeting is not None:
        _print_meeting(found, to, which, units)
    elif found.every.order:
        for line in _way_words(found, units):
            to.print(line, markup=False, soft_wrap=True)
        nearest = found.of(list(dict.fromkeys(one.designs[0] for one in found.in_the_way)))
        print_designs(nearest, to, _columns(found), len(asked.wishes), marked=False, units=units)
    print_failed(found.every, to)


def _wished(found: FoundDesigns, units: str) -> Iterator[str]:
    asked = found.asked
    for place, wish in enumerate(asked.wishes):
        count = sum(not misses[place] for misses in found.misses)
        sought = "; turns are looked for by it in every design" if wish is asked.sought else ""
        yield (f"Wanted: {wish.text}, {_band(wish, found, units)}{sought}. Met by {count} of {len(found.outcomes)} "
               "designs.")


def _designs(count: int) -> str:
    return f"{count} {'design' if count == 1 else 'designs'}"


def _band(wish: Wish, found: FoundDesigns, units: str) -> str:
    """What of a figure counts as met: "3.99 to 4.41 kHz"."""
    low, high = wish.ends(found.asked.levels)
    name = wish.name.replace("_", " ")
    if math.isinf(low):
        return f"{name} up to {_with_unit(wish.name, high, units)}"
    if math.isinf(high):
        return f"{name} from {_with_unit(wish.name, low, units)} on"
    figure, end = figure_of(wish.name), _with_unit(wish.name, high, units)
    begin = _with_unit(wish.name, low, units) if figure.unit == "T" else legible(low / figure.size)
    return f"{name} {begin} to {end}"


def _with_unit(name: str, value: float, units: str) -> str:
    """A figure as people read it; flux densities in `units`."""
    figure = figure_of(name)
    if figure.unit == "T":
        return field_words(value, units)
    return f"{legible(value / figure.size)} {unit_words(figure)}".rstrip()


def _columns(found: FoundDesigns) -> list[str]:
    """Figures of the table: turns where they were looked for, the wishes', the ranking's, then what else differs."""
    first = ["turns"] if found.asked.sought else []
    wished = [wish.name for wish in found.asked.wishes]
    main = (found.meeting or found.every).main
    rest = [name for name in main if name != "turns"]
    return list(dict.fromkeys([*first, *wished, *rest]))


def _print_meeting(found: FoundDesigns, to: Console, which: str, units: str) -> None:
    meeting, asked = found.meeting, found.asked.comparison
    assert meeting is not None
    by = listed([f"{r.column} ({r.better} is better)" for r in asked.ranks])
    count, best = len(meeting.outcomes), len(meeting.best)
    traded = (f"{best} of them {'is' if best == 1 else 'are'} bettered by no other" if best
              else "none of them has a value of each, so nothing is traded")
    to.print(f"\n{_designs(count)} of {len(found.outcomes)} "
             f"{'meets' if count == 1 else 'meet'} all wishes; the trade-off is in {by}: {traded}.", style="bold",
             markup=False, soft_wrap=True)
    shown = meeting
    if count > _FEW:
        to.print("These, of the others the table in the folder tells:")
        shown = found.of([found.met[i] for i in sorted(meeting.best)])
    print_designs(shown, to, _columns(found), len(found.asked.wishes) + len(asked.ranks), units=units)
    first = meeting.outcomes[meeting.order[0]].number
    to.print(f"Design {first + 1} is computed in full by\n  {_line(found, first, which)}", markup=False,
             soft_wrap=True)


def _line(found: FoundDesigns, number: int, which: str) -> str:
    """The command that computes a design."""
    own = found.asked.comparison.about["changes"]
    changes = {**{path: value if isinstance(value, str) else inline(value) for path, value in own.items()},
               **changes_of(found, number)}
    return next_line("predict", which, *(word for change in changes.items() for word in ("--set", "=".join(change))))


def changes_of(found: FoundDesigns, number: int) -> dict[str, str]:
    """What a design changes of the case's file, by dotted path, as `--set` takes it."""
    asked, made = found.asked.comparison, dict[str, str]()
    for v, value in zip(asked.plan.variations, asked.plan[number], strict=True):
        made |= {".".join(place.steps): value.text for place in v.field.places}
    if found.asked.sought is not None:
        own = asked.case.coils()
        turns = found.outcomes[number].values["turns"]
        for i, coil in enumerate(own):
            path = f"second_coil.{i}.coil.turns" if i else "coil.turns"
            made[path] = f"{max(round(turns * coil.turns / own[0].turns), 1)}"
    return made


def _way_words(found: FoundDesigns, units: str) -> Iterator[str]:
    yield "\nNo design meets all wishes."
    wishes, ways = found.asked.wishes, found.in_the_way
    if ways and len(ways[0].wishes) > 1:
        yield f"No single wish is in the way: {len(ways[0].wishes)} at least must go."
    for way in ways:
        names = listed([wishes[w].text for w in way.wishes])
        one = len(way.wishes) == 1
        count = len(way.designs)
        yield (f"In the way: {names}. Without {'it' if one else 'them'} {_designs(count)} "
               f"{'meets' if count == 1 else 'meet'} the rest; the nearest has {_has(found, way, units)}: "
               f"design {way.designs[0] + 1} ({design_words(found.asked.comparison, way.designs[0])}).")
    for place, wish in enumerate(wishes):
        if all(misses[place] for misses in found.misses):
            yield f"{wish.text}: no design has that; {_span(found, wish, units)}."


def _has(found: FoundDesigns, way: InTheWay, units: str) -> str:
    """What the nearest design has of the figures that were wished."""
    values = found.outcomes[way.designs[0]].values
    return listed([_said(found.asked.wishes[w].name, values.get(found.asked.wishes[w].name, math.nan), units)
                   for w in way.wishes])


def _said(name: str, value: float, units: str) -> str:
    words = name.replace("_", " ")
    return f"{words} {_with_unit(name, value, units)}" if math.isfinite(value) else f"no {words}"


def _span(found: FoundDesigns, wish: Wish, units: str) -> str:
    """The values that designs have of a figure."""
    values = [v for v in found.every.values(wish.name) if math.isfinite(v)]
    if not values:
        return f"none has any {wish.name.replace('_', ' ')}"
    return f"they have {_with_unit(wish.name, min(values), units)} to {_with_unit(wish.name, max(values), units)}"


def write_found(folder: Path, found: FoundDesigns, text: str) -> None:
    """The tables of all designs, the figure, and the document.

    Raises
    ------
    WriteError
        If the disk is full.
    """
    write_comparison(folder, found.every, found.figures)
    write_whole(folder / DOCUMENT, text.encode())


def found_document(found: FoundDesigns, source: CaseSource, folder: Path) -> str:
    """One JSON document: what `compare` tells of designs, the wishes, who meets them, and what is in the way."""
    asked, met = found.asked, set(found.met)
    result: dict[str, Any] = comparison_result(found.every, folder)
    trade_off = {i for n, i in enumerate(found.met) if found.meeting is not None and n in found.meeting.best}
    for i, one in enumerate(result["designs"]):
        one |= {"best": i in trade_off, "meets": i in met,
                "missed": [w for w, miss in zip(_texts(asked.wishes), found.misses[i], strict=True) if miss]}
    result |= {
        "sought": None if asked.sought is None else asked.sought.text,
        "wishes": [_wish(found, w) for w in range(len(asked.wishes))],
        "met": [i + 1 for i in (() if found.meeting is None else (found.met[n] for n in found.meeting.order))],
        "in_the_way": [{"wishes": [asked.wishes[w].text for w in way.wishes],
                        "designs": [i + 1 for i in way.designs]} for way in found.in_the_way],
        "notes": list(asked.notes),
    }
    files = (CSV, PARQUET, *((f"trade_off.{form}" for form in ("png", "svg")) if found.every.order else ()))
    return document("design", asked.comparison.case, source, result, figure_units(found.every), files)


def _wish(found: FoundDesigns, place: int) -> dict[str, Any]:
    wish = found.asked.wishes[place]
    low, high = wish.ends(found.asked.levels)
    return {"wish": wish.text, "figure": wish.name, "over": wish.over, "unit": figure_of(wish.name).unit,
            "low": _finite(low), "high": _finite(high), "designs": sum(not misses[place] for misses in found.misses)}


def _texts(wishes: Sequence[Wish]) -> list[str]:
    return [wish.text for wish in wishes]


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None
