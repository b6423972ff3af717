"""What a report says of a build of bodies and several coils besides: its bodies, its coils together, their hum.

Inductances are L_i of each coil and M_ij of each two as they are wound, H, k = M_ij/√(L_i L_j); the row "together" is
wᵀLw with the coils' shares (:mod:`.coil.shares`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from stringflux.geometry.case.model import Case
from stringflux.geometry.shapes.bodies import Box, Cover, Cylinder, Form, SolidBody
from stringflux.geometry.shapes.pieces import Shaped

from ..coil.hum_several import REFERENCE_FIELD
from .findings import Findings
from .page import ReportTable, numbers, words
from .words import count, figure, fixed, minus, sentence

_WAYS = {(0, 0, 1): "up", (0, 0, -1): "down", (1, 0, 0): "to +x", (-1, 0, 0): "to −x", (0, 1, 0): "to +y",
         (0, -1, 0): "to −y"}
_ALONG = ("along the strings", "across the strings", "upright")


def build_words(found: Findings) -> str:
    """What it is, in a sentence: strings, poles, bodies, coils."""
    p, case = found.prediction, found.case
    parts = [count(len(p.poles), "pole") + _in_rows(len(case.rows()))] if p.poles else []
    other = len(case.body)
    if other:
        noun = "other body" if p.poles else "body"
        parts.append(f"one {noun}" if other == 1 else count(other, noun.replace("body", "bodie")))
    coils = [f"{c.turns:g} turns of {w.wire.name}" for c, w in zip(p.coils, found.windings, strict=True)]
    told = f"{count(len(p.strings), 'string')} over {' and '.join(parts)}"
    if len(coils) == 1:
        return sentence(f"{told}, with a coil of {coils[0]} wire.")
    named = [f"{c.name} with {text}" for c, text in zip(p.coils, coils, strict=True)]
    listed = f"{', '.join(named[:-1])} and {named[-1]}"
    return sentence(f"{told}, with {count(len(coils), 'coil')} {p.connection}: {listed}.")


def _in_rows(rows: int) -> str:
    return f" in {count(rows, 'row')}" if rows > 1 else ""


def solver_words(found: Findings) -> str:
    """Which solver, why, and how its figures are to be read, in a paragraph."""
    return (f"This case went to the 3-D solver, as {_why(found)}. All magnetic bodies are in one "
            f"mesh: on their "
            "whole curves for the bias, then as they are at that bias for the field of every coil. Sheets "
            "that are not "
            "magnetic count in the impedance by their eddy currents and in nothing else.")


def _why(found: Findings) -> str:
    """Why, without the advice on options that may follow it."""
    return found.prediction.why.split(";")[0]


def bodies_table(case: Case) -> tuple[ReportTable, ...]:
    """The bodies besides the poles; nothing where there are none."""
    bodies = case.own_bodies()
    if not bodies:
        return ()
    ends = [b.form.bounds for b in bodies]
    return (ReportTable(
        caption="Bodies besides the poles" if case.rows() else "Bodies",
        columns=(
            words("Body", [b.name for b in bodies]),
            words("Material", [b.material for b in bodies]),
            words("Form", [_form(b.form) for b in bodies]),
            numbers("Middle along, across", [f"{_mm(low[0], high[0])}, {_mm(low[1], high[1])}" for low, high in ends],
                    "mm"),
            numbers("From, to height", [f"{minus(f'{low[2] * 1e3:.4g}')}, {minus(f'{high[2] * 1e3:.4g}')}"
                                        for low, high in ends], "mm"),
            words("North points", [_north(b) for b in bodies]),
        ),
        note="Sizes are along × across × height. x runs along the strings towards the bridge; heights count from the "
             "top plate of the bobbin.",
    ),)


def _mm(low: float, high: float) -> str:
    return minus(f"{(low + high) * 500 + 0.0:.4g}")


def _form(form: Form) -> str:
    size = " × ".join(f"{(b - a) * 1e3:.4g}" for a, b in zip(*form.bounds, strict=True))
    if isinstance(form, Box):
        return f"box {size} mm"
    if isinstance(form, Cover):
        return f"cover {size} mm, wall {form.wall * 1e3:.4g} mm"
    if isinstance(form, Cylinder):
        return f"cylinder ∅ {form.radius * 2e3:.4g} × {form.length * 1e3:.4g} mm, {_ALONG[form.along]}"
    return f"{form.kind if isinstance(form, Shaped) else 'turned body'} {size} mm"


def _north(body: SolidBody) -> str:
    if body.magnetisation is None:
        return "no magnet"
    x, y, z = body.axis
    known = _WAYS.get((round(x), round(y), round(z)))
    if known is not None and max(map(abs, body.axis)) > 1 - 1e-9:
        return known
    return minus(f"({x:.2g}, {y:.2g}, {z:.2g})")


def coils_table(found: Findings) -> tuple[ReportTable, ...]:
    """Each coil and all together, and how they are coupled; nothing for one coil."""
    p, coils = found.prediction, found.prediction.coils
    if found.build is None or len(coils) == 1:
        return ()
    net, case = found.build.network, found.case
    senses = [c.winding for c in case.coils()]
    turned = ["yes" if name in case.connection.reversed else "no" for name in case.coil_names()]
    each = ReportTable(
        caption=f"Coils, {p.connection}",
        columns=(
            words("Coil", [*(c.name for c in coils), "together"]),
            numbers("Turns", [*(f"{c.turns:g}" for c in coils), "–"]),
            words("Wound", [*senses, "–"]),
            words("Ends exchanged", [*turned, "–"]),
            numbers("Resistance", [*(figure(w.resistance / 1e3) for w in found.windings),
                                   figure(found.resistance[1] / 1e3)], "kΩ"),
            numbers("L in air", [figure(abs(x)) for x in (*(c.inductance_air for c in coils), p.coil.inductance_air)],
                    "H"),
            numbers("L with steel and magnets", [figure(abs(x)) for x in (*(c.inductance for c in coils),
                                                                          p.coil.inductance)], "H"),
            numbers("Capacitance", [*(figure(w.capacitance * 1e12, 2) for w in found.windings),
                                    figure(net.capacitance * 1e12, 2)], "pF"),
        ),
        note="At low frequencies. Together: at the terminals, as the coils are connected. Resistance at "
             f"{found.winding.temperature:g} °C.",
    )
    pairs = ReportTable(
        caption="How the coils are coupled",
        columns=(
            words("Coils", [f"{q.first}, {q.second}" for q in p.pairs]),
            numbers("Mutual inductance", [figure(q.mutual) for q in p.pairs], "H"),
            numbers("Coupling", [figure(q.coupling, 2) for q in p.pairs]),
        ),
        note="With both as they are wound, before any ends are exchanged; below 0: the field of one runs against the "
             "other.",
    )
    return each, pairs


def residue_table(found: Findings) -> tuple[ReportTable, ...]:
    """How well coils cancel the hum, and what turns would do; nothing for one coil."""
    if found.build is None or found.build.residue is None:
        return ()
    r, names = found.build.residue, found.case.coil_names()
    level = f"{fixed(r.level, 1)} dB" if math.isfinite(r.level) else "nothing"
    return (ReportTable(
        caption="Hum of the coils together",
        columns=(
            words("Coil", list(names)),
            *(numbers(f"Effective area, {way}", [fixed(float(a.total[i]), 3) for a in found.build.areas], "m²")
              for i, way in enumerate(("along", "across", "up"))),
            numbers("One more turn changes the hum by", _microvolts(r.per_turn.tolist()), "µV"),
            numbers("Turns for the least hum", ["–" if math.isnan(t) else fixed(t, 0, sign=True) for t in r.trim]),
            numbers("Which leaves", [_left(v) for v in r.trimmed_level.tolist()], "dB"),
        ),
        note=f"In a uniform field of {REFERENCE_FIELD * 1e6:g} µT at {r.frequency:g} Hz the coils together hum with "
             f"{figure(1e3 * r.voltage)} mV, the loudest alone with {figure(1e3 * r.voltage_alone)} mV: "
             f"{level} is left. "
             "dB count from the loudest coil alone; turns are changed on one coil only.",
    ),)


def _left(level: float) -> str:
    return "nothing" if level == -math.inf else fixed(level, 1)


def _microvolts(volts: Sequence[float]) -> list[str]:
    return [fixed(1e6 * v, 2, sign=True) for v in volts]


def mesh_rows(found: Findings) -> dict[str, str]:
    """Settings of the 3-D solver."""
    build = found.build
    if build is None:
        return {}
    share = {1: "the whole", 2: "one half, the other is its mirror image",
             4: "one quarter, the others are its mirror images"}
    return {
        "Solver": f"3-D, as {_why(found)}",
        "Mesh": f"{build.unknowns} unknowns, tetrahedra of second order; meshed is {share[build.copies]}",
    }


def left_out(found: Findings) -> tuple[tuple[str, str], ...]:
    """What the computation of a build takes for granted."""
    return (
        ("Bodies.", "As they are drawn; no threads. Eddy currents take what is no box, cylinder or cover for the box "
                    "or rod about it, without its holes."),
        ("Answer to the strings.", "What the steel does to a string's own field is that of the nearest pole of every "
                                   "row, or, where no pole is near, of all bodies together."),
        ("Eddy currents.", "They count in the impedance, in the load and in the voltages at the amplifier, and not "
                           "in those of the open coils."),
        ("Capacitance.", "Of each winding by itself, with poles, bodies and covers round it; that between coils, of "
                         "leads and of screens is left out.")
        if len(found.windings) > 1 else
        ("Capacitance.", "Of the winding, with poles, bodies and covers round it; that of leads and screens is left "
                         "out."),
    )
