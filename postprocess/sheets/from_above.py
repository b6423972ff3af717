"""A coil seen from above, from the strings: window, poles with their ends, start and finish, as an SVG with text.

The window and the poles are to scale; the two and a half turns drawn for N stand for all. The first pole lies to the
left and the bridge below, so nothing is mirrored: x goes down, y to the right, z towards who looks.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape

from stringflux.geometry.case.upper_ends import UpperEnd
from stringflux.geometry.shapes.coil_path import PathCoil
from stringflux.geometry.shapes.row import Racetrack

WIDE, HIGH = 700.0, 160.0
"""Of the picture, in its own units."""
INK, SOFT = "#1d2733", "#4b5560"
_TEXT = 12.0
_SIDE, _OVER, _UNDER = 76.0, 6.0, 34.0
_TURNS = 2.5
_STEPS = 48  # to a turn


def svg(track: Racetrack, ends: Sequence[UpperEnd], words: str, *, number: int = 1) -> str:
    """The picture as an element; `words` say what it shows, `number` tells several on one page apart."""
    half = track.straight / 2
    outer = track.inner_radius + track.build
    (left, low, _), (right, high, _) = track.bounds
    k = min((WIDE - 2 * _SIDE) / (high - low), (HIGH - _OVER - _UNDER) / (right - left))
    middle = WIDE / 2, _OVER + (HIGH - _OVER - _UNDER) / 2
    about = ((low + high) / 2, (left + right) / 2) if isinstance(track, PathCoil) else (track.y_centre,
    track.x_centre)

    def at(along: float, across: float) -> tuple[float, float]:
        return middle[0] + k * (along - about[0]), middle[1] + k * (across - about[1])

    name = f"from-above-{number}"
    out = [f'<svg role="img" aria-labelledby="{name}" viewBox="0 0 {WIDE:g} {HIGH:g}" font-size="{_TEXT:g}" '
           f'fill="{INK}">', f'<title id="{name}">{escape(words)}</title>']
    rims = [(outer, "#ececec"), (track.inner_radius, "#fff")]
    if isinstance(track, PathCoil):
        out += [_rim([at(y, x) for x, y in track.outline(u)], fill)
                for u, fill in ((track.build, "#ececec"), (0.0, "#fff"))]
        rims = []
    for radius, fill in rims:
        x, y = middle[0] - k * (half + radius), middle[1] - k * radius
        out.append(f'<rect x="{x:.1f}" y="{y:.1f}" width="{2 * k * (half + radius):.1f}" '
                   f'height="{2 * k * radius:.1f}" '
                   f'rx="{k * radius:.1f}" fill="{fill}" stroke="{INK}" stroke-width="1"/>')
    for end in ends:
        x, y = at(end.y, end.x)
        if end.pole:
            out.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{k * end.radius:.1f}" fill="#fff" stroke="{INK}"/>')
            out.append(_text(x, HIGH - 18, f"{end.pole}", "middle", SOFT))
        out.append(_text(x, y + 4, end.letter, "middle", INK, bold=True))
    if isinstance(track, PathCoil):
        for share in (0.1, 0.5, 0.9):
            out.append(_rim([at(y, x) for x, y in track.outline(share * track.build)], "none"))
        left, right = at(track.inner_bounds[0][1], 0.0)[0], at(high, 0.0)[0]
        out += _ends(left - 0.1 * k * track.build, right - 0.1 * k * track.build, middle[1], middle[1])
    else:
        out += _turns(track, k, middle)
    out += _bar(k)
    out.append(_text(WIDE / 2, HIGH - 4, "towards the bridge ↓", "middle", SOFT))
    return "\n".join([*out, "</svg>"])


def _rim(points: Sequence[tuple[float, float]], fill: str) -> str:
    """A closed line."""
    return (f'<polygon points="{" ".join(f"{x:.1f},{y:.1f}" for x, y in points)}" fill="{fill}" stroke="{INK}" '
            'stroke-width="1"/>')


def _turns(track: Racetrack, k: float, middle: tuple[float, float]) -> list[str]:
    """From the start at the left to the finish at the right, with arrows on the way."""
    half = track.straight / 2
    points = []
    steps = round(_TURNS * _STEPS)
    for i in range(steps + 1):
        angle = math.pi + track.sense * 2 * math.pi * i / _STEPS
        radius = track.inner_radius + track.build * (0.1 + 0.8 * i / steps)
        u = radius * math.cos(angle) + math.copysign(half, round(math.cos(angle), 9))
        points.append((middle[0] + k * u, middle[1] - k * radius * math.sin(angle)))
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    out = [f'<polyline points="{path}" fill="none" stroke="{INK}" stroke-width="1.1"/>']
    for i in (3 * _STEPS // 4, 5 * _STEPS // 4, 7 * _STEPS // 4, 9 * _STEPS // 4):  # over and under the middle
        (x, y), (p, _) = points[i], points[i - 1]
        way = math.copysign(1.0, x - p)
        x = middle[0] + way * 14
        out.append(f'<path d="M{x:.1f} {y:.1f} l{-7 * way:.1f} -3.5 v7 z" fill="{INK}"/>')
    (sx, sy), (fx, fy) = points[0], points[-1]
    out.append(f'<circle cx="{sx:.1f}" cy="{sy:.1f}" r="3.2" fill="#fff" stroke="{INK}" stroke-width="1.4"/>')
    out.append(f'<circle cx="{fx:.1f}" cy="{fy:.1f}" r="3.2" fill="{INK}"/>')
    return [*out, *_ends(sx, fx, sy, fy)]


def _ends(sx: float, fx: float, sy: float, fy: float) -> list[str]:
    """Start to the left and finish to the right, with dashed lines from where they are in the winding."""
    return [f'<path d="M{sx:.1f} {sy:.1f} H{_SIDE - 22:.1f} M{fx:.1f} {fy:.1f} H{WIDE - _SIDE + 22:.1f}" '
            f'stroke="{INK}" stroke-dasharray="3 2" fill="none"/>',
            _text(_SIDE - 26, sy - 1, "start", "end", INK, bold=True),
            _text(_SIDE - 26, sy + 13, "inside", "end", SOFT),
            _text(WIDE - _SIDE + 26, fy - 1, "finish", "start", INK, bold=True),
            _text(WIDE - _SIDE + 26, fy + 13, "outside", "start", SOFT)]


def _bar(k: float) -> list[str]:
    """A length to compare with."""
    length = next(v for v in (20e-3, 10e-3, 5e-3, 2e-3, 1e-3, 0.5e-3) if k * v < 0.25 * WIDE)
    y = HIGH - 8
    return [f'<path d="M8 {y - 3:g} v6 M8 {y:g} h{k * length:.1f} m0 -3 v6" fill="none" stroke="{INK}"/>',
            _text(13 + k * length, y + 4, f"{length * 1e3:g} mm", "start", SOFT)]


def _text(x: float, y: float, text: str, anchor: str, fill: str, *, bold: bool = False) -> str:
    weight = ' font-weight="600"' if bold else ""
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{fill}"{weight}>{escape(text)}</text>'
