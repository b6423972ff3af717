"""What a quarter of a turn of each screw does, as a hand reads it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from .tables import Column, table

if TYPE_CHECKING:
    from rich.console import Console

    from stringflux.postprocess.records.turns import QuarterTurn
    from stringflux.postprocess.results.prediction import Prediction


def print_turns(prediction: Prediction, to: Console) -> None:
    """Screws under single poles, then those of the whole pickup, and which way each goes."""
    poles = [t for t in prediction.quarter_turns if t.kind != "side"]
    sides = [t for t in prediction.quarter_turns if t.kind == "side"]
    if poles:
        to.print(table("Screws", [
            Column(head="Screw", cells=tuple(t.name for t in poles)),
            Column(head="Moves\nmm", cells=tuple(f"{1e3 * t.movement:+.3f}" for t in poles)),
            Column(head="Strings", cells=tuple(", ".join(map(str, t.strings)) or "–" for t in poles)),
            Column(head="Level\ndB", cells=tuple(", ".join(map(_level, t.change)) or "–" for t in poles))], left=1))
        to.print(f"{way_words(poles, 'it')} It moves with all its parts, and the strings stay.", soft_wrap=True)
    if sides:
        strings = sides[0].strings
        to.print(table("Height screws", [
            Column(head="String", cells=tuple(map(str, strings))),
            *(Column(head=f"{t.name.capitalize()}\n{1e3 * t.movement:+.3f} mm\ndB",
                     cells=tuple(map(_level, t.change))) for t in sides)]))
        to.print(way_words(sides, "that side of the pickup"), soft_wrap=True)


def way_words(turns: Sequence[QuarterTurn], what: str) -> str:
    """Which way screws go, in words; all of them go one way."""
    way = "up, to the strings" if turns[0].clockwise > 0 else "down, from the strings"
    return ("Each by a quarter turn; + in mm: up. Level: by S, at equal speed. Clockwise, seen from the strings, "
            f"takes {what} {way}.")


def _level(value: float) -> str:
    return "–" if math.isnan(value) else f"{value:+.2f}"
