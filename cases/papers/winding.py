"""What to wind, in words: a coil's turns, wire, window, resistance and capacitance."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.console import Console
from rich.table import Table

from ..terminal.tables import headed

if TYPE_CHECKING:
    from stringflux.geometry.case.wire import Wire
    from stringflux.postprocess.coil.winding import Winding

GRAVITY = 9.80665


def print_winding(title: str, made: Winding, to: Console) -> None:
    from stringflux.geometry.case.wire import SCATTERED_FILL, SCATTERED_RANGE, too_full

    to.print(title or "Untitled case", style="bold", markup=False)
    facts = {
        "Turns": f"{made.turns:g} of {made.wire.name}, copper {_mm(made.wire.bare)}",
        "Insulated": _insulated(made.wire),
        "Window": f"{_mm(made.width)} by {_mm(made.height)}; the turns take {made.fill:.0%} of it "
                  f"({made.copper_fill:.0%} copper)",
        **({"Winding": f"{made.wound_words} mm of the window's {_mm(made.width)} thick, wound from the inside; "
                       f"{made.packed:.0%} of that is wire"} if made.packed_known else {}),
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
    if made.packed_known:
        to.print("Length, mass and resistance above are the scattered winding's, which lies evenly in what it takes "
                 "of the window.")
        to.print(f"Scattered windings are {low:.0%} to {high:.0%} full in practice. Layers need thick wire and great "
                 "care.")
    else:
        to.print("Length, mass and resistance above are the scattered winding's. It fills the window evenly, and is")
        to.print(f"full at an assumed {SCATTERED_FILL:.0%} of it ({low:.0%} to {high:.0%} in practice). "
                 "Layers need thick wire and great care.")
    if full := too_full(made.turns, made.wire.name, made.packed, known=made.packed_known):
        to.print(f"Note: {full}.", markup=False, soft_wrap=True)
    if made.taps:
        columns = {
            "Tap at\nturns": [f"{t.turns:g}" for t in made.taps],
            "Resistance\nkΩ": [f"{t.resistance / 1e3:.3f}" for t in made.taps],
            "Of the whole L\nin air": [f"{t.inductance_share:.0%}" for t in made.taps],
        }
        to.print(headed("Taps, counted from the inside", columns))


def _insulated(wire: Wire) -> str:
    low, nominal, high = wire.overall
    limits = "" if low == high else f", {low * 1e3:.4g} to {high * 1e3:.4g}"
    return f"{_mm(nominal)}{limits} ({wire.source})"


def _resistance(made: Winding) -> str:
    low, nominal, high = (r / 1e3 for r in made.resistance_computed)
    computed = f"{nominal:.3f} kΩ ({low:.3f} to {high:.3f} by the tolerance of the wire) at {made.temperature:g} °C"
    if not made.resistance_measured:
        return computed
    return f"{made.resistance / 1e3:.3f} kΩ at {made.temperature:g} °C, measured; computed {computed}"


def _capacitance(made: Winding) -> str:
    if made.capacitance_measured:
        return f"{made.capacitance * 1e12:.4g} pF, measured"
    low, high = (c * 1e12 for c in made.capacitance_band)
    potted = f"potted in {made.potted}, " if made.potted else ""
    return f"some {made.capacitance * 1e12:.0f} pF, {low:.0f} to {high:.0f}: computed, {potted}without its lead"


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
        "Resistance\nkΩ": [f"{made.resistance / 1e3 * p.length / made.length:.3f}" for p in made.packings],
        "Most that\nfits, turns": [str(p.most_turns) for p in made.packings],
    }
    return headed("Ways to lay them", columns, left=1)


def _mm(value: float) -> str:
    return f"{value * 1e3:.4g} mm"
