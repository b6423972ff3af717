"""What `stringflux wind --for` found, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...terminal.field import field_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from stringflux.geometry.case.model import Case
    from stringflux.postprocess.coil.winding import Winding

    from .answered import Wanted

GAUSS = 1e4


def answer_words(found: Wanted, case: Case, made: Winding) -> Iterator[str]:
    """Sentences, the first one that which stands out.

    Parameters
    ----------
    case : Case
        As it was asked of.
    made : Winding
        Of the coil as it was.
    """
    if found.kind == "field":
        yield from _field(found, case)
        return
    value, before, reached = (_value(found, v) for v in (found.value, found.before, found.reached))
    what = f"{value} at the terminals" if found.coil else value
    if found.kind == "resistance":
        what = f"{what} at {made.temperature:g} °C"
    elif found.kind == "peak":
        what = f"a peak at {value} with controls and cable"
    elif found.kind == "level":
        what = f"{value} over {found.over}"
    where = f"on {found.coil}, all else as it is" if found.coil else "in the same window"
    if found.nearest is None:
        yield f"For {what}: {found.turns} turns {where} ({made.turns:g} turns have {before}). The sheet is theirs."
    elif found.kind in ("resistance", "inductance"):
        yield f"For {what}: {found.turns} turns {where} ({made.turns:g} turns have {before})."
        yield (f"They do not fit. The nearest that do, {_packed(made)}, are {found.nearest} with {reached}, and the "
               "sheet is theirs. Take thinner wire or a larger window.")
    else:
        yield (f"No turns that fit give {what} ({made.turns:g} turns have {before}). The nearest that do, "
               f"{found.nearest} turns {where}, have {reached}, and the sheet is theirs.")
    if found.kind == "level":
        yield ("Levels: mean of the strings plucked by 1 mm, rms, the coil open; a case with other strings counts "
               "with those.")
    if found.kind != "resistance" or found.coil:
        terminals = " at the terminals" if found.coil else ""
        yield f"Their resistance{terminals}: {(found.resistance or 0.0) / 1e3:.4g} kΩ at {made.temperature:g} °C."


def _packed(made: Winding) -> str:
    return "packed as the case says" if made.packed_known else "scattered as usual"


def _value(found: Wanted, value: float | None) -> str:
    if value is None:
        return "none"
    return {"resistance": lambda v: f"{v / 1e3:.4g} kΩ", "inductance": lambda v: f"{v:.4g} H",
            "peak": lambda v: f"{v / 1e3:.4g} kHz", "level": lambda v: f"{v:+.2f} dB"}[found.kind](value)


def _field(found: Wanted, case: Case) -> Iterator[str]:
    charge, has = found.charge or 0.0, found.charge_before or 1.0
    before, reached = found.before or 0.0, found.reached or 0.0
    height = f"{case.probe_height * 1e3:.4g} mm over the faces"
    said = f"{field_words(found.value)} {height}, the mean of the poles"
    if found.nearest is not None:
        why = "full magnets have less" if found.value > reached else "so weak magnets are not computed"
        yield f"No charge gives {said}: {why}. The nearest is {field_words(reached)}, at a charge of {charge:.3g}."
    else:
        yield f"For {said}: a charge of {charge:.3g}, where 1 is full (now {has:.3g}, {field_words(before)})."
    if len({found.charge_before, *_charges(case)}) > 1:
        yield "That is the charge of the strongest; weaken all others in the same proportion."
    change = 100 * (reached / before - 1) if before else 0.0
    if abs(change) > 0.05:
        how, way = ("Weaken", "less") if change < 0 else ("Charge", "more")
        yield (f"{how} the magnets a little at a time and read the gaussmeter without strings, {height}: "
               f"{abs(change):.1f} % {way} than now.")
    yield ("To read over the poles, in their order: "
           + ", ".join(f"{abs(b) * GAUSS:.0f} G {'N' if b > 0 else 'S'}" for b in found.faces) + ".")


def _charges(case: Case) -> set[float]:
    return {body.state.charge for body in case.solid_bodies() if body.polarity}

