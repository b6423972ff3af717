"""What `stringflux design` computes: which designs, by which figures, and whether turns are looked for in each."""

from __future__ import annotations

import copy
import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import shown

from ...files.load import load_case, read_content
from ...solved.direct_current import refuse_direct_current
from ...solved.solve import solved_case
from ...solved.windings import coil_windings
from ..compare.comparison import Comparison
from ..compare.fields import find_field
from ..compare.plan import Plan, Tasks
from ..compare.ranking import read_ranks, wanted
from ..compare.study import possible, told
from ..compare.variations import Variation, variation
from ..designs.evaluate import evaluate
from ..engine.task import Task
from .usual import usual_variations
from .wish import BY_TURNS, OPTION, Wish, read_wishes

if TYPE_CHECKING:
    from stringflux.solver.stages import Keep

FEW, LEAST = 0.05, 100.0
"""Where turns are looked for, designs are written with so small a part of them, which fits with any wire; under a
hundred a case wants whole ones."""
_AS_WOUND = ("resistance", "capacitance", "wound_build", "wound_builds", "taps")


@dataclass(frozen=True, kw_only=True)
class DesignRequest:
    """What is wanted, and what may change for it.

    Attributes
    ----------
    want : tuple of str
        Wishes: ``("peak=4.2kHz", "output>=+2dB over other.toml", "resistance<8kohm")``.
    vary : mapping of str to object
        As of :class:`~stringflux.cases.CompareRequest`; wires, turns and magnets of the tables if empty.
    rank : tuple of str
        Figures of the trade-off: output, hum over it and pull if empty, or what of that the case has.
    """

    want: tuple[str, ...]
    vary: Mapping[str, Any] = field(default_factory=dict)
    rank: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for name in ("want", "rank"):
            if isinstance(getattr(self, name), str):
                raise CaseError(f"{name}: received a text; write a tuple of texts")


@dataclass(frozen=True, kw_only=True)
class DesignPlan:
    """What is to be computed.

    Attributes
    ----------
    wishes : tuple of Wish
    levels : mapping
        What wishes count over: SI, by name of the figure and case.
    comparison : Comparison
        Of all the designs.
    sought : Wish or None
        The one by which turns are looked for in every design.
    notes : tuple of str
        What a person should know of it, in sentences.
    """

    wishes: tuple[Wish, ...]
    levels: Mapping[tuple[str, str], float]
    comparison: Comparison
    sought: Wish | None
    notes: tuple[str, ...]


def planned(which: str | os.PathLike[str], asked: DesignRequest, *, changes: Mapping[str, Any] | None = None,
            quality: str = "normal", keep: Keep | None = None,
            agreed: Callable[[int], None] = lambda count: None) -> DesignPlan:
    """What is to be computed; other cases that a wish counts over are computed now, after all that can be refused.

    Parameters
    ----------
    agreed : callable
        Told how many designs there are before anything is computed; it may refuse them.

    Raises
    ------
    CaseError
        One sentence.
    """
    changes = dict(changes or {})
    case, document = load_case(which, changes), read_content(which, changes)
    refuse_direct_current(case, "design")
    solved_case(case, quality)  # refused now, if it is; nothing is computed
    wishes = read_wishes(asked.want, case)
    ranks = read_ranks(asked.rank or _usual_ranks(case), case)
    given = [variation(find_field(path, document, case), values) for path, values in asked.vary.items()]
    turns = any(place.steps[-2:] == ("coil", "turns") for v in given for place in v.field.places)
    sought = None if turns else next((wish for wish in wishes if wish.aimed), None)
    notes: list[str] = []
    plan = Plan(variations=tuple(given)) if given else usual_variations(case, document, turns=sought is None,
                                                                       notes=notes)
    base = _base(document, case, plan.variations, few=sought is not None, turns=turns or not given, notes=notes)
    names = [*(wish.name for wish in wishes), "turns"]
    tasks = Tasks(document=base, plan=plan, quality=quality, want=wanted(ranks, names, case))
    agreed(len(plan))
    possible(tasks)
    levels = _levels(wishes, quality, keep)
    aim = f"{BY_TURNS[sought.name]} {sought.aim(levels):.9g}" if sought else ""
    tasks = replace(tasks, sought=aim)
    about = {"wishes": [wish.text for wish in wishes], "vary": dict(asked.vary), "sought": aim}
    return DesignPlan(wishes=wishes, levels=levels, sought=sought, notes=tuple(notes),
                      comparison=told(which, case, ranks, tasks, changes, about))


def _usual_ranks(case: Case) -> tuple[str, ...]:
    if case.strings.bridge_distance is None:
        return ("sensitivity", "hum_area")
    return ("output", "hum_per_output", "pull")


def _levels(wishes: Sequence[Wish], quality: str, keep: Keep | None) -> dict[tuple[str, str], float]:
    """The figures of other cases that wishes count over."""
    found: dict[tuple[str, str], float] = {}
    for wish in wishes:
        if not wish.over or (wish.name, wish.over) in found:
            continue
        other = evaluate(Task(number=0, document=read_content(wish.over), quality=quality, want=(wish.name,)), keep)
        level = other.values.get(wish.name, 0.0)
        if other.failure or level <= 0.0:
            why = other.failure or "it has no voltage; name a case with a charged magnet"
            raise CaseError(f"{OPTION}: received {shown(wish.text)}: {wish.over}: {why}")
        found[wish.name, wish.over] = level
    return found


def _base(document: Mapping[str, Any], case: Case, varied: Sequence[Variation], *, few: bool, turns: bool,
          notes: list[str]) -> dict[str, Any]:
    """The file's content without what was measured of the coils as they are, where these become others."""
    base = copy.deepcopy(dict(document))
    steps = [place.steps for v in varied for place in v.field.places]
    if not (few or turns or any(s[-2:-1] == ("coil",) for s in steps)):
        return base
    left_out: list[str] = []
    share = min(max(FEW, LEAST / min(coil.turns for coil in case.coils())), 1.0)
    tables = [base["coil"], *(other["coil"] for other in base.get("second_coil", []))]
    heads = ["coil", *(f"second_coil.{i}.coil" for i in range(1, len(tables)))]
    for head, table, coil, made in zip(heads, tables, case.coils(), coil_windings(case), strict=True):
        gone = [key for key in _AS_WOUND if key in table]
        if ("wire" in {s[-1] for s in steps if s[:-1] == tuple(head.split("."))}
                and "overall_diameter" in table):
            gone.append("overall_diameter")
        if "wound_build" in table or "wound_builds" in table:
            table["fill"] = round(made.packed, 4)
        for key in gone:
            del table[key]
        left_out += [f"{head}.{key}" for key in gone if key != "taps"]
        if few:
            table["turns"] = coil.turns * share
    if left_out:
        notes.append(f"{', '.join(left_out)}: as measured of the coil that there is, so it is not used of others"
                     + (", but for how full it was wound" if any("wound_build" in k for k in left_out) else "") + ".")
    return base


def chosen(comparison: Comparison, kept: Sequence[int]) -> Comparison:
    """The comparison of some of its designs alone, by their numbers from 0."""
    plan = comparison.plan
    numbers = tuple(kept if plan.kept is None else (plan.kept[i] for i in kept))
    plan = replace(plan, kept=numbers)
    return replace(comparison, plan=plan, tasks=replace(comparison.tasks, plan=plan))
