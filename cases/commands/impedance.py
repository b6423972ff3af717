"""`stringflux impedance`: the coil at its terminals, and with controls, cable and amplifier."""

from __future__ import annotations

import math
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.console import Console

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import OutputError

from ..files.load import find_case
from ..files.taps import load_at_tap
from ..files.whole import usable_folder, write_new
from ..output.csv_table import csv_text
from ..output.document import case_source, document, plain
from ..terminal.options import OutOptions, TapOptions, said_in
from ..terminal.progress import shown_progress
from ..terminal.tables import console, headed, or_dash
from ..terminal.words import load_words, print_oddities

if TYPE_CHECKING:
    from stringflux.geometry.arrays import Array
    from stringflux.postprocess.coil.circuit import CoilCircuit
    from stringflux.postprocess.coil.controls import LoadResponse, Network

    from ..jobs.impedance import Impedance
    from ..papers.connections import Connected

SHOWN = (100.0, 120.0, 1e3, 10e3)
HEADS = ("frequency Hz", "L H", "R ohm", "|Z| ohm", "phase deg")
FILES = ("impedance.csv", "impedance.png", "impedance.svg", "coil.cir")
UNITS = {"frequency": "Hz", "impedance": "ohm", "inductance": "H", "resistance": "ohm", "capacitance": "F",
         "capacitance_range": "F", "capacitance_lead": "F",
         "level": "dB", "peak": "dB", "resonance": "Hz", "corner": "Hz", "magnitude": "ohm", "hum": "V",
         "hum_level": "dB"}


@dataclass(frozen=True, kw_only=True)
class ImpedanceOptions(OutOptions, TapOptions):
    """The options of `impedance`."""

    connections: Annotated[
        bool, typer.Option("--connections", help="Of several coils: every way to connect them, in one table.")
    ] = False


@said_in(ImpedanceOptions)
def impedance(options: ImpedanceOptions) -> None:
    """Everything that can be refused is refused before the computation starts."""
    which, json, out = options.which, options.json, options.out
    case, changes = load_at_tap(which, options.changes, options.tap)
    from ..papers.connections import connections, ways

    if options.connections:
        ways(case)  # refuses one coil
    folder = None if out is None else usable_folder(out)
    from ..solved.signal_doubt import signal_notes
    from ..solved.solid_inputs import begin_mesh

    begin_mesh(case, options.quality)
    from ..solving import solve

    pickup = solve(case, quality=options.quality)
    with shown_progress(bar_only=json) as progress:
        found = pickup.impedance(progress)
        notes = () if json else signal_notes(pickup.solved)
        every = connections(pickup, progress) if options.connections else ()
    circuit, (low, high), responses = found.circuit, found.terminals.ends, found.responses()
    if json:
        z = circuit.impedance(circuit.frequency)
        result = {
            "coil": {
                "frequency": circuit.frequency, "inductance": circuit.inductance.real,
                "resistance": _loss(circuit, circuit.frequency),
                "impedance": {"real": z.real, "imaginary": z.imag},
                "resistance_dc": circuit.resistance, "capacitance": circuit.capacitance,
                "capacitance_range": (low.capacitance, high.capacitance), "capacitance_loss": circuit.loss,
                "capacitance_lead": circuit.lead,
            },
            "resonance": circuit.resonance(),
            "circuit": {**plain(circuit.ladder), "impedance_error": circuit.ladder_error()},
            "loaded": [{"controls": name, **plain(response)} for name, response in responses.items()],
            **({"connections": every} if every else {}),
        }
        sys.stdout.write(document("impedance", case, case_source(which, changes), result, UNITS,
                                  () if folder is None else FILES))
    else:
        _print(case, circuit, low, high, responses, console())
        if every:
            _print_connections(case, every, console())
        print_oddities(case, console())
        for note in notes:
            console().print(f"Note: {note}", markup=False)
    sys.stdout.flush()
    if folder is not None:
        _write(folder, find_case(which).stem, case, found)
        print(f"Written: {', '.join(FILES)} in {out}", file=sys.stderr if json else sys.stdout)


def _loss(circuit: CoilCircuit, frequency: Array) -> Array:
    """Resistance of the winding with what eddy currents add, Ω."""
    return circuit.series(frequency).real


def _print(case: Case, circuit: CoilCircuit, low: CoilCircuit, high: CoilCircuit,
           responses: Mapping[str, LoadResponse], to: Console) -> None:
    import numpy as np

    to.print(case.title or "Untitled case", style="bold", markup=False)
    f = np.array(SHOWN)
    l, r, z = circuit.inductance_at(f).real, _loss(circuit, f), circuit.impedance(f)
    columns = {
        "Frequency\nHz": [f"{x:g}" for x in f],
        "L\nH": [f"{x:.4g}" for x in l],
        "R\nkΩ": [f"{x / 1e3:.4g}" for x in r],
        "|Z|\nkΩ": [f"{abs(x) / 1e3:.4g}" for x in z],
        "Phase\ndeg": [f"{x:.1f}" for x in np.degrees(np.angle(z))],
    }
    to.print(headed("The coil alone", columns))
    to.print("L and R: the winding with eddy currents in its poles, without its capacitance; Z: with it"
             f"{' and that of the lead' if circuit.lead else ''}.")
    pf = [c.capacitance * 1e12 for c in (circuit, low, high)]
    measured = pf[1] == pf[2]
    picofarad = f"{pf[0]:.4g} pF (measured)" if measured else f"{pf[0]:.0f} pF (computed, {pf[1]:.0f} to {pf[2]:.0f})"
    lead = f"; lead {circuit.lead * 1e12:.4g} pF" if circuit.lead else ""
    top = circuit.resonance()
    if top is None:
        to.print(f"No resonance with {picofarad}{lead}.")
    else:
        ends = [c.resonance() for c in (high, low)]
        kilohertz = [f"{end.frequency / 1e3:.3g}" for end in ends if end]
        span = "" if measured or None in ends else f" ({' to '.join(kilohertz)})"
        least, most = (x / 1e3 for x in top.magnitude_band)
        to.print(f"Resonance: {top.frequency / 1e3:.3g} kHz{span}, |Z| {top.magnitude / 1e3:.0f} kΩ "
                 f"({least:.0f} to {most:.0f}), Q {top.quality:.1f}; winding {picofarad}, "
                 f"tan δ {circuit.loss:.3f}{lead}.")
    parts = len(circuit.ladder.branches)
    to.print(f"Equivalent circuit: R, L, C and {parts} R–L pair{'' if parts == 1 else 's'}; off in the band by "
             f"{_percent(circuit.ladder.residual)} in L − jR/ω, {_percent(circuit.ladder_error())} in Z.")
    found = list(responses.values())
    columns = {
        "Controls": list(responses),
        "Resonance\nHz": [or_dash(x.resonance, "{:.0f}") for x in found],
        "Peak\ndB": [or_dash(x.peak, "{:.1f}") for x in found],
        "3 dB down\nHz": [or_dash(x.corner, "{:.0f}") for x in found],
        "Level, low\ndB": [_level(x.level) for x in found],
    }
    to.print(headed("At the amplifier", columns, left=1))
    to.print(load_words(case.load), soft_wrap=True)
    to.print("Half is half the rotation; peak and 3 dB down count from the level at low frequencies.")


def _print_connections(case: Case, every: Sequence[Connected], to: Console) -> None:
    from stringflux.geometry.case.phase import pairs

    columns = {
        "Connected": [f"{c.name}{' (as in the case)' if c.own else ''}" for c in every],
        "Level\ndB": ["silent" if math.isinf(c.level) else f"{c.level + 0.0:+.1f}" for c in every],
        "R\nkΩ": [f"{c.resistance / 1e3:.3g}" for c in every],
        "L\nH": [f"{c.inductance:.3g}" for c in every],
        "Peak\nHz": [or_dash(c.resonance, "{:.0f}") for c in every],
        "over low\ndB": [or_dash(c.peak, "{:.1f}") for c in every],
        "Hum\nµV": [f"{c.hum * 1e6:.3g}" for c in every],
        "to strings\ndB": [_level(c.hum_level) if not math.isnan(c.hum_level) else "–" for c in every],
    }
    to.print(headed("Every way to connect the coils", columns, left=1))
    to.print("Level: mean of the strings, open coils, against the case as it is. Peak: at the amplifier, controls as "
             "in the case. Hum: in a uniform field of 1 µT at 50 Hz, and that against the strings.", soft_wrap=True)
    for pair in pairs(case):
        to.print(f"As in the case: {pair.words}", markup=False, soft_wrap=True)


def _level(decibel: float) -> str:
    return f"{round(decibel, 1) + 0.0:.1f}" if math.isfinite(decibel) else "silent"


def _percent(share: float) -> str:
    return "under 0.1%" if share < 1e-3 else f"up to {share:.1%}"




def _write(folder: Path, name: str, case: Case, found: Impedance) -> None:
    from stringflux.postprocess.coil.spice import subcircuit

    from ..output.figure_files import save_figure

    title, circuit = case.title or name, found.circuit
    write_new(str(folder / FILES[0]), impedance_csv(circuit, found.loads), argument="--out", force=True)
    write_new(str(folder / FILES[3]), subcircuit(circuit, name, [title]), argument="--out", force=True)
    try:
        save_figure(found.figures(title)["impedance"], folder / FILES[1], folder / FILES[2])
    except OSError as error:
        raise OutputError(f"--out: the figure cannot be written ({error.strerror or error})") from None


def impedance_csv(circuit: CoilCircuit, loads: Mapping[str, Network], points: int = 181) -> str:
    """Columns against frequency, sixty points a decade."""
    import numpy as np

    from stringflux.postprocess.coil.controls import LoadedCoil

    f = np.geomspace(circuit.frequency[0], circuit.frequency[-1], points)
    z = circuit.impedance(f)
    of_coil = (f, circuit.inductance_at(f).real, _loss(circuit, f), np.abs(z), np.degrees(np.angle(z)))
    columns = dict(zip(HEADS, of_coil, strict=True))
    with np.errstate(divide="ignore"):
        for name, hung in loads.items():
            columns[f"{name} dB"] = 20 * np.log10(np.abs(LoadedCoil(coil=circuit, network=hung)(f)))
    return csv_text(columns, zip(*columns.values(), strict=True))
