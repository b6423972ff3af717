"""The winding sheet: what goes to the winding machine, one page a coil, with columns for what is measured.

No script, nothing fetched; each coil prints on one page of A4 or letter paper.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from stringflux.geometry.case.upper_ends import UpperEnd
from stringflux.geometry.case.wire import SCATTERED_RANGE
from stringflux.geometry.shapes.row import Racetrack

from ..coil.winding import IEC_BY_OHMS, IEC_SHARE, TEMPERATURE_COEFFICIENT, YIELD, Winding, warming
from .from_above import svg
from .growth import Grown, along_height, by_thousands, thirds

TEMPLATES = Path(__file__).with_name("templates")
GENERATOR = "stringflux wind"
"""By this word in its head a file is known to be a winding sheet of ours."""
INCH, GRAVITY = 25.4e-3, 9.80665
PRACTICE = (0.5, 0.8)
"""Winding tension in parts of the wire's limit: common practice, no source."""
CAUTIONS = (
    "Strong magnets jump together and pinch; keep them from pacemakers and other implants, and from cards.",
    "Thin wire whips and cuts when it breaks: wear glasses, keep fingers and sleeves off a turning bobbin.",
    "Solder fume belongs into an extractor or out of the window; wash your hands after leaded solder.",
)
_THIRD_NAMES = ("a third", "two thirds", "the end")


@dataclass(frozen=True, kw_only=True)
class SheetCoil:
    """One coil as its sheet tells it.

    Attributes
    ----------
    name : str
        "" for the only coil without a name.
    made : Winding
    track : Racetrack
    ends : tuple of UpperEnd
        Of the poles inside it, or of the bodies there.
    leads : (str, str)
        Of start and finish, as the case names them; "" where it does not.
    ends_at : (str, str)
        Where start and finish go: "ground", "hot", or to which other coil.
    """

    name: str
    made: Winding
    track: Racetrack
    ends: tuple[UpperEnd, ...]
    leads: tuple[str, str]
    ends_at: tuple[str, str]


@dataclass(frozen=True, kw_only=True)
class Fact:
    """A line of the first table: what, how much, and in a few more words."""

    what: str
    value: str
    more: str = ""


def pages(title: str, source: str, coils: Sequence[SheetCoil], notes: Sequence[str] = ()) -> str:
    """The sheets of all coils as one HTML document, a printed page each.

    Parameters
    ----------
    title, source : str
        Of the case, and the name of its file.
    notes : sequence of str
        Sentences on how the coils belong together, on every page.
    """
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    made = Environment(loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined,
                       trim_blocks=True, lstrip_blocks=True, keep_trailing_newline=True)
    sheets = [{
        "coil": coil, "facts": facts(coil), "picture": svg(coil.track, coil.ends, _picture_words(coil), number=n),
        "grown": by_thousands(coil.made, coil.track), "thirds": list(zip(_THIRD_NAMES, thirds(coil.made, coil.track),
                                                                         strict=True)),
        "heights": along_height(coil.track),
        "sense": sense(coil), "machine": "clockwise" if coil.track.sense > 0 else "counter-clockwise",
        "build_note": _build_note(coil), "step": _step(by_thousands(coil.made, coil.track)),
        "warmer": f"{coil.made.resistance * TEMPERATURE_COEFFICIENT / warming(coil.made.temperature):.3g}",
    } for n, coil in enumerate(coils, start=1)]
    return made.get_template("winding.html").render(
        title=title, source=source, sheets=sheets, notes=notes, cautions=CAUTIONS, generator=GENERATOR,
        style=(TEMPLATES / "sheet.css").read_text(encoding="utf-8"))


def sense(coil: SheetCoil) -> str:
    """Seen from above, from start to finish."""
    return "counter-clockwise" if coil.track.sense > 0 else "clockwise"


def facts(coil: SheetCoil) -> list[Fact]:
    """What is set and checked before and while it is wound."""
    made = coil.made
    low, nominal, high = made.wire.overall
    limit = made.tension / made.tension_share
    grams = [1e3 * limit * share / GRAVITY for share in (*PRACTICE, 1.0)]
    by = "between its limits" if low != high else "as the case gives it"
    return [
        Fact(what="Turns on the counter", value=f"{made.turns:g}"),
        Fact(what="Wire", value=made.wire.name, more=f"{made.length:.0f} m, {made.mass * 1e3:.3g} g; "
                                                     f"{made.wire.source}"),
        Fact(what="Over the insulation, by micrometer", value=_both(low, high),
             more=f"{nominal * 1e3:.4f} mm nominal, {by}"),
        Fact(what="Copper alone, insulation taken off", value=_both(made.wire.bare, made.wire.bare),
             more=_copper(made)),
        Fact(what="Winding tension", value=f"{grams[0]:.2g} to {grams[1]:.2g} g",
             more=f"{PRACTICE[0]:.0%} to {PRACTICE[1]:.0%} of the wire's limit: common practice, no source. The "
                  f"limit, {grams[2]:.2g} g, is computed from {YIELD / 1e6:g} MPa in copper, not from a standard"),
    ]


def _copper(made: Winding) -> str:
    if "awg" not in made.wire.name.lower() and made.wire.bare <= IEC_BY_OHMS * (1 + 1e-6):
        return f"its standard limits Ω/m instead, ± {IEC_SHARE:.0%} (memory)"
    least, _, greatest = made.resistance_computed
    return f"within its standard the coil may have {least / 1e3:.3g} to {greatest / 1e3:.3g} kΩ"


def _both(low: float, high: float) -> str:
    if low == high:
        return f"{low * 1e3:.4f} mm ({low / INCH:.5f} in)"
    return f"{low * 1e3:.3f} to {high * 1e3:.3f} mm ({low / INCH:.4f} to {high / INCH:.4f} in)"


def _build_note(coil: SheetCoil) -> str:
    """What decides the thickness, and how far off it can be."""
    made, track = coil.made, coil.track
    section = made.turns * made.wire.overall[1] ** 2 * 0.7853981633974483
    share = section / track.area
    low, high = (track.build * share / full for full in reversed(SCATTERED_RANGE))
    where = " where it is thickest" if track.builds else ""
    usual = "inside" if SCATTERED_RANGE[0] <= share <= SCATTERED_RANGE[1] else "outside"
    return (f"As the case has it, {share:.0%} of the section is wire; {usual} the usual {SCATTERED_RANGE[0]:.0%} to "
            f"{SCATTERED_RANGE[1]:.0%} (common practice, no source), at which it ends {low * 1e3:.2f} to "
            f"{high * 1e3:.2f} mm thick{where}.")


def _step(rows: Sequence[Grown]) -> str:
    return f"every {rows[0].turns} turns"


def _picture_words(coil: SheetCoil) -> str:
    ends = ", ".join(f"{e.name} {e.letter} up" for e in coil.ends if e.sign)
    return (f"The coil seen from above, to scale: from its start inside the wire goes round {sense(coil)} to its "
            f"finish outside.{f' Upper ends: {ends}.' if ends else ''}")
