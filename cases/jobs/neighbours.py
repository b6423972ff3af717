"""What strings do to each other, of a case: each among the others, as all figures have it, against itself alone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from stringflux.postprocess.records.neighbours import NeighbourEffect
from stringflux.postprocess.records.prediction import StringRecord
from stringflux.postprocess.string.heard import swung_string
from stringflux.postprocess.string.linkage import Slopes, rest_slopes
from stringflux.postprocess.string.loop import SwungString
from stringflux.postprocess.string.model import StringModel
from stringflux.postprocess.string.together import swing_together

from ..solved.abstract import SolvedCase, quiet
from ..solved.solve_row import one_thread
from .string_records import string_records

COUNTS = 5e-3
"""Of S: less is under what the computation itself is off."""

_NOTHING = float("nan")


@dataclass(frozen=True, kw_only=True)
class LoneString:
    """A string over the pickup without the others, for one turn: λ in Wb, and |∂λ/∂z| on the static curve and of a
    light swing in V·s/m; nan for what is in doubt."""

    linkage: float
    curve: float
    sensitivity: float


def strings_alone(solved: SolvedCase) -> tuple[LoneString, ...]:
    """Every string alone; () where there is one, or where what they do to each other is not known."""
    with one_thread():
        together = solved.among(solved.unit_fields().field)
        if not together.known:
            return ()
        each = [_alone(together.alone(string.number)) for string in solved.strings]
        swing_together([swung for _, swung in each if swung is not None])
        out = []
        for slopes, swung in each:
            curve = abs(slopes.z) if slopes.heard else _NOTHING
            out.append(LoneString(linkage=abs(slopes.linkage) if slopes.linked else _NOTHING, curve=curve,
                                  sensitivity=curve if swung is None else swung.light().sensitivity))
        return tuple(out)


def neighbours_of(solved: SolvedCase,
                  alone: Callable[[], tuple[LoneString, ...]] | None = None) -> tuple[NeighbourEffect, ...]:
    """Every string among the others, all coils as they are connected; `alone` gives :func:`strings_alone`."""
    if len(solved.strings) == 1:
        return (NeighbourEffect(number=1, linkage=0.0, sensitivity=0.0, sensitivity_curve=0.0),)
    lone = alone() if alone is not None else strings_alone(solved)
    if not lone:
        return tuple(NeighbourEffect(number=s.number, linkage=_NOTHING, sensitivity=_NOTHING,
                                     sensitivity_curve=_NOTHING) for s in solved.strings)
    with one_thread():
        records = [record for record, _ in string_records(solved, False, quiet)]
        turns = abs(solved.unit_fields().turns)
        return tuple(_effect(record, turns, one) for record, one in zip(records, lone, strict=True))


def _alone(model: StringModel) -> tuple[Slopes, SwungString | None]:
    """Its slopes on the curve, and itself ready to swing."""
    slopes = rest_slopes(model)
    if not slopes.heard:
        return slopes, None
    return slopes, swung_string(slopes, model.field, model.shape, model.layers, model.numerics, model)


def _effect(record: StringRecord, turns: float, alone: LoneString) -> NeighbourEffect:
    return NeighbourEffect(
        number=record.number, linkage=abs(record.linkage) / (turns * alone.linkage) - 1,
        sensitivity=record.sensitivity / (turns * alone.sensitivity) - 1 if record.heard else _NOTHING,
        sensitivity_curve=record.sensitivity_curve / (turns * alone.curve) - 1 if record.heard else _NOTHING)


def neighbour_words(effects: tuple[NeighbourEffect, ...]) -> tuple[str, ...]:
    """A note of strings whose S the others change by more than counts."""
    told = [e for e in effects if abs(e.sensitivity) > COUNTS]
    if not told:
        return ()
    each = ", ".join(f"of string {e.number} by {100 * e.sensitivity:+.1f} %" for e in told)
    taken = [-100 * e.linkage for e in told]
    flux = (f"of the flux linkage they take {_range(taken)} %" if min(taken) >= 0 else
            f"the flux linkage changes by {_range([-t for t in taken])} %")
    return (f"the strings beside each are counted: against a string alone over the pickup they change S {each}; "
            f"{flux}.",)


def _range(values: list[float]) -> str:
    low, high = f"{min(values):.0f}", f"{max(values):.0f}"
    return low if low == high else f"{low} to {high}"
