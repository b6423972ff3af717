"""Figures and sound of a report, packed into addresses that hold their content."""

from __future__ import annotations

import base64
import io
from collections.abc import Callable, Mapping

import matplotlib
import numpy as np
from matplotlib.figure import Figure

from ..drawings.to_scale import drawing
from ..figures.impedance import impedance_figure
from ..figures.signal import signal_figures
from ..plucked.modes import PLUCK
from ..plucked.signal import strum
from .findings import Findings
from .narrow import narrowed
from .page import ReportFigure, ReportSound

Stage = Callable[[str, float], None]
DPI = 160
# Thousands of filled triangles: as a drawing it is twice the size of a picture, and slow to scroll.
AS_PICTURE = ("section", "slice")
AS_DRAWN = (*AS_PICTURE, "drawing")
"""To scale: a narrow screen shows them smaller, not otherwise."""
KINDS = {"png": "image/png", "svg": "image/svg+xml"}
_FADE = 0.05  # s, or the sound would end with a click

_SAID = {
    "drawing": ("Scale drawing: section along the row of poles, view from the strings, and section through pole 1, "
                "with "
                "dimensions in millimetres.",
                "The pickup and its strings to scale. Heights count from the top plate of the bobbin."),
    "section": ("Section through pole 1: colours show the flux density, lines the magnetic field of the pole alone.",
                "The field of pole 1 alone. The same flux runs between any two neighbouring lines."),
    "slice": ("Plane along the strings through the build: colours show the flux density, lines follow the "
              "field, bodies "
              "and coils are outlined.",
              "The field of everything in one plane along the strings, with the string nearest to it."),
    "fields": ("Six charts along the strings at rest: field of the magnets and field of one ampere in the coil, "
               "across "
               "and along, and flux density in the steel.",
               "What the strings meet. Field at the string: by the magnets. Coil field: by one ampere in the coil; "
               "where it "
               "is strong, the coil listens."),
    "linkage": ("Charts of the flux linkage of each string against its displacement up and down and sideways, and "
                "of the "
                "sensitivity against its place over the pole.",
                "The steeper a curve, the more voltage. Where it bends, the pickup adds harmonics."),
    "balance": ("Bars: level of each string in decibels against the loudest, at equal speed, equal pluck force and "
                "equal "
                "pluck distance; the numbers are in the table.",
                "Balance of the strings, in three ways of playing them alike."),
    "impedance": ("Charts against frequency from 20 Hz to 20 kHz: impedance and phase of the coil alone, and "
                  "output at "
                  "the amplifier for several settings of the controls.",
                  "The coil alone, and what controls, cable and amplifier make of it."),
    "waveform": ("Voltage of each plucked string against time, the first 60 milliseconds, one chart above the other.",
                 "All strings plucked alike, open coil."),
    "spectrum": ("Spectrum of each plucked string from 30 Hz to 10 kHz, one chart above the other, with the nodes "
                 "of its modes over the pickup marked, and those at the place of the pluck.",
                 "Dips at the dotted lines are the comb of the pickup's place along the string, those at the dashed "
                 "ones of the place where it was plucked."),
    "distortion": ("Chart of the second and third harmonic in the voltage against the swing of each string.",
                   "Harmonics that the pickup adds."),
}

_BUILD = {
    "drawing": ("Scale drawing of the build: seen from the strings, along them and across them.",
                "The pickup and its strings to scale. Heights count from the top plate of the bobbin; arrows "
                "point from "
                "south to north."),
    "fields": ("Six charts along the strings at rest: field of the magnets and field of one ampere at the terminals, "
               "across and along, and flux density in the steel.",
               "What the strings meet. Field at the string: by the magnets. Coil field: by one ampere at the "
               "terminals; where it is strong, the pickup listens."),
    "impedance": ("Charts against frequency from 20 Hz to 20 kHz: impedance and phase of the pickup alone, "
                  "and output at "
                  "the amplifier for several settings of the controls.",
                  "The pickup alone, and what controls, cable and amplifier make of it."),
}
"""Where a build needs other words."""


def pictures_at_rest(found: Findings, progress: Stage = lambda stage, share: None) -> dict[str, ReportFigure]:
    """Drawing, prediction and impedance."""
    return _packed({"drawing": drawing(found.case), **found.prediction.figures(),
                    "impedance": impedance_figure(found.circuit, found.loads, found.title)}, progress,
                   _SAID if found.build is None else _SAID | _BUILD)


def pictures_in_motion(found: Findings, progress: Stage = lambda stage, share: None) -> dict[str, ReportFigure]:
    """The plucked strings, if there are any."""
    return _packed(signal_figures(found.played, found.pluck, PLUCK.at), progress) if found.played else {}


def _packed(made: dict[str, Figure], progress: Stage,
            said: Mapping[str, tuple[str, str]] = _SAID) -> dict[str, ReportFigure]:
    out = {}
    for i, (name, figure) in enumerate(made.items()):
        progress(f"figure: {name}", i / len(made))
        out[name] = picture(name, figure, said)
    return out


def picture(name: str, figure: Figure, said: Mapping[str, tuple[str, str]] = _SAID) -> ReportFigure:
    """One figure with its words: what it shows for those who do not see it, and its caption."""
    kind = "png" if name in AS_PICTURE else "svg"
    width, height = (round(96 * size) for size in figure.get_size_inches())
    alt, caption = said[name]
    source = _saved(figure, kind)
    return ReportFigure(name=name, source=source, width=width, height=height, alt=alt, caption=caption,
                        narrow="" if name in AS_DRAWN else _saved(narrowed(figure), kind))


def _saved(figure: Figure, kind: str) -> str:
    data = io.BytesIO()
    with matplotlib.rc_context({"svg.hashsalt": "stringflux", "svg.fonttype": "none"}):
        figure.savefig(data, format=kind, dpi=DPI, metadata={"Date": None} if kind == "svg" else None)
    return _address(KINDS[kind], data.getvalue())


def sound(found: Findings) -> ReportSound:
    """All strings one after the other, as they come out of the amplifier's input."""
    import soundfile  # loads a shared library: only where sound is wanted

    rate = found.loaded[0].signal.rate if found.loaded else 48e3
    heard = strum([p.signal.voltage for p in found.loaded], rate)
    n = min(int(_FADE * rate), heard.size)
    heard[heard.size - n:] *= np.linspace(1.0, 0.0, n)
    data = io.BytesIO()
    soundfile.write(data, 0.7 * heard / max(float(np.max(np.abs(heard))), 1e-30), round(rate), subtype="PCM_16",
                    format="WAV")
    return ReportSound(source=_address("audio/wav", data.getvalue()),
                       caption="Listen: the strings one after the other, through the load of the case; no "
                               "amplifier, no "
                               "loudspeaker, no body of an instrument.")


def _address(kind: str, data: bytes) -> str:
    return f"data:{kind};base64,{base64.b64encode(data).decode('ascii')}"
