"""`stringflux wind`: what to wind, and how many turns for a wanted resistance or inductance."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

import typer
from rich.console import Console
from rich.table import Table

from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import shown

from ..files.load import load_case
from ..output.document import case_source, document, plain
from ..terminal.options import Json, ReadOptions, said_in
from ..terminal.progress import shown_progress
from ..terminal.quantities import read_quantity, read_temperature
from ..terminal.tables import console, headed

if TYPE_CHECKING:
    from stringflux.geometry.case.model import Case
    from stringflux.geometry.case.wire import Wire
    from stringflux.postprocess.coil.winding import Winding

    from ..jobs.wind import WoundCoils

GRAVITY = 9.80665
UNITS = {
    **dict.fromkeys(("width", "height", "mean_turn", "length", "thickness", "bare", "overall"), "m"),
    **dict.fromkeys(("resistance", "resistance_computed", "resistance_per_length"), "ohm"),
    **dict.fromkeys(("copper_mass", "mass"), "kg"),
    **dict.fromkeys(("capacitance", "capacitance_band", "capacitance_turns", "capacitance_outside",
                     "capacitance_layered"), "F"),
    "tension": "N",
    "temperature": "degC",
}


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """Turns for a wanted value: the value in Ω or H, the turns, and whether they fit the window.

    `inductance` is what the case's own turns have, H; None where it was not needed. `coil` is whose turns they are
    where the value is at the terminals of several coils, which then have `resistance`, Ω, with those turns.
    """

    kind: str
    value: float
    turns: int
    fits: bool
    inductance: float | None = None
    coil: str = ""
    resistance: float | None = None


@dataclass(frozen=True, kw_only=True)
class WindOptions(ReadOptions):
    """The options of `wind`."""

    wanted: Annotated[
        str | None,
        typer.Option("--for", metavar="VALUE", show_default=False, help="Turns for 6.2kohm, or for 3.5H."),
    ] = None
    at: Annotated[
        str | None,
        typer.Option("--at", metavar="TEMPERATURE", show_default=False, help="Of the wire, if not the case's own."),
    ] = None
    coil: Annotated[
        str | None,
        typer.Option("--coil", metavar="NAME", show_default=False, help="Of several coils: whose turns may change."),
    ] = None
    spool: Annotated[
        str | None,
        typer.Option("--spool", metavar="MASS", show_default=False, help="How many coils 100g of wire makes."),
    ] = None
    json: Json = False


@said_in(WindOptions)
def wind(options: WindOptions) -> None:
    """Read all options first, then the case; only a wanted inductance solves anything."""
    coil, json, changes = options.coil, options.json, options.changes
    target = None if options.wanted is None else read_quantity("--for", options.wanted, "resistance", "inductance")
    temperature = None if options.at is None else read_temperature("--at", options.at)
    wire = None if options.spool is None else read_quantity("--spool", options.spool, "mass")[0]
    case = load_case(options.which, changes)
    several = len(case.coils()) > 1
    if coil is not None and not several:
        raise CaseError(f"--coil: received {shown(coil)}, but this case has one coil; leave it out")
    from stringflux.postprocess.coil.winding import coils_from

    from ..jobs.wind import WoundCoils
    from ..solved.windings import coil_windings, connection_words

    windings = coil_windings(case, temperature)
    coils = WoundCoils(case=case, windings=windings)
    shows = range(len(windings)) if coil is None else (coils.coil(coil),)
    made = windings[shows[0]]
    if target is None:
        found = None
    elif several:
        found = _wanted_of(coils, coils.coil(coil), *target, quiet=json)
    else:
        found = _wanted(case, made, *target, quiet=json)
    if json:
        result = {
            "winding": made, "wanted": found,
            "coils": [{"coil": case.coil_names()[i], **plain(windings[i])} for i in shows] if several else None,
            "coils_from_spool": None if wire is None else coils_from(wire, made),
        }
        sys.stdout.write(document("wind", case, case_source(options.which, changes), result, UNITS))
        return
    to = console()
    title = case.title or "Untitled case"
    for i in shows:
        _print_winding(f"{title}: {case.coil_names()[i]}" if several else title, windings[i], to)
        if len(shows) > 1:
            to.print("")
    if several:
        total = coils.resistance(0, windings[0].turns)
        to.print(f"At the terminals, {connection_words(case)}: {total / 1e3:.4g} kohm at {made.temperature:g} °C.",
                 markup=False)
    if found is not None:
        _print_wanted(found, made, to)
    if wire is not None:
        made = windings[coils.coil(coil)] if several else made
        to.print(f"\nA spool of {wire * 1e3:g} g is enough for {math.floor(coils_from(wire, made))} such coils "
                 f"({coils_from(wire, made):.2f}, waste not counted).")


def _wanted_of(coils: WoundCoils, at: int, value: float, kind: str, *, quiet: bool) -> Wanted:
    """Turns on one coil of several for a value at the terminals."""
    from stringflux.postprocess.coil.winding import turns_that_fit

    from ..jobs.wind import solved_coils

    made, inductance = coils.windings[at], None
    if kind == "inductance":
        with shown_progress(bar_only=quiet) as progress:
            coils = solved_coils(coils.case, coils.windings, "normal", lambda stage: progress(stage, 0.5))
        inductance = coils.inductance_with(at, made.turns)
    turns = coils.turns_for(kind, value, at)
    whole = max(round(turns), 1)
    return Wanted(kind=kind, value=value, turns=whole, fits=whole <= turns_that_fit(made), inductance=inductance,
                  coil=coils.case.coil_names()[at], resistance=coils.resistance(at, whole))


def _wanted(case: Case, made: Winding, value: float, kind: str, *, quiet: bool) -> Wanted:
    from stringflux.postprocess.coil.winding import turns_for_inductance, turns_for_resistance, turns_that_fit

    inductance = None
    if kind == "resistance":
        turns = turns_for_resistance(made, value)
    else:
        with shown_progress(bar_only=quiet) as progress:
            inductance = _own_inductance(case, made, lambda stage: progress(stage, 0.5))
        turns = turns_for_inductance(made.turns, inductance, value)
    whole = max(round(turns), 1)
    return Wanted(kind=kind, value=value, turns=whole, fits=whole <= turns_that_fit(made), inductance=inductance)


def _own_inductance(case: Case, made: Winding, progress: Callable[[str], None]) -> float:
    """L of the only coil, H."""
    from ..jobs.wind import solved_coils

    return solved_coils(case, [made], "normal", progress).inductance_with(0, made.turns)


def _print_winding(title: str, made: Winding, to: Console) -> None:
    from stringflux.postprocess.coil.packing import SCATTERED_FILL, SCATTERED_RANGE

    to.print(title or "Untitled case", style="bold", markup=False)
    facts = {
        "Turns": f"{made.turns:g} of {made.wire.name}, copper {_mm(made.wire.bare)}",
        "Insulated": _insulated(made.wire),
        "Window": f"{_mm(made.width)} by {_mm(made.height)}; the turns take {made.fill:.0%} of it "
                  f"({made.copper_fill:.0%} copper)",
        "Wire": f"{made.length:.0f} m, mean turn {made.mean_turn * 1e3:.1f} mm",
        "Mass": f"{made.mass * 1e3:.3g} g ({made.copper_mass * 1e3:.3g} g copper)",
        "Resistance": _resistance(made),
        "Capacitance": _capacitance(made),
        "  computed": _capacitance_parts(made),
        "Tension": f"{made.tension:.3g} N ({made.tension / GRAVITY * 1e3:.2g} g) is {made.tension_share:.0%} of the "
                   "yield of annealed copper, 70 MPa: computed, not tabulated",
    }
    width = max(len(head) for head in facts)
    for head, text in facts.items():
        to.print(f"  {head:<{width}}  {text}", markup=False, soft_wrap=True)
    to.print(_packings(made))
    low, high = SCATTERED_RANGE
    to.print("Length, mass and resistance above are the scattered winding's. It fills the window evenly, and is")
    to.print(f"full at an assumed {SCATTERED_FILL:.0%} of it ({low:.0%} to {high:.0%} in practice). "
             "Layers need thick wire and great care.")
    if made.turns > made.packings[0].most_turns:
        to.print(f"Note: {made.turns:g} turns are more than a scattered winding usually holds here.", markup=False)
    if made.taps:
        columns = {
            "Tap at\nturns": [f"{t.turns:g}" for t in made.taps],
            "Resistance\nkohm": [f"{t.resistance / 1e3:.3f}" for t in made.taps],
            "L of the whole\nabout": [f"{t.inductance_share:.0%}" for t in made.taps],
        }
        to.print(headed("Taps, counted from the inside", columns))


def _insulated(wire: Wire) -> str:
    low, nominal, high = wire.overall
    limits = "" if low == high else f", {low * 1e3:.4g} to {high * 1e3:.4g}"
    return f"{_mm(nominal)}{limits} ({wire.source})"


def _resistance(made: Winding) -> str:
    low, nominal, high = (r / 1e3 for r in made.resistance_computed)
    computed = f"{nominal:.3f} kohm ({low:.3f} to {high:.3f} by the tolerance of the wire) at {made.temperature:g} °C"
    if not made.resistance_measured:
        return computed
    return f"{made.resistance / 1e3:.3f} kohm at {made.temperature:g} °C, measured; computed {computed}"


def _capacitance(made: Winding) -> str:
    if made.capacitance_measured:
        return f"{made.capacitance * 1e12:.4g} pF, measured"
    low, high = (c * 1e12 for c in made.capacitance_band)
    return f"some {made.capacitance * 1e12:.0f} pF, {low:.0f} to {high:.0f}: computed, without its lead"


def _capacitance_parts(made: Winding) -> str:
    turns, *layers, outside = (f"{c * 1e12:.0f}" for c in (made.capacitance_turns, *made.capacitance_layered,
                                                         made.capacitance_outside))
    return (f"{turns} pF between its turns, scattered ({layers[0]} in square layers, {layers[1]} in hexagonal), and "
            f"{outside} round it")


def _packings(made: Winding) -> Table:
    columns = {
        "Laid": [p.name for p in made.packings],
        "Per layer\nturns": [str(p.turns_per_layer or "") for p in made.packings],
        "Layers": [str(p.layers or "") for p in made.packings],
        "Thickness\nmm": [f"{p.thickness * 1e3:.2f}" for p in made.packings],
        "Wire\nm": [f"{p.length:.0f}" for p in made.packings],
        "Resistance\nkohm": [f"{made.resistance / 1e3 * p.length / made.length:.3f}" for p in made.packings],
        "Most that\nfits, turns": [str(p.most_turns) for p in made.packings],
    }
    return headed("Ways to lay them", columns, left=1)



def _print_wanted(found: Wanted, made: Winding, to: Console) -> None:
    if found.coil:
        unit, size = ("kohm", 1e-3) if found.kind == "resistance" else ("H", 1.0)
        to.print(f"\nFor {found.value * size:.4g} {unit} at the terminals: {found.turns} turns on {found.coil}, all "
                 f"else as it is (now {made.turns:g}).", style="bold", markup=False)
        resistance = (found.resistance or 0.0) / 1e3
        to.print(f"Resistance at the terminals: {resistance:.4g} kohm at {made.temperature:g} °C.")
        _print_fit(found, made, to)
        return
    if found.kind == "resistance":
        what = f"{found.value / 1e3:.4g} kohm at {made.temperature:g} °C"
        has = f"{made.turns:g} turns have {made.resistance / 1e3:.4g} kohm"
    else:
        what = f"{found.value:.4g} H"
        has = f"{made.turns:g} turns have {found.inductance or 0.0:.4g} H"
    to.print(f"\nFor {what}: {found.turns} turns in the same window ({has}).", style="bold", markup=False)
    if found.kind == "inductance":
        resistance = made.resistance * found.turns / made.turns
        to.print(f"Their resistance: {resistance / 1e3:.4g} kohm at {made.temperature:g} °C.")
    _print_fit(found, made, to)


def _print_fit(found: Wanted, made: Winding, to: Console) -> None:
    from stringflux.postprocess.coil.winding import turns_that_fit

    if not found.fits:
        to.print(f"They do not fit: at most {turns_that_fit(made)} do. Take thinner wire or a larger window.")
    elif found.turns > made.packings[0].most_turns:
        to.print("That is more than a scattered winding usually holds here.")


def _mm(value: float) -> str:
    return f"{value * 1e3:.4g} mm"
