"""The setting sheet: what is moved on the instrument, from where to where, with boxes to tick; one printed page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from .winding import CAUTIONS, INCH, TEMPLATES

GENERATOR = "stringflux balance"
STILL = 1e-9
"""Less than this is no movement, m."""


@dataclass(frozen=True, kw_only=True)
class SettingMove:
    """One thing that is set.

    Attributes
    ----------
    name : str
        "pole 3", "bass side".
    before, after : float or None
        What is read off, m; None for a side that is told by its movement alone.
    movement : float
        Towards the strings, m.
    turns : str
        Of its screw, in words; "" where it has none.
    """

    name: str
    before: float | None
    after: float | None
    movement: float
    turns: str = ""

    @property
    def way(self) -> str:
        """Which way, in words."""
        if abs(self.movement) < STILL:
            return "stays"
        return "up, to the strings" if self.movement > 0 else "down, from the strings"


@dataclass(frozen=True, kw_only=True)
class Check:
    """A string to check by: its pitch, its gap before and after in m, and what it then is over what is wanted, dB."""

    number: int
    pitch: str
    before: float
    after: float
    off_before: float
    off_after: float


def page(title: str, source: str, reads: str, moves: Sequence[SettingMove], checks: Sequence[Check],
         sentences: Sequence[str]) -> str:
    """The sheet as HTML.

    Parameters
    ----------
    title, source : str
        Of the case, and the name of its file.
    reads : str
        How a setting is read off, as sentences.
    sentences : sequence of str
        What the balance came to.
    """
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    made = Environment(loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined,
                       trim_blocks=True, lstrip_blocks=True, keep_trailing_newline=True)
    made.filters["mm"] = lambda v: "–" if v is None else f"{1e3 * v:.2f}"
    made.filters["signed"] = lambda v: f"{v:+.1f}".replace("-", "−") if abs(v) >= 0.05 else "0.0"
    made.filters["inch"] = lambda v: f"{abs(v) / INCH:.3f} in"
    return made.get_template("setting.html").render(
        title=title, source=source, reads=reads, moves=moves, checks=checks, sentences=sentences, still=STILL,
        turned=any(m.turns for m in moves), generator=GENERATOR, caution=CAUTIONS[0],
        style=(TEMPLATES / "sheet.css").read_text(encoding="utf-8"))
