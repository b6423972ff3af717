"""A moving picture as one HTML page: play, pause, a time cursor; it fetches nothing and runs no other script.

The page's content policy names its script and its style by their sums (SHA-256), as W3C, Content Security Policy
Level 3, 2.3.1, has it.
"""

from __future__ import annotations

import html
import io
import json
from base64 import b64encode
from hashlib import sha256
from pathlib import Path
from string import Template
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array

from .palette import DARK, DASHES, LIGHT, Palette
from .quantities import digits, scale
from .slides import time_unit_of

if TYPE_CHECKING:
    from .moving import Motion, MovingPicture, Shape, View
    from .parts import Content

PAGE = Path(__file__).with_name("page")
LARGEST = 3_000_000
"""Bytes."""
SOUND_RATE = 24_000.0
"""Samples per second of sounds inside the page; files of their own have all."""
_SOUND_SECONDS = 3.0
_LINE_POINTS = 90


def page_of(shown: Content) -> str:
    """The page; some 0.1 to 2 MB."""
    script, style = (_file(f"player.{kind}") for kind in ("js", "css"))
    data = json.dumps(_data(shown.moving), ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c")
    return Template(_file("player.html")).substitute(
        title=html.escape(shown.title), under=html.escape(shown.under), law=html.escape(shown.law),
        script=script, style=style, script_sum=_sum(script), style_sum=_sum(style), data=data,
        steps="".join(_step(s.says, s.line) for s in shown.steps),
        lists=_list("Caution", shown.cautions, "caution") + _list("What is counted positive", shown.signs)
        + _list("In this picture", (*shown.moving.notes, _speed(shown.moving))),
        sounds=_sounds(shown))


def _file(name: str) -> str:
    return (PAGE / name).read_text(encoding="utf-8")


def _sum(text: str) -> str:
    return f"sha256-{b64encode(sha256(text.encode()).digest()).decode()}"


def _step(says: str, line: str) -> str:
    formula = f'<span class="formula" tabindex="0">{html.escape(line)}</span>' if line else ""
    return f"<li>{html.escape(says)}{formula}</li>"


def _list(head: str, lines: tuple[str, ...], kind: str = "") -> str:
    if not lines:
        return ""
    rows = "".join(f"<li>{html.escape(line)}</li>" for line in lines)
    return f'<section class="{kind}"><h2>{html.escape(head)}</h2><ul>{rows}</ul></section>'


def _speed(moving: MovingPicture) -> str:
    slower = moving.slower
    if 0.98 < slower < 1.02:
        return "It plays as fast as the thing itself."
    return (f"It plays {digits(slower, 2)} times slower than the thing itself." if slower > 1 else
            f"It plays {digits(1 / slower, 2)} times faster than the thing itself.")


def _sounds(shown: Content) -> str:
    if not shown.sounds:
        return ""
    rows = []
    for name, volts in shown.sounds.items():
        said = html.escape(name.replace("-", " "))
        source = f"data:audio/wav;base64,{b64encode(_wav(volts, shown.rate)).decode()}"
        rows.append(f'<label>{said} <audio controls preload="none" src="{source}"></audio></label>')
    return f'<section class="sounds" aria-label="Sound">{"".join(rows)}</section>'


def _wav(volts: Array, rate: float) -> bytes:
    """16 bits, the loudest sample at −3 dB, its end faded."""
    import soundfile

    step = max(1, round(rate / SOUND_RATE))
    sound = volts[: round(_SOUND_SECONDS * rate)]
    if step > 1:
        from scipy.signal import resample_poly

        sound = resample_poly(sound, 1, step)
    sound = sound / (np.sqrt(2) * (float(np.max(np.abs(sound))) or 1.0))
    n = min(sound.size, round(0.05 * rate / step))
    sound[sound.size - n:] *= np.linspace(1.0, 0.0, n)
    out = io.BytesIO()
    soundfile.write(out, sound, round(rate / step), format="WAV", subtype="PCM_16")
    return out.getvalue()


def _data(moving: MovingPicture) -> dict[str, Any]:
    """What :file:`page/player.js` draws; lengths in mm, curves in their shown units."""
    unit, slope = time_unit_of(moving), moving.slope
    told: dict[str, Any] = {
        "time": _list_of(moving.time * scale(unit)), "timeUnit": unit, "seconds": moving.seconds,
        "slower": digits(moving.slower, 2), "views": [_view(v) for v in moving.views],
        "traces": [{"name": t.name, "unit": t.unit, "areas": t.areas, "curves": [
            {"name": c.name, "quiet": c.quiet, "values": _list_of(c.values * scale(t.unit))} for c in t.curves]}
            for t in moving.traces],
        "slope": None, "light": _colours(LIGHT), "dark": _colours(DARK), "dashes": [list(d) for d in DASHES],
    }
    if slope is not None:
        x, y = scale(slope.x_unit), scale(slope.unit)
        told["slope"] = {
            "name": slope.name, "unit": slope.unit, "xName": slope.x_name, "xUnit": slope.x_unit,
            "x": _list_of(slope.x * x), "y": _list_of(slope.y * y), "atX": _list_of(slope.at_x * x),
            "atY": _list_of(slope.at_y * y), "tangent": _list_of(slope.tangent * y / x),
            "tangentUnit": f"{slope.unit} per {slope.x_unit}"}
    return told


def _view(view: View) -> dict[str, Any]:
    return {"title": view.title, "window": [round(1e3 * e, 3) for e in view.window],
            "shapes": [_shape(s) for s in view.shapes],
            "lines": [[_path(line) for line in phase] for phase in view.lines],
            "phase": None if view.phase is None else view.phase.tolist(), "arrows": view.arrows,
            "carried": None if view.carried is None else _motion(view.carried)}


def _shape(shape: Shape) -> dict[str, Any]:
    motion = shape.motion
    return {"role": shape.role, "filled": shape.filled, "path": _rounded(1e3 * shape.outline),
            "label": shape.label, "at": None if shape.at is None else [round(1e3 * a, 3) for a in shape.at],
            "motion": None if motion is None else _motion(motion)}


def _motion(motion: Motion) -> dict[str, Any]:
    return {"u": _list_of(1e3 * motion.u), "z": _list_of(1e3 * motion.z), "turned": _list_of(motion.turned),
            "about": [1e3 * a for a in motion.about]}


def _path(line: Array) -> list[list[float]]:
    """A field line with few points, mm."""
    keep = np.unique(np.linspace(0, line.shape[1] - 1, min(line.shape[1], _LINE_POINTS)).round().astype(int))
    return _rounded(1e3 * line[:, keep])


def _rounded(path: Array) -> list[list[float]]:
    return [[float(x) for x in row.round(3)] for row in path]


def _list_of(values: npt.NDArray[np.float64]) -> list[float]:
    """Six digits of the largest: finer than a screen."""
    largest = float(np.max(np.abs(values), initial=0.0))
    places = 6 - int(np.floor(np.log10(largest))) if largest > 0 else 6
    return [float(v) for v in values.round(places)]


def _colours(palette: Palette) -> dict[str, Any]:
    return {name: getattr(palette, name) for name in ("ground", "ink", "soft", "faint", "lines", "curves", "fills")}
