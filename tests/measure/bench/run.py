"""`make bench`: times, sizes and errors of this machine, medians of several runs, printed as tables."""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

import numpy as np
from rich.console import Console
from rich.table import Table

from measure.bench.live import live_table
from measure.bench.plane import plane_table
from measure.bench.shape import shape_table
from measure.bench.solid import solid_table
from measure.bench.solid_errors import errors_table, peer_table
from measure.bench.studies import studies_table
from rigs.fields.meshed_coil import meshed_inductance
from stringflux.cases.files.load import load_case
from stringflux.cases.jobs.prediction import predict
from stringflux.cases.pickup import Pickup
from stringflux.cases.solved.materials import case_materials
from stringflux.cases.solved.numerics import SHIPPED
from stringflux.cases.solved.solve import solved_case
from stringflux.cases.solved.solve_row import forget_meshes
from stringflux.cases.solving import solve
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.mesh.pole import QUALITIES, Quality
from stringflux.geometry.shapes.row import PartShape, PoleShape
from stringflux.postprocess.plucked.modes import Pluck
from stringflux.solver.row.impedance import row_impedance
from stringflux.solver.section.space import section

RUNS = 7
SIX = "baritone-six"
LEVEL = {"strings.plane_angle": "0 deg"}  # strings level with the top plate: what most pickups have
_JOB = ("from stringflux.cases import load_case, predict; "
        f"predict(load_case({SIX!r}, {LEVEL!r}), maps=False)")


def main() -> None:
    """Print everything."""
    console = Console(width=100)
    console.print(f"[bold]stringflux bench[/]  medians of {RUNS} runs, ms")
    console.print(_stages())
    console.print(_whole())
    console.print(_errors())
    console.print(f"peak memory of a fresh process with six strings {_memory():.0f} MB (target 400)")
    console.print(_kernel())
    console.print(_other_half())
    console.print(studies_table())
    console.print(live_table())
    console.print(shape_table())
    console.print(plane_table())
    console.print(solid_table())
    console.print(peer_table())
    console.print(errors_table())


def median(run: Callable[[], object], runs: int = RUNS, before: Callable[[], object] = lambda: None) -> float:
    """Median wall time of `run` in ms; `before` runs untimed each time."""
    times = []
    for _ in range(runs):
        before()
        start = time.perf_counter()
        run()
        times.append(1e3 * (time.perf_counter() - start))
    return statistics.median(times)


def _stages() -> Table:
    case = load_case(SIX, LEVEL)
    runs: list[dict[str, float]] = []
    for _ in range(RUNS):
        forget_meshes()
        runs.append(predict(case).timings)
    row = solved_case(case, "normal").solution()
    unknowns = next(iter(row.cells.values())).section.unknowns
    table = Table(title=f"stages of {SIX}, level strings, maps included ({unknowns} unknowns a pole)")
    table.add_column("stage")
    table.add_column("ms", justify="right")
    for stage in runs[0]:
        table.add_row(stage, f"{1e3 * statistics.median(r[stage] for r in runs):.0f}")
    return table


def _whole() -> Table:
    table = Table(title="whole jobs")
    table.add_column("job")
    table.add_column("ms", justify="right")
    table.add_column("target", justify="right")
    level = load_case(SIX, LEVEL)
    table.add_row("six strings, identical poles, warm, no maps", f"{_cold(level, False):.0f}", "1000")
    table.add_row("the same with linkage maps", f"{_cold(level, True):.0f}", "")
    table.add_row("the same, strings 0.5° to the plate", f"{_cold(load_case(SIX), False):.0f}", "")
    table.add_row("six strings, six different poles, warm", f"{_cold(_six_different(), False):.0f}", "3000")
    table.add_row("fresh process, no 3-D picture", f"{_fresh():.0f}", "3000")
    table.add_row("only the gap of one string", f"{_gap():.0f}", "50")
    for what, took in _by_hand().items():
        table.add_row(what, f"{took:.0f}", "")
    table.add_row("stringflux --help", f"{_help():.0f}", "300")
    return table


def _cold(case: Case, maps: bool) -> float:
    return median(lambda: predict(case, maps=maps), before=forget_meshes)


def _six_different() -> Case:
    """Six rods of six lengths."""
    data: dict[str, Any] = dict(LEVEL)
    base = load_case(SIX)
    part = base.pole[0].part[0]
    poles = [{"at": [n + 1], "part": [{"material": part.material, "diameter": f"{part.diameter * 1e3} mm",
                                       "length": f"{15 + 0.7 * n} mm", "polarity": part.polarity}]}
             for n in range(6)]
    data["pole"] = poles
    return load_case(SIX, data)


def _fresh() -> float:
    return median(lambda: subprocess.run([sys.executable, "-c", _JOB], check=True), runs=3)


def _memory() -> float:
    """MB that a fresh process with six strings holds at the most (Linux; what getrusage says of a child starts
    with its parent's)."""
    code = _JOB + "; print(open('/proc/self/status').read())"
    status = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True).stdout
    return float(next(line for line in status.splitlines() if line.startswith("VmHWM")).split()[1]) / 1024


def _other_half() -> Table:
    """Impedance over the band, a plucked string, the report."""
    table = Table(title="the other half")
    table.add_column("job")
    table.add_column("ms", justify="right")
    table.add_column("target", justify="right")
    for name, what in ((SIX, "six alnico rods"), ("bass-four", "four steel poles")):
        case = load_case(name)
        materials = case_materials(case)
        row = solved_case(case, "normal").solution()
        over = np.array([[0.0, s.y, s.shape.axis_height] for s in placed_strings(case)]).T
        took = median(partial(row_impedance, row, materials, SHIPPED.band, over), 3)
        table.add_row(f"L(f), R(f), b(f), 20 Hz to 20 kHz, {what}", f"{took:.0f}", "5000")
    string = solve(load_case(SIX)).sensed()[0]
    table.add_row("2 s of one plucked string at 48 kHz",
                  f"{median(lambda: string.play(Pluck(displacement=1e-3))):.0f}", "300")
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "stringflux", "report", SIX, "--out", f"{folder}/report.html"]
        took = median(lambda: subprocess.run(command, check=True, capture_output=True), 1)
    table.add_row("whole report of six strings, fresh process", f"{took:.0f}", "15000")
    return table


def _help() -> float:
    command = [sys.executable, "-m", "stringflux", "--help"]
    return median(lambda: subprocess.run(command, check=True, stdout=subprocess.DEVNULL), runs=5)


def _gap() -> float:
    """One string's rest point, slopes and bands at a new gap, everything else kept."""
    return _changed(solve(load_case("bench-single")),
                    [{"string.1.gap": f"{2.4 + 0.01 * n:.2f} mm"} for n in range(RUNS)])


def _by_hand() -> dict[str, float]:
    """What a hand changes of six strings, everything else kept, maps included."""
    normal, draft = (solve(load_case(SIX), quality=quality) for quality in ("normal", "draft"))
    steps = [0.01 * n for n in range(RUNS)]

    def gaps(strings: Sequence[int]) -> list[dict[str, Any]]:
        return [{f"string.{k}.gap": f"{2.4 + 0.1 * (6 - k) / 2 + step:.2f} mm" for k in strings} for step in steps]

    return {
        "the same of six, with maps": _changed(normal, gaps([3]), maps=True),
        "one string's place": _changed(
            normal, [{"string.3.position": f"{-5.1 + step:.2f} mm"} for step in steps], maps=True),
        "all six gaps": _changed(normal, gaps(range(1, 7)), maps=True),
        "only the turns": _changed(normal, [{"coil.turns": 5000 + n} for n in range(RUNS)], maps=True),
        "the height of six alike, draft": _changed(
            draft, [{"row.face": f"{1.41 + step:.2f} mm"} for step in steps], maps=True),
        "their magnets' charge, draft": _changed(
            draft, [{"pole.1.part.1.charge": 0.9 + step} for step in steps], maps=True),
    }


def _changed(pickup: Pickup, changes: list[dict[str, Any]], *, maps: bool = False) -> float:
    """The prediction of a pickup in which something was changed."""
    pickup.prediction(maps=maps)
    left = iter(changes)
    return median(lambda: pickup.with_(next(left)).prediction(maps=maps))


def _errors() -> Table:
    """Error of each quality against a solve several times as fine."""
    name = "bench-single"
    case = load_case(name)
    QUALITIES["finest"] = Quality(divisions=14.0, growth=0.07, far=10.0)
    try:
        best = predict(case, quality="finest", maps=False)
    finally:
        del QUALITIES["finest"]
    table = Table(title=f"error of {name} against a much finer mesh")
    for head in ("quality", "face field %", "S %", "inductance %", "ms"):
        table.add_column(head, justify="left" if head == "quality" else "right")
    for quality in ("draft", "normal", "fine"):
        took = median(lambda quality=quality: predict(case, quality=quality, maps=False), 3,  # type: ignore[misc]
                      forget_meshes)
        p = predict(case, quality=quality, maps=False)
        pairs = ((p.poles[0].field, best.poles[0].field), (p.strings[0].sensitivity, best.strings[0].sensitivity),
                 (p.coil.inductance, best.coil.inductance))
        table.add_row(quality, *(f"{100 * (a / b - 1):+.3f}" for a, b in pairs), f"{took:.0f}")
    return table


def _kernel() -> Table:
    """Assemble + factor + solve on one mesh, one thread each."""
    R, L = 2.4e-3, 17e-3
    rod = PartShape(material="rod", outline=((0, -L), (R, -L), (R, 0), (0, 0)))
    coil = PartShape(material="air", outline=((3e-3, -13e-3), (7e-3, -13e-3), (7e-3, -2e-3), (3e-3, -2e-3)))
    s = section(PoleShape(parts=(rod, coil)), QUALITIES["fine"])
    ours = median(lambda: meshed_inductance(s, [4.0, 1.0], 1))
    table = Table(title=f"axisymmetric kernel, {s.unknowns} unknowns, one thread")
    table.add_column("code")
    table.add_column("ms", justify="right")
    table.add_row("stringflux", f"{ours:.0f}")
    try:
        import ngsolve

        from measure.bench.peer import mesh_of, peer_inductance
    except ImportError:
        table.add_row("ngsolve", "not installed (extra `peers`)")
        return table
    ngsolve.SetNumThreads(1)
    mesh = mesh_of(s)
    theirs = median(lambda: peer_inductance(s, [4.0, 1.0], 1, mesh))
    table.add_row("ngsolve", f"{theirs:.0f}")
    table.add_row("ratio (target at most 1.5)", f"{ours / theirs:.2f}")
    return table


if __name__ == "__main__":
    main()
