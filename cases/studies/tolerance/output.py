"""What a tolerance study prints and writes: spread, causes, shares, a figure, a table of the computed designs."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from rich.console import Console

from stringflux.geometry.case.model import Case
from stringflux.geometry.units import mm

from ...files.whole import write_whole
from ...output.document import CaseSource, document
from ...output.figure_files import save_figure
from ...terminal.field import unit_lines
from ...terminal.tables import Column, console, digits, table
from ..designs.outputs import figure_of
from ..designs.table import InputColumn, write_table
from ..engine.task import Outcome
from .cause import Cause
from .causes import LENGTHS
from .result import WORDS, LimitShare, QuantityScatter, ToleranceStudy, unit_of
from .shares import SURE
from .study import TolerancePlan

SUMMARY = "tolerance.json"
POOR = 0.25  # error of the surrogate over the standard deviation, from which on it is not to be trusted
MOVED_TOGETHER = ("To spare 3-D solutions, heights and magnets of a row were off together in these runs, and each "
                  "string answers for the pole under it.")
_LEAST = 0.005  # shares of a variance below this are left out of the table
_HEADS = {"output": "Output", "output_balance": "Balance\nby output", "sensitivity": "Sensi-\ntivity",
          "balance": "Balance\nby S", "face_field": "Field\nover faces", "resistance": "Resist-\nance",
          "inductance": "Induct-\nance"}


def print_study(study: ToleranceStudy, title: str, units: str = "both") -> None:
    """Everything on the terminal; flux densities in `units`, as of `--units`."""
    to = console()
    to.print(title or "Untitled case", style="bold", markup=False)
    _print_causes(study, to)
    _print_spread(study, to, units)
    _print_importance(study, to)
    if study.limits:
        _print_limits([*study.limits, *([study.together] if study.together else [])], to)


def _print_causes(study: ToleranceStudy, to: Console) -> None:
    causes = study.causes.active
    made = table("What scatters", [
        Column(head="Cause", cells=tuple(c.title for c in causes)),
        Column(head="Limit", cells=tuple(_limit(c) for c in causes)),
        Column(head="Why", cells=tuple(c.reason for c in causes)),
    ], left=3)
    made.columns[-1].no_wrap = False
    to.print(made)
    to.print("Normal, with the limits at three standard deviations and nothing beyond; \"even\": alike between them.")
    if study.causes.correlation:
        to.print(f"Remanence and coercivity go together with a correlation of {study.causes.correlation:g}.")
    for name, why in study.causes.off.items():
        to.print(f"No scatter of {name}: {why}.", markup=False)


def _limit(cause: Cause) -> str:
    size = mm(cause.limit) if cause.name in LENGTHS else f"{100 * cause.limit:.3g} %"
    if cause.own:  # shares only: lengths have one limit
        size = f"{100 * min(cause.own.values()):.3g} to {size}"
    return (f"−{size} to 0" if cause.one_sided else f"± {size}") + (", even" if cause.even else "")


def _print_spread(study: ToleranceStudy, to: Console, units: str) -> None:
    main = {n: s for n, s in study.scatter.items() if not n.startswith("string_")}
    lines = [(n, s, unit, size, i) for n, s in main.items()
             for i, (unit, size) in enumerate(unit_lines(unit_of(n), 1 / figure_of(n).size, units))]

    def sized(head: str, of: Callable[[QuantityScatter], float]) -> Column:
        return Column(head=head, cells=tuple(_digits(of(s) * size) for _, s, _, size, _ in lines))

    def once(head: str, of: Callable[[str, QuantityScatter], str]) -> Column:
        return Column(head=head, cells=tuple("" if i else of(n, s) for n, s, *_, i in lines))

    to.print(table("Spread from pickup to pickup", [
        once("Quantity\n", lambda n, s: WORDS[n]),
        Column(head="Unit\n", cells=tuple(unit for _, _, unit, *_ in lines)),
        sized("As it\nstands", lambda s: s.nominal),
        sized("Mean\n", lambda s: s.spread.mean),
        sized("Deviation\nσ", lambda s: s.spread.deviation),
        once("\nof mean", _relative),
        sized("5 %\n", lambda s: s.spread.low),
        sized("95 %\n", lambda s: s.spread.high),
        once("Surrogate's\nerror in σ", lambda n, s: f"{s.relative_error:.3f}"),
    ], left=2))
    single = {n: s for n, s in study.scatter.items() if n.startswith("string_")}
    to.print(table("Sensitivity, dB", [
        Column(head="String", cells=tuple(n.split("_")[1] for n in single)),
        Column(head="σ", cells=tuple(f"{_decibels(s.spread.mean + s.spread.deviation, s.spread.mean):.2f}"
                                     for s in single.values())),
        Column(head="5 %", cells=tuple(f"{_decibels(s.spread.low, s.nominal):+.2f}" for s in single.values())),
        Column(head="95 %", cells=tuple(f"{_decibels(s.spread.high, s.nominal):+.2f}" for s in single.values())),
    ]))
    count = next(iter(study.scatter.values())).sample.size
    to.print(f"{count} pickups of a surrogate: a quadratic in every deviation by itself, from "
             f"{study.runs} designed runs.")
    if study.causes.rows_together:
        to.print(MOVED_TOGETHER)
    to.print(f"Its error is what it misses of {study.checked} pickups that were computed with everything off at once "
             "(root mean square).")
    poor = [WORDS[n].lower() for n, s in main.items() if not s.relative_error <= POOR]
    if poor:
        to.print(f"Over a quarter of σ: do not rely on the spread of {', '.join(poor)}; narrow the limits.")
    for n, s in main.items():
        if s.doubt != SURE:
            low, high = (f"{100 * (x - 1) + 0.0:+.2g}" for x in s.doubt)
            to.print(f"{WORDS[n]}: what is unknown of magnets and steel for a signal adds {low} to {high} %, alike "
                     "in all pickups; it is no part of the spread.")
    for why in dict.fromkeys(study.impossible):
        to.print(f"{study.impossible.count(why)} pickups could not be: {why}.", markup=False)


def _print_importance(study: ToleranceStudy, to: Console) -> None:
    found = {n: s.importance for n, s in study.main.items() if s.importance is not None}
    order = sorted(study.causes.active, key=lambda c: -max(i.total[c.name][0] for i in found.values()))
    shown = [c for c in order if max(i.total[c.name][0] for i in found.values()) >= _LEAST]
    columns = [Column(head="Cause\n", cells=tuple(c.title for c in shown))]
    for name, i in found.items():
        cells = (i.total[c.name] for c in shown)
        columns.append(Column(head=_HEADS[name], cells=tuple(_share(cell) for cell in cells)))
    to.print(table("Which tolerance matters most: share of the variance, %", columns, left=1, loose=False))
    to.print("Sobol's total index: what is left of the variance when all else is exact; ± half its 95 % interval.")


def _share(cell: tuple[float, float, float]) -> str:
    value, low, high = (100 * c for c in cell)
    return "–" if value < 100 * _LEAST else f"{value:.0f} ±{max((high - low) / 2, 1):.0f}"


def _print_limits(shares: Sequence[LimitShare], to: Console) -> None:
    ends = [Column(head="Signals least, most", cells=tuple(_at_ends(s) for s in shares))] if any(
        s.ends for s in shares) else []
    to.print(table("Pickups inside the limits", [
        Column(head="Limit", cells=tuple(s.text for s in shares)),
        Column(head="Share", cells=tuple(f"{100 * s.sample.value:.1f} %" for s in shares)),
        Column(head="95 % interval", cells=tuple(_interval(s) for s in shares)),
        Column(head="Of those computed", cells=tuple(f"{s.true.count} of {s.true.of}" for s in shares)),
        *ends,
    ], left=1))
    if ends:
        to.print("Signals least, most: the share with what is unknown of magnets and steel at either end.")
    to.print("The interval is that of counting the sample; what scatters is known less well than that.")


def _interval(share: LimitShare) -> str:
    return f"{100 * share.sample.low:.1f} to {100 * share.sample.high:.1f} %"


def _at_ends(share: LimitShare) -> str:
    return "–" if share.ends is None else " and ".join(f"{100 * x:.1f}" for x in share.ends) + " %"


def _digits(shown: float) -> str:
    return digits(shown) if abs(shown) >= 1 else f"{shown:.3g}"


def _relative(name: str, s: QuantityScatter) -> str:
    if figure_of(name).unit == "dB":
        return "–"
    return f"{100 * s.spread.deviation / s.spread.mean:.1f} %"


def _decibels(value: float, against: float) -> float:
    return 20 * math.log10(value / against) if value > 0 else -math.inf


def tolerance_document(study: ToleranceStudy, about: Mapping[str, Any], case: Case, source: CaseSource) -> str:
    """The study as one JSON document; SI."""
    def share(s: LimitShare) -> dict[str, Any]:
        return {"limit": s.text, "share": s.sample.value, "low": s.sample.low, "high": s.sample.high,
                "computed_inside": s.true.count, "computed": s.true.of,
                **({} if s.ends is None else {"share_at_doubt": s.ends})}

    result = {
        "study": about,
        "causes": [{"name": c.name, "title": c.title, "limit": c.limit, "unit": "m" if c.name in LENGTHS else "1",
                    "one_sided": c.one_sided, "distribution": "even" if c.even else "normal", "given": c.given,
                    "reason": c.reason, "items": len(c.items), **_own_limits(c)} for c in study.causes.active],
        "without_scatter": [{"what": what, "reason": why} for what, why in study.causes.off.items()],
        "correlation": study.causes.correlation,
        "quantities": {n: {
            "unit": figure_of(n).unit, "nominal": s.nominal, "mean": s.spread.mean, "deviation": s.spread.deviation,
            "low_5": s.spread.low, "high_95": s.spread.high, "surrogate_error": s.error,
            "deviation_of_computed": s.true_deviation, **({} if s.doubt == SURE else {"doubt": s.doubt}),
            **({} if s.importance is None else {"first": s.importance.first, "total": s.importance.total}),
        } for n, s in study.scatter.items()},
        "limits": [share(s) for s in study.limits],
        "all_limits": share(study.together) if study.together else None,
        "computed_pickups": study.checked, "impossible": study.impossible,
    }
    return document("tolerance", case, source, result, {})


def _own_limits(cause: Cause) -> dict[str, Any]:
    """By the names of the parts, where not all have one limit."""
    own = [{"part": cause.names.get(i, str(i)), "limit": v} for i, v in cause.own.items()]
    return {"own_limits": own} if own else {}


@dataclass(frozen=True, kw_only=True)
class _Deviation:
    text: str
    si: float


def write_study(folder: Path, plan: TolerancePlan, outcomes: Sequence[Outcome], study: ToleranceStudy,
                text: str) -> None:
    """``tolerance.json``, the table of the computed designs, and the figure."""
    designs = np.stack([np.zeros(plan.causes.size), *(run.t for run in plan.runs), *plan.true])
    limits = {c.name: c for c in plan.causes.active}
    inputs = []
    for (name, item), column in plan.causes.places().items():
        cause = limits[name]
        long = name in LENGTHS
        values = [_Deviation(text=f"{v * 1e3:+.4f} mm" if long else f"{100 * v:+.3f} %", si=float(v))
                  for v in cause.limit_of(item) * designs[:, column]]
        called = f": {cause.names[item]}" if item in cause.names else f" {item}" if item else ""
        inputs.append(InputColumn(name=f"{name}_{item}" if item else name, values=values, unit="m" if long else "",
                                  title=f"Deviation of {cause.title}{called}",
                                  shown="mm" if long else ""))
    write_table(folder, outcomes, inputs=inputs)
    write_whole(folder / SUMMARY, text.encode())
    for name, figure in study.figures().items():
        save_figure(figure, folder / f"{name}.png", folder / f"{name}.svg")
