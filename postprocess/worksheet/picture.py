"""The section of a sheet: pole, coil and string to scale, as an SVG whose text is text.

Marks and letters tell parts apart, not colours alone: the sheet is printed in grey.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from html import escape

import numpy as np

from stringflux.geometry.arrays import Array

from ..demonstrations.moving import Shape
from ..demonstrations.palette import LIGHT
from ..demonstrations.quantities import digits

WIDE, HIGH = 320.0, 250.0
"""Of the picture, in its own units; 1 is about a quarter of a millimetre on paper."""
_TEXT, GAP = 11.5, "gap g"
_MARGIN = (8.0, 62.0, 10.0, 22.0)  # left, right, top, bottom


@dataclass(frozen=True, kw_only=True, eq=False)
class SheetSection:
    """What is drawn, m, in the plane across the string's pole: u along the string, z up.

    Attributes
    ----------
    shapes : tuple of Shape
        Poles, bodies and coil.
    string : array (2, 2)
        Axis of the string at rest, from the left to the right end of the picture.
    radius : float
        Of the string.
    amplitude : float
    face, underside : float
        Heights of the pole's face and of the string's underside at rest.
    """

    shapes: tuple[Shape, ...]
    string: Array
    radius: float
    amplitude: float
    face: float
    underside: float


def svg(section: SheetSection, words: str) -> str:
    """The picture as an element; `words` say what it shows."""
    filled = [s.outline for s in section.shapes if s.filled and s.outline.shape[1] > 1]
    low = min(float(o[1].min()) for o in filled)
    top = float(np.max(section.string[1])) + section.radius + 2 * section.amplitude
    half = 1.08 * max(float(np.max(np.abs(o[0]))) for o in filled)
    left, right, over, under = _MARGIN
    k = min((WIDE - left - right) / (2 * half), (HIGH - over - under) / (top - low))
    middle = left + (WIDE - left - right) / 2

    def at(u: float, z: float) -> tuple[float, float]:
        return middle + k * u, over + k * (top - z)

    out = [f'<svg role="img" aria-labelledby="picture-words" viewBox="0 0 {WIDE:g} {HIGH:g}" '
           f'font-size="{_TEXT}" fill="{LIGHT.ink}">', f'<title id="picture-words">{escape(words)}</title>']
    for shape in section.shapes:
        if shape.filled and shape.outline.shape[1] > 1:
            points = " ".join("{:.1f},{:.1f}".format(*at(float(u), float(z))) for u, z in shape.outline.T)
            out.append(f'<polygon points="{points}" fill="{LIGHT.fills[shape.role]}" stroke="{LIGHT.ink}" '
                       'stroke-width="0.8"/>')
    for shape in section.shapes:
        if shape.label:
            u, z = shape.at or (float(np.mean(shape.outline[0])), float(np.mean(shape.outline[1])))
            out.append(_text(*at(u, z), shape.label, "middle", 4.0))
    out += _string(section, at, half, max(2 * k * section.radius, 1.6))
    out += _bar(k)
    return "\n".join([*out, "</svg>"])


def _string(section: SheetSection, at: Callable[[float, float], tuple[float, float]], half: float,
            thick: float) -> list[str]:
    u = np.array([-half, half])
    z = np.interp(u, section.string[0], section.string[1])
    out = []
    turns = section.radius + section.amplitude  # its lower edge at the lowest, its upper edge at the highest
    for moved, dashes in ((-turns, "5 3"), (turns, "5 3"), (0.0, "")):
        (a, b), (c, d) = at(float(u[0]), float(z[0]) + moved), at(float(u[1]), float(z[1]) + moved)
        dash = f' stroke-dasharray="{dashes}"' if dashes else ""
        out.append(f'<line x1="{a:.1f}" y1="{b:.1f}" x2="{c:.1f}" y2="{d:.1f}" stroke="{LIGHT.ink}" '
                   f'stroke-width="{thick if not dashes else 0.8:.2f}"{dash}/>')
    right, middle = at(half, float(z[1]))
    out.append(_text(right + 4, middle, "string", "start", 4.0))
    across = 0.5 * half
    x, face = at(across, section.face)
    _, below = at(across, section.underside)
    start, _ = at(0.0, section.face)
    out.append(f'<path d="M{start:.1f} {face:.1f} H{x + 6:.1f} M{x:.1f} {below:.1f} V{face:.1f}" fill="none" '
               f'stroke="{LIGHT.ink}" stroke-width="0.8"/>')
    out.append(_text(x + 4, (face + below) / 2, GAP, "start", 4.0))
    return out


def _bar(k: float) -> list[str]:
    """A length to compare with."""
    length = next(v for v in (20e-3, 10e-3, 5e-3, 2e-3, 1e-3) if k * v < 0.4 * WIDE)
    x, y = _MARGIN[0], HIGH - 9
    return [f'<path d="M{x:g} {y - 3:g} v6 M{x:g} {y:g} h{k * length:.1f} m0 -3 v6" fill="none" '
            f'stroke="{LIGHT.ink}" stroke-width="0.9"/>',
            _text(x + k * length + 5, y, f"{digits(1e3 * length, 1)} mm", "start", 4.0)]


def _text(x: float, y: float, text: str, anchor: str, down: float) -> str:
    halo = ' stroke="#fff" stroke-width="3" paint-order="stroke"' if text == GAP else ""  # it may cross a line
    return f'<text x="{x:.1f}" y="{y + down:.1f}" text-anchor="{anchor}"{halo}>{escape(text)}</text>'
