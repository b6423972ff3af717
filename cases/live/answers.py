"""What the page is told of a pickup, topic by topic, in the order in which it is wanted.

Each topic is one entry of :data:`TOPICS`: a function of the pickup (and of the chosen string) that gives texts,
numbers and arrays in SI. A figure of the public API reaches the page by one line here.
"""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

from stringflux.geometry.errors import InputError, StringfluxError

from ..files.load import built_in_uses
from ..jobs.material import material
from ..pickup import Pickup
from .moved import sounds, swings, unmoved

if TYPE_CHECKING:
    from stringflux.postprocess.results.material import MaterialCurve

    from ..jobs.estimate import Estimate

RESPONSE = np.geomspace(20.0, 200e3, 321)
"""Hz, at which the page computes what a load makes of the voltage."""
_FEW = 2
"""Strings that are told of at once; of more the chosen one is told of first."""
_EVERY = 4
"""Of the points of a material's curve one in so many goes to the page."""
Progress = Callable[[str, float], None]


@dataclass(frozen=True, kw_only=True)
class Asked:
    """Of which string, from 1, how it swings, m; the design's file, for what is written of it; and pickups that are
    known, the newest first, with the first looks by them."""

    string: int = 1
    swing: float = 0.5e-3
    name: str = ""
    text: str = ""
    before: tuple[Pickup, ...] = ()
    looks: dict[int, Estimate] = field(default_factory=dict, compare=False)


def moved(pickup: Pickup, asked: Asked, progress: Progress) -> dict[str, Any]:
    """A first look at the strings of what was moved; where those are many, at the chosen one."""
    def first(found: Estimate) -> Collection[int]:
        few = len(found.changed) <= _FEW
        return found.changed if few else [asked.string if asked.string in found.changed else found.changed[0]]

    return _first_look(pickup, asked, first, progress)


def estimate(pickup: Pickup, asked: Asked, progress: Progress) -> dict[str, Any]:
    """A first look at all strings."""
    return _first_look(pickup, asked, lambda found: None, progress)


def _first_look(pickup: Pickup, asked: Asked, which: Callable[[Estimate], Collection[int] | None],
                progress: Progress) -> dict[str, Any]:
    """By the newest of the pickups before that serves."""
    says = InputError("estimate: no pickup is known that differs little")
    for i, before in enumerate(asked.before):
        try:
            found = asked.looks[i] = asked.looks.get(i) or pickup.estimate(before)
            told = found.strings(which(found), progress)
        except InputError as error:
            says = error
            continue
        return {"strings": [{
            "number": s.number, "gap": s.gap, "sensitivity": s.sensitivity, "linkage": s.linkage, "bias": s.bias,
            "level": s.balance, "level_force": s.balance_force, "level_displacement": s.balance_displacement,
            "anew": s.anew} for s in told]}
    raise says


def strings(pickup: Pickup, asked: Asked, progress: Progress) -> dict[str, Any]:
    """Sensitivity, level, field of every string; the poles' fields; the coil's turns and inductance."""
    found = pickup.prediction(maps=False, progress=progress)
    return {
        "solver": found.solver, "why": found.why, "notes": list(found.notes), "connection": found.connection,
        "strings": [{
            "number": s.number, "gap": s.gap, "sensitivity": s.sensitivity, "band": s.sensitivity_band,
            "across": s.sensitivity_across, "curve": s.sensitivity_curve, "gap_slope": s.gap_slope,
            "linkage": s.linkage,
            "level": s.balance, "level_force": s.balance_force, "level_displacement": s.balance_displacement,
            "level_band": s.balance_band, "bias": s.bias, "reciprocal": s.reciprocal, "steel": s.peak_flux_density,
        } for s in found.strings],
        "poles": [{"number": p.number, "field": p.field, "band": p.field_band} for p in found.poles],
        "coil": {"turns": found.coil.turns, "inductance": found.coil.inductance, "air": found.coil.inductance_air},
        "coils": [{"name": c.name, "turns": c.turns, "inductance": c.inductance} for c in found.coils],
    }


def maps(pickup: Pickup, asked: Asked, progress: Progress) -> dict[str, Any]:
    """λ of every string over its displacement across and up."""
    return {"unmoved": unmoved(pickup.case), "turns": [c.turns for c in pickup.case.coils()],
            "strings": [{"number": s.number, "place": [s.y, s.height], "y": s.map_y, "z": s.map_z,
                         "linkage": s.map_linkage, "sensitivity": s.sensitivity, "gap_slope": s.gap_slope,
                         "pitch": s.pitch}
                        for s in pickup.prediction(progress=progress).strings]}


def winding(pickup: Pickup, asked: Asked, progress: Progress) -> dict[str, Any]:
    """What is wound on every coil."""
    return {"coils": [{
        "name": n, "turns": w.turns, "wire": w.wire.name, "resistance": w.resistance, "capacitance": w.capacitance,
        "capacitance_band": w.capacitance_band, "fill": w.fill, "mean_turn": w.mean_turn, "length": w.length,
        "packings": [{"name": p.name, "most": p.most_turns} for p in w.packings],
    } for n, w in zip(pickup.case.coil_names(), pickup.winding(), strict=True)]}


def coil(pickup: Pickup, asked: Asked, progress: Progress) -> dict[str, Any]:
    """The coils at their terminals, and what the case's controls and cable make of them."""
    found = pickup.impedance(progress)
    circuit = found.circuit
    series, shunt = circuit.series(RESPONSE), circuit.shunt(RESPONSE)
    top = circuit.resonance()
    own = next(iter(found.responses().values()))
    return {
        "resistance": circuit.resistance, "capacitance": circuit.capacitance, "lead": circuit.lead,
        "inductance": float(circuit.inductance[0].real),
        "frequency": RESPONSE, "series": np.stack([series.real, series.imag]),
        "shunt": np.stack([shunt.real, shunt.imag]),
        "resonance": None if top is None else {"frequency": top.frequency, "impedance": top.magnitude},
        "unmoved": unmoved(pickup.case), "turns": [c.turns for c in pickup.case.coils()],
        "loaded": {"level": own.level, "resonance": own.resonance, "peak": own.peak, "corner": own.corner},
        "load": pickup.case.load.model_dump(),
    }


def pull(pickup: Pickup, asked: Asked, progress: Progress) -> dict[str, Any]:
    """What the magnets do to the pitch of every string."""
    return {"strings": [{"number": p.number, "cents_y": p.detuning.cents_y, "cents_z": p.detuning.cents_z,
                         "split": p.detuning.split, "force": p.pull.force_z} for p in pickup.pull()]}


def hum(pickup: Pickup, asked: Asked, progress: Progress) -> dict[str, Any]:
    """Area for a uniform field along x, y and z, m²."""
    found = pickup.hum(progress)
    return {"turns": found.area.turns, "poles": found.area.poles, "signal": list(found.signal)}


def loop(pickup: Pickup, asked: Asked, progress: Progress) -> dict[str, Any]:
    """λ round the loops of the chosen string, and S about its place."""
    return {"string": asked.string, "unmoved": unmoved(pickup.case), "turns": [c.turns for c in pickup.case.coils()],
            **swings(pickup, asked.string)}


def sound(pickup: Pickup, asked: Asked, progress: Progress) -> dict[str, Any]:
    """The chosen string plucked, as the amplifier has it."""
    return sounds(pickup, asked.string, progress, loaded=True)


def sound_open(pickup: Pickup, asked: Asked, progress: Progress) -> dict[str, Any]:
    """The chosen string plucked, as the coil alone gives it."""
    return sounds(pickup, asked.string, progress, loaded=False)


def fields(pickup: Pickup, asked: Asked, progress: Progress) -> dict[str, Any]:
    """B₀ in the planes of the drawing, with lines, and what the strings add; a plane that there is not says why."""
    pickup.prediction(maps=False, progress=progress)
    planes, says = {}, {}
    for plane in ("along", "side"):
        try:
            found = pickup.picture(plane, asked.string)
        except InputError as error:
            says[plane] = str(error)
            continue
        planes[plane] = {
            "at": found.at, "u": found.u, "z": found.z, "b": found.b, "strings": found.strings,
            "inside": found.inside, "names": list(found.names), "lines": list(found.lines), "step": found.step,
            "per_metre": found.per_metre, "endless": found.endless}
    return {"string": asked.string, "planes": planes, "says": says}


def space(pickup: Pickup, asked: Asked, progress: Progress) -> dict[str, Any]:
    """Axial flux density along every string, for its colour in space."""
    return {"strings": [{"number": s.number, "x": s.x, "flux_density": s.line_flux_density}
                        for s in pickup.prediction(maps=False, progress=progress).strings]}


def materials(pickup: Pickup, asked: Asked, progress: Progress) -> dict[str, Any]:
    """The curve of every material of the table, and of the case's own; what it is for, and its source."""
    own = {name: curve for name, curve in pickup.materials().items() if name in pickup.case.materials}
    return {"materials": _table() + [_curve(name, "own", curve) for name, curve in own.items()]}


@cache
def _table() -> list[dict[str, Any]]:
    return [_curve(name, use, material(name)) for name, use in built_in_uses().items()]


def _curve(name: str, use: str, curve: MaterialCurve) -> dict[str, Any]:
    return {"name": name, "use": use, "h": curve.h[::_EVERY], "b": curve.b[::_EVERY], "source": curve.source}


def report(pickup: Pickup, asked: Asked, progress: Progress) -> dict[str, Any]:
    """The report, one page to print or hand on."""
    from ..papers.report import CaseText, report_page

    name = _stem(asked)
    page, without = report_page(pickup, CaseText(name=name, text=asked.text), progress=progress)
    return {"file": f"{name}-report.html", "type": "text/html", "text": page, "without": list(without)}


def sheet(pickup: Pickup, asked: Asked, progress: Progress) -> dict[str, Any]:
    """The winding sheet, a page to print for each coil."""
    from ..papers.sheets import winding_sheet

    name = _stem(asked)
    return {"file": f"{name}-winding.html", "type": "text/html", "text": winding_sheet(pickup.case, name)}


def table(pickup: Pickup, asked: Asked, progress: Progress) -> dict[str, Any]:
    """Every string's figures for a spreadsheet."""
    from ..output.results import strings_csv

    found = pickup.prediction(progress=progress)
    return {"file": f"{_stem(asked)}-strings.csv", "type": "text/csv", "text": strings_csv(found)}


def figures(pickup: Pickup, asked: Asked, progress: Progress) -> dict[str, Any]:
    """The figures of the prediction and of the coil, PNG and SVG in one archive."""
    from ..papers.figures import figures_archive

    archive = figures_archive(pickup, progress)
    return {"file": f"{_stem(asked)}-figures.zip", "type": "application/zip", "base64": b64encode(archive).decode()}


def _stem(asked: Asked) -> str:
    return re.sub(r"[^\w.-]+", "-", asked.name.removesuffix(".toml"))[:80] or "design"


Topic = Callable[[Pickup, Asked, Progress], dict[str, Any]]
TOPICS: Mapping[str, Topic] = {
    "moved": moved, "estimate": estimate, "strings": strings, "winding": winding, "maps": maps, "loop": loop,
    "coil": coil, "fields": fields, "space": space, "hum": hum, "pull": pull, "sound": sound,
    "sound_open": sound_open, "materials": materials, "report": report, "sheet": sheet, "table": table,
    "figures": figures}


def answer(topic: str, pickup: Pickup, asked: Asked, progress: Progress) -> dict[str, Any]:
    """What a topic says; a figure that this case does not have comes as the sentence that says why."""
    if topic not in TOPICS:
        return {"refused": f"there is no topic {topic}"}
    try:
        return TOPICS[topic](pickup, asked, progress)
    except StringfluxError as error:
        return {"refused": str(error)}
