"""A case of long bars by the planar solver in the benchmark: its time, and how far it is from 3-D."""

from __future__ import annotations

import statistics
import time

from rich.console import Console
from rich.table import Table

from stringflux.cases.files.load import load_case
from stringflux.cases.jobs.prediction import predict
from stringflux.cases.solved.bars_case import forget_bars

CASE = "blade-six"
SOLID = ((0.025509, 0.32395), (0.023466, 0.21310), (0.023350, 0.12927), (0.023913, 0.12639), (0.024934, 0.07720),
         (0.028352, 0.05108))
"""B₀z in T and S in V·s/m of each string in 3-D, and L in H: `stringflux predict blade-six --json`."""

SOLID_L = 2.2867


def plane_table(runs: int = 5) -> Table:
    """Seconds in a warm process, all strings, without maps, from the mesh on; and errors against 3-D."""
    case, times = load_case(CASE), []
    result = predict(case, solver="plane", maps=False)
    for _ in range(runs):
        forget_bars()
        begin = time.perf_counter()
        result = predict(case, solver="plane", maps=False)
        times.append(time.perf_counter() - begin)
    errors = [(s.bias[2] / b - 1, s.sensitivity / S - 1) for s, (b, S) in zip(result.strings, SOLID, strict=True)]
    table = Table(title=f"planar solver, {CASE}, six strings, warm (target 1 s)")
    for head in ("s", "B₀ at the strings %", "S %", "L %"):
        table.add_column(head, justify="right")
    spans = [f"{100 * min(e[i] for e in errors):+.2f} to {100 * max(e[i] for e in errors):+.2f}" for i in (0, 1)]
    table.add_row(f"{statistics.median(times):.2f}", *spans, f"{100 * (result.coil.inductance / SOLID_L - 1):+.2f}")
    return table


if __name__ == "__main__":
    Console().print(plane_table())
