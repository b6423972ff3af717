"""Colours of demonstrations on a white and on a dark ground; each differs from its neighbours in grey, too.

Curves are those of the colour-blind-safe set of Okabe & Ito (2008), lighter on the dark ground; all have a contrast
of at least 4.5 to their ground, as WCAG 2.2, 1.4.3, asks of text.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field


@dataclass(frozen=True, kw_only=True)
class Palette:
    """Colours as "#rrggbb".

    Attributes
    ----------
    ground, ink, soft, faint : str
        Of the paper, of text, of quieter text, of grids.
    curves : tuple of str
        In the order of use; dashes in :data:`DASHES` tell them apart in grey print.
    lines : str
        Of field lines.
    fills : mapping of str to str
        Of shapes, by their role.
    """

    ground: str
    ink: str
    soft: str
    faint: str
    curves: tuple[str, ...]
    lines: str
    fills: dict[str, str] = field(hash=False)


DASHES: tuple[tuple[float, ...], ...] = ((), (6, 2), (2, 2), (8, 2, 2, 2), (12, 3), (1, 1))
"""Lengths of dash and gap, in widths of the line; () for a whole one."""

LIGHT = Palette(
    ground="#ffffff", ink="#1d2733", soft="#55606b", faint="#dde2e6", lines="#4a5a68",
    curves=("#0065a0", "#b34700", "#00704f", "#9c3f78", "#1d2733", "#6b5b00"),
    fills={"magnet": "#c9ccd1", "north": "#d98880", "south": "#8fb3d9", "steel": "#8d99a6", "copper": "#e0a878",
           "winding": "#f0d3b5", "into": "#c8763a", "out": "#f5c596", "string": "#1d2733", "quiet": "#c3cad1",
           "accent": "#b34700"})

DARK = Palette(
    ground="#12181f", ink="#f0f3f6", soft="#b4bec8", faint="#323d48", lines="#93a3b1",
    curves=("#62b5f0", "#ff9a57", "#4fcb9f", "#eb9fcb", "#f0f3f6", "#dcc64a"),
    fills={"magnet": "#7d838b", "north": "#c0665c", "south": "#5b88b8", "steel": "#5c6975", "copper": "#b97a45",
           "winding": "#7a5b3e", "into": "#e09355", "out": "#8a5a30", "string": "#f0f3f6", "quiet": "#55616d",
           "accent": "#ff9a57"})


def recoloured(text: str, before: Palette = LIGHT, after: Palette = DARK) -> str:
    """A drawing written as text, such as SVG, with the colours of one palette put in place of those of another."""
    colours = dict(zip(_colours(before), _colours(after), strict=True))
    return re.sub("|".join(colours), lambda found: colours[found[0]], text)


def _colours(palette: Palette) -> list[str]:
    return [palette.ground, palette.ink, palette.soft, palette.faint, palette.lines, *palette.curves,
            *(palette.fills[role] for role in sorted(palette.fills))]
