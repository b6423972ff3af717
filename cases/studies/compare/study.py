"""Designs that differ in some fields of a case, planned, computed and ranked: `stringflux compare` without a word."""

from __future__ import annotations

import os
from collections.abc import Mapping
from itertools import islice
from typing import Any

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.read import read_case

from ...files.load import built_in_uses, find_case, load_case, read_content
from ...solved.solve import solved_case
from ..designs.run import HERE, Progress, Running, run_designs, silent
from .comparison import CompareRequest, Comparison
from .fields import find_field
from .plan import Plan, Tasks
from .ranking import Rank, read_ranks, wanted
from .result import ComparedDesigns
from .variations import variation

TRIED = 1000  # designs that are read before all of them count as impossible


def compare(which: str | os.PathLike[str], asked: CompareRequest, *, changes: Mapping[str, Any] | None = None,
            quality: str = "normal", running: Running = HERE, progress: Progress = silent) -> ComparedDesigns:
    """Compute designs that differ in some fields of a case, and rank them.

    Parameters
    ----------
    which : str or path
        A case file, or the name of a shipped case.
    asked : CompareRequest
    changes : mapping of str to object, optional
        As of :func:`stringflux.cases.load_case`.
    quality : {"draft", "normal", "fine"}
    running : Running
        Where they are computed; here and now if left out.
    progress : callable
        Told of designs finished, designs in all, and how many of the finished ones failed.

    Returns
    -------
    ComparedDesigns
        A design that could not be computed has its reason.

    Raises
    ------
    CaseError
        When something is asked that the case does not have, or none of the designs is possible.

    Examples
    --------
    >>> from stringflux.cases import CompareRequest, compare
    >>> found = compare("bench-single", CompareRequest(vary={"strings.gap": ["2 mm", "3 mm"]}), quality="draft")
    >>> near, far = found.values("sensitivity")  # V·s/m
    >>> bool(near > far)
    True
    >>> found.order
    [0, 1]
    """
    planned = comparison_of(which, asked, changes=changes, quality=quality)
    possible(planned.tasks)
    outcomes = run_designs(planned.tasks, running, kind="compare", about=planned.about, progress=progress)
    return ComparedDesigns(asked=planned, outcomes=tuple(outcomes))


def comparison_of(which: str | os.PathLike[str], asked: CompareRequest, *,
                  changes: Mapping[str, Any] | None = None, quality: str = "normal") -> Comparison:
    """What is to be computed.

    Raises
    ------
    CaseError
        One sentence.
    """
    case, document = load_case(which, changes), read_content(which, changes)
    solved_case(case, quality)  # refused now, if it is; nothing is computed
    plan = Plan(variations=tuple(variation(find_field(field, document, case), given)
                                 for field, given in asked.vary.items()),
                combine=asked.combine, samples=asked.sample, seed=asked.seed)
    ranks = read_ranks(asked.rank, case)
    besides = [word for text in asked.want for word in text.split(",")]
    tasks = Tasks(document=document, plan=plan, quality=quality, want=wanted(ranks, besides, case))
    sampled = asked.combine == "sample"
    about = {
        "vary": dict(asked.vary), "combine": asked.combine, "sample": asked.sample if sampled else None,
        "seed": asked.seed if sampled else None,
    }
    return told(which, case, ranks, tasks, changes or {}, about)


def told(which: str | os.PathLike[str], case: Case, ranks: tuple[Rank, ...], tasks: Tasks,
         changes: Mapping[str, Any], more: Mapping[str, Any]) -> Comparison:
    """The comparison, with what its folder tells of it and `more`."""
    path = find_case(which)
    about = {
        "case": path.stem, "text": path.read_text(encoding="utf-8-sig"), "changes": dict(changes), **more,
        "quality": tasks.quality, "rank": [f"{rank.column}:{rank.better}" for rank in ranks], "want": tasks.want,
    }
    return Comparison(name=path.stem, case=case, plan=tasks.plan, ranks=ranks, tasks=tasks, about=about)


def possible(tasks: Tasks) -> None:
    """Refuse a study none of whose designs is a possible case; single ones become rows with their reason.

    Raises
    ------
    CaseError
        With the first design's fault.
    """
    uses, first = built_in_uses(), ""
    for task in islice(tasks, TRIED):
        try:
            read_case(task.document, materials=uses)
            return
        except CaseError as error:
            first = first or str(error)
    raise CaseError(f"none of the designs is possible; the first: {first}")
