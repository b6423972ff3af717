"""`stringflux impedance`: the coil at its terminals, and with controls, cable and amplifier."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from rich.console import Console

from stringflux.geometry.case import Case
from stringflux.geometry.errors import CaseError, OutputError
from stringflux.geometry.load import Load
from stringflux.geometry.mesh import QUALITIES
from stringflux.geometry.units import shown

from .csv_table import csv_text
from .load import find_case, load_case
from .progress import shown_progress
from .results_document import case_source, document, plain
from .tables import Column, console, digits, table

# The band in a 1–2–5 series, and the two frequencies of simple meters beside 1 and 10 kHz.
FREQUENCIES = (20.0, 50.0, 100.0, 120.0, 200.0, 500.0, 1e3, 2e3, 5e3, 10e3, 20e3)
SHOWN = (100.0, 120.0, 1e3, 10e3)
HEADS = ("frequency Hz", "L H", "R ohm", "|Z| ohm", "phase deg")
FILES = ("impedance.csv", "impedance.png", "impedance.svg", "coil.cir")
UNITS = {"frequency": "Hz", "impedance": "ohm", "inductance": "H", "resistance": "ohm", "capacitance": "F",
         "level": "dB", "peak": "dB", "resonance": "Hz", "corner": "Hz", "magnitude": "ohm"}


@dataclass(frozen=True, kw_only=True)
class Settings:
    """A setting of the controls: what it is called, and rotations of volume and tone, 0 … 1."""

    name: str
    volume: float
    tone: float


def run_impedance(
    which: str, *, out: str | None, quality: str, changes: Mapping[str, Any], json: bool
) -> None:
    """Everything that can be refused is refused before the computation starts."""
    if quality not in QUALITIES:
        raise CaseError(f"--quality: received {shown(quality)}; write {', '.join(QUALITIES)}")
    case = load_case(which, changes)
    folder = None if out is None else usable_folder(out)
    circuit, low, high = _solved(case, quality, quiet=json)
    from stringflux.postprocess.load import LoadedCoil, network

    settings = control_settings(case.load)
    loads = {s.name: network(case.load, volume_setting=s.volume, tone_setting=s.tone) for s in settings}
    responses = {name: LoadedCoil(coil=circuit, network=hung).response() for name, hung in loads.items()}
    if json:
        z = circuit.impedance(circuit.frequency)
        result = {
            "coil": {
                "frequency": circuit.frequency, "inductance": circuit.inductance.real,
                "resistance": _loss(circuit, circuit.frequency),
                "impedance": {"real": z.real, "imaginary": z.imag},
                "resistance_dc": circuit.resistance, "capacitance": circuit.capacitance,
                "capacitance_range": (low.capacitance, high.capacitance),
            },
            "resonance": circuit.resonance(),
            "circuit": {**plain(circuit.ladder), "impedance_error": circuit.ladder_error()},
            "loaded": [{"controls": name, **plain(response)} for name, response in responses.items()],
        }
        sys.stdout.write(document("impedance", case, case_source(which, changes), result, UNITS,
                                  () if folder is None else FILES))
    else:
        _print(case, circuit, low, high, responses, console())
    sys.stdout.flush()
    if folder is not None:
        _write(folder, find_case(which).stem, case, circuit, loads)
        print(f"Written: {', '.join(FILES)} in {out}", file=sys.stderr if json else sys.stdout)


def _solved(case: Case, quality: str, *, quiet: bool) -> tuple[Any, Any, Any]:
    """The coil's circuit, and the same at the ends of what is known of its capacitance."""
    from stringflux.postprocess.circuit import coil_circuit
    from stringflux.postprocess.winding import winding
    from stringflux.solver.eddy import row_impedance
    from stringflux.solver.solved_row import SolvedRow

    from .case_materials import case_materials
    from .case_solve import solve_case

    made, materials = winding(case), case_materials(case)
    with shown_progress(bar_only=quiet) as progress:
        row = solve_case(case, quality, materials, lambda stage: progress(stage, 0.3))
        progress("eddy currents", 0.6)
        if not isinstance(row, SolvedRow):
            return _of_build(case, row, materials, progress)
        found = row_impedance(row, materials, np.array(FREQUENCIES))
        progress("equivalent circuit", 0.95)
        circuit = coil_circuit(frequency=np.array(FREQUENCIES), inductance=found.inductance,
                               resistance=made.resistance, capacitance=made.capacitance)
    low, high = (replace(circuit, capacitance=c) for c in made.capacitance_band)
    return circuit, low, high


def _of_build(case: Case, solved: Any, materials: dict[str, Any], progress: Any) -> tuple[Any, Any, Any]:
    """The same of a build's coils as they are connected."""
    from .build_circuit import build_network
    from .coil_windings import coil_windings

    network = build_network(case, solved, materials, np.array(FREQUENCIES),
                            lambda share: progress("eddy currents", 0.6 + 0.35 * share))
    ends = [network.with_capacitance([w.capacitance_band[i] for w in coil_windings(case)]).circuit() for i in (0, 1)]
    return network.circuit(), ends[0], ends[1]


def control_settings(load: Load) -> tuple[Settings, ...]:
    """The case's own setting first, then a few more that people ask for."""
    own = Settings(name="as in the case", volume=load.volume_setting, tone=load.tone_setting)
    if load.controls == "none":
        return (replace(own, name="no controls"),)
    more = [(1.0, 1.0, "all full up"), (0.5, 1.0, "volume half")]
    if load.controls == "volume and tone":
        more += [(1.0, 0.5, "tone half"), (1.0, 0.0, "tone down")]
    same = [name for v, t, name in more if (v, t) == (own.volume, own.tone)]
    rest = [Settings(name=name, volume=v, tone=t) for v, t, name in more if name not in same]
    return (replace(own, name=same[0]) if same else own, *rest)


def usable_folder(out: str) -> Path:
    """A folder that files can be written into; made if it is not there."""
    folder = Path(out)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if os.access(folder, os.W_OK | os.X_OK):
            return folder
        reason = "no permission"
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", "") or "no possible name"
    raise OutputError(f"--out: received {shown(out)}, where nothing can be written ({reason}); name another folder")


def _loss(circuit: Any, frequency: Any) -> Any:
    """Resistance of the winding with what eddy currents add, Ω."""
    return circuit.series(frequency).real


def _print(case: Case, circuit: Any, low: Any, high: Any, responses: Mapping[str, Any], to: Console) -> None:
    to.print(case.title or "Untitled case", style="bold", markup=False)
    f = np.array(SHOWN)
    l, r, z = circuit.inductance_at(f).real, _loss(circuit, f), circuit.impedance(f)
    columns = {
        "Frequency\nHz": [f"{x:g}" for x in f],
        "L\nH": [f"{x:.4g}" for x in l],
        "R\nkohm": [f"{x / 1e3:.4g}" for x in r],
        "|Z|\nkohm": [f"{abs(x) / 1e3:.4g}" for x in z],
        "Phase\ndeg": [f"{x:.1f}" for x in np.degrees(np.angle(z))],
    }
    to.print(_table("The coil alone", columns))
    to.print("L and R: the winding with eddy currents in its poles, without its capacitance; Z: with it.")
    pf = [c.capacitance * 1e12 for c in (circuit, low, high)]
    measured = pf[1] == pf[2]
    picofarad = f"{pf[0]:.4g} pF (measured)" if measured else f"{pf[0]:.0f} pF (estimate, {pf[1]:.0f} to {pf[2]:.0f})"
    top = circuit.resonance()
    if top is None:
        to.print(f"No resonance with {picofarad}.")
    else:
        ends = [c.resonance() for c in (high, low)]
        span = "" if measured or None in ends else (
            f" ({ends[0].frequency / 1e3:.3g} to {ends[1].frequency / 1e3:.3g})")
        to.print(f"Resonance: {top.frequency / 1e3:.3g} kHz{span}, |Z| {top.magnitude / 1e3:.0f} kohm, "
                 f"Q {top.quality:.1f}; winding {picofarad}.")
    parts = len(circuit.ladder.branches)
    to.print(f"Equivalent circuit: R, L, C and {parts} R–L pair{'' if parts == 1 else 's'}; off in the band by "
             f"{_percent(circuit.ladder.residual)} in L − jR/ω, {_percent(circuit.ladder_error())} in Z.")
    found = list(responses.values())
    columns = {
        "Controls": list(responses),
        "Resonance\nHz": [_or_dash(x.resonance, "{:.0f}") for x in found],
        "Peak\ndB": [_or_dash(x.peak, "{:.1f}") for x in found],
        "3 dB down\nHz": [_or_dash(x.corner, "{:.0f}") for x in found],
        "Level, low\ndB": [_level(x.level) for x in found],
    }
    to.print(_table("At the amplifier", columns, left=1))
    to.print(load_words(case.load), soft_wrap=True)
    to.print("Half is half the rotation; peak and 3 dB down count from the level at low frequencies.")


def load_words(load: Load) -> str:
    """The load in a line."""
    words = []
    if load.controls != "none":
        words.append(f"volume {load.volume / 1e3:g} kohm ({load.volume_taper})")
    if load.controls == "volume and tone":
        words.append(f"tone {load.tone / 1e3:g} kohm ({load.tone_taper}) with {load.tone_capacitor * 1e9:g} nF")
    words.append(f"cable {load.cable_length:g} m with {load.cable_length * load.cable_capacitance * 1e12:g} pF")
    words.append(f"input {digits(load.input_resistance / 1e6)} Mohm and {load.input_capacitance * 1e12:g} pF")
    return f"Load: {'; '.join(words)}."


def _level(decibel: float) -> str:
    return f"{round(decibel, 1) + 0.0:.1f}" if np.isfinite(decibel) else "silent"


def _percent(share: float) -> str:
    return "under 0.1%" if share < 1e-3 else f"up to {share:.1%}"


def _or_dash(value: float | None, form: str) -> str:
    return "–" if value is None else form.format(value)


def _table(title: str, columns: Mapping[str, list[str]], left: int = 0) -> Any:
    return table(title, [Column(head=h, cells=tuple(c)) for h, c in columns.items()], left=left)


def _write(folder: Path, name: str, case: Case, circuit: Any, loads: Mapping[str, Any]) -> None:
    from stringflux.postprocess.figure_impedance import impedance_figure
    from stringflux.postprocess.spice import subcircuit

    from .results import save_figure
    from .start import write_new

    title = case.title or name
    write_new(str(folder / FILES[0]), impedance_csv(circuit, loads), argument="--out", force=True)
    write_new(str(folder / FILES[3]), subcircuit(circuit, name, [title]), argument="--out", force=True)
    try:
        save_figure(impedance_figure(circuit, loads, title), folder / FILES[1], folder / FILES[2])
    except OSError as error:
        raise OutputError(f"--out: the figure cannot be written ({error.strerror or error})") from None


def impedance_csv(circuit: Any, loads: Mapping[str, Any], points: int = 181) -> str:
    """Columns against frequency, sixty points a decade."""
    from stringflux.postprocess.load import LoadedCoil

    f = np.geomspace(FREQUENCIES[0], FREQUENCIES[-1], points)
    z = circuit.impedance(f)
    of_coil = (f, circuit.inductance_at(f).real, _loss(circuit, f), np.abs(z), np.degrees(np.angle(z)))
    columns = dict(zip(HEADS, of_coil, strict=True))
    with np.errstate(divide="ignore"):
        for name, hung in loads.items():
            columns[f"{name} dB"] = 20 * np.log10(np.abs(LoadedCoil(coil=circuit, network=hung)(f)))
    return csv_text(columns, zip(*columns.values(), strict=True))
