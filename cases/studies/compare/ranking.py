"""Which design is best: by which figures, which way, and in what order that puts them."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import printed_unit, shown

from ..designs.outputs import COMMON, Figure, figure_of, wanted_figures, without_value
from ..engine.task import Outcome

_WAYS: dict[str, Literal["more", "less"]] = {"more": "more", "less": "less"}


@dataclass(frozen=True, kw_only=True)
class Rank:
    """A figure to rank by, and which way is better."""

    column: str
    figure: Figure
    better: Literal["more", "less"]

    def cost(self, outcome: Outcome) -> float:
        """Less is better; nine digits, for what lies below is rounding. A design without the figure comes last."""
        value = outcome.values.get(self.column, math.nan)
        if math.isnan(value):
            return math.inf
        return float(f"{-value if self.better == 'more' else value:.9g}")


def read_ranks(given: Iterable[str], case: Case) -> tuple[Rank, ...]:
    """``["output,pull"]`` or ``["inductance:more"]``; sensitivity, then balance, if nothing is given.

    Raises
    ------
    CaseError
        For a figure that there is none of; near matches are named.
    """
    words = [word.strip() for text in given for word in text.split(",")]
    ranks = [_read(word, case) for word in words or (("sensitivity", "balance") if len(case.string) > 1 else
                                                     ("sensitivity",))]
    columns = [rank.column for rank in ranks]
    for column in columns:
        if columns.count(column) > 1:
            raise CaseError(f"--rank: received {shown(column)} twice; write it once")
    return tuple(ranks)


def _read(word: str, case: Case) -> Rank:
    column, colon, way = (part.strip() for part in word.partition(":"))
    if not column or (colon and way not in _WAYS):
        raise CaseError(f"--rank: received {shown(word)}; write FIGURE, FIGURE:more or FIGURE:less")
    try:
        figure = figure_of(column)
    except CaseError as error:
        raise CaseError(f"--rank: {error}") from None
    single = re.match(r"(string|pole)_([0-9]+)_", column)
    if single:
        most = len(case.string) if single[1] == "string" else sum(len(row.row.places()) for row in case.rows())
        if int(single[2]) > most:
            raise CaseError(f"--rank: received {shown(column)}; the case has {most} {single[1]}s")
    return Rank(column=column, figure=figure, better=_WAYS[way or figure.better or "less"])


def ranked(outcomes: Sequence[Outcome], ranks: Sequence[Rank]) -> list[int]:
    """Indices of the designs that did not fail, best first; equal ones in the study's order.

    Where the first figure is equal the next one decides.
    """
    good = [i for i, outcome in enumerate(outcomes) if not outcome.failure]
    return sorted(good, key=lambda i: [rank.cost(outcomes[i]) for rank in ranks])


def best_trade_offs(outcomes: Sequence[Outcome], ranks: Sequence[Rank]) -> frozenset[int]:
    """Indices of designs than which no other is at least as good in all figures and better in one."""
    good = ranked(outcomes, ranks)
    costs = {i: [rank.cost(outcomes[i]) for rank in ranks] for i in good}

    def dominated(i: int, by: int) -> bool:
        return costs[by] != costs[i] and all(a <= b for a, b in zip(costs[by], costs[i], strict=True))

    kept: list[int] = []
    for i in good:  # whoever dominates another stands before it
        if all(map(math.isfinite, costs[i])) and not any(dominated(i, j) for j in kept):
            kept.append(i)
    return frozenset(kept)


def wanted(ranks: Sequence[Rank], also: Iterable[str] = (), case: Case | None = None) -> tuple[str, ...]:
    """Figures to compute: those of the ranking, those asked for, the common ones.

    In an order of their own, so that a study ranked by something else of the same is the same study.

    Parameters
    ----------
    case : Case, optional
        What it has no value for is refused, or left out where nobody asked for it.
    """
    absent = {} if case is None else without_value(case)
    asked = {"--rank": [rank.column for rank in ranks], "--want": list(also)}
    found = [name for name in COMMON if name not in absent]
    for option, columns in asked.items():
        try:
            names = wanted_figures(columns) if columns else ()
        except CaseError as error:
            raise CaseError(f"{option}: {error}") from None
        if refused := [absent[name] for name in names if name in absent]:
            raise CaseError(f"{option}: {refused[0]}")
        found += names
    return wanted_figures(found)


def unit_words(figure: Figure) -> str:
    """The unit that people read a figure in, as they write it."""
    return printed_unit(figure.shown)
