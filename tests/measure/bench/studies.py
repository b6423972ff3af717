"""Studies in the benchmark: designs per minute, what a second worker brings, and what keeping stages costs.

    python tests/run.py bench.studies
"""

from __future__ import annotations

import os
import statistics
import tempfile
import time
from collections.abc import Sequence
from itertools import product
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table

from stringflux.cases.files.load import find_case, load_case, read_toml
from stringflux.cases.kept.store import FOLDER, Store
from stringflux.cases.solved.solve_row import forget_meshes
from stringflux.cases.studies.balance.problem import BalanceRequest
from stringflux.cases.studies.balance.study import balance_case
from stringflux.cases.studies.designs.evaluate import evaluate, evaluate_with_default_store
from stringflux.cases.studies.engine.engine import run_study
from stringflux.cases.studies.engine.task import Task
from stringflux.geometry.reading.changes import change_value

SIX = "baritone-six"
MAGNETS = ("alnico-2", "alnico-3", "alnico-5", "alnico-8")


def designs(grid: Sequence[dict[str, Any]]) -> list[Task]:
    """The shipped six-string case with every set of changes."""
    out = []
    for number, changes in enumerate(grid):
        data = read_toml(find_case(SIX))
        for dotted, value in changes.items():
            change_value(data, dotted, value)
        out.append(Task(number=number, document=data))
    return out


def gaps_and_gauges(gaps: int = 40, gauges: int = 15) -> list[Task]:
    """The gap of all strings against the gauge of the fifth."""
    grid = []
    for g, u in product(range(gaps), range(gauges)):
        gap = {f"string.{n}.gap": f"{1.8 + 0.04 * g + 0.1 * max(0, 5 - n):.2f} mm" for n in range(1, 7)}
        grid.append(gap | {"string.5.gauge": f"{0.0150 + 0.0004 * u:.4f} in"})
    return designs(grid)


def every_string_new(count: int = 40) -> list[Task]:
    """Six gaps and a gauge no two designs share: nothing but the row can be kept."""
    return designs([{f"string.{n}.gap": f"{1.8 + 0.013 * k + 0.11 * n:.3f} mm" for n in range(1, 7)}
                    | {"string.5.gauge": f"{0.0150 + 0.0001 * k:.4f} in"} for k in range(count)])


def magnets_and_heights(heights: int = 8) -> list[Task]:
    """Four grades of magnet at several heights of the poles, the strings where they are."""
    return designs([{"pole.1.part.1.material": magnet, "row.face": [f"{1.0 + 0.1 * h:.1f} mm"] * 6}
                    for magnet, h in product(MAGNETS, range(heights))])


def per_minute(tasks: Sequence[Task], workers: int) -> float:
    """Designs per minute by the engine, from nothing kept; the start of the workers is in it."""
    before = os.environ.get(FOLDER)
    with tempfile.TemporaryDirectory() as folder:
        os.environ[FOLDER] = f"{folder}/stages"
        try:
            start = time.perf_counter()
            found = run_study(tasks, Path(folder) / "study", evaluate=evaluate_with_default_store, workers=workers,
                              progress=lambda done, of, failed: None)
            took = time.perf_counter() - start
        finally:
            if before is None:
                del os.environ[FOLDER]
            else:
                os.environ[FOLDER] = before
    failures = [outcome.failure for outcome in found if outcome.failure]
    if failures:
        raise RuntimeError(failures[0])
    return 60 * len(tasks) / took


def cold_cost(runs: int = 7) -> float:
    """What keeping its stages adds to one design computed from nothing, as a share of its processor time."""
    [task] = gaps_and_gauges(1, 1)
    ratios = []
    for _ in range(runs):
        forget_meshes()
        start = time.process_time()
        evaluate(task)
        plain = time.process_time() - start
        forget_meshes()
        with tempfile.TemporaryDirectory() as folder:
            store = Store(Path(folder))
            start = time.process_time()
            evaluate(task, store)
            ratios.append((time.process_time() - start) / plain - 1)
    return statistics.median(ratios)


def balance_seconds(by: str) -> float:
    """Evening out the six strings from nothing kept, s."""
    path = find_case(SIX)
    forget_meshes()
    start = time.perf_counter()
    balance_case(read_toml(path), load_case(SIX), BalanceRequest(by=by, measure="sensitivity"))
    return time.perf_counter() - start


def studies_table() -> Table:
    """Everything, to print."""
    table = Table(title=f"studies of {SIX}, common figures, two workers unless said")
    table.add_column("study")
    table.add_column("", justify="right")
    table.add_column("target", justify="right")
    two = per_minute(gaps_and_gauges(), 2)
    one = per_minute(gaps_and_gauges(), 1)
    table.add_row("gaps × gauges, designs per minute", f"{two:.0f}", "1000")
    table.add_row("the same, one worker", f"{one:.0f}", "")
    table.add_row("two workers over one", f"{two / one:.2f}", "1.7")
    table.add_row("all six strings new in every design, designs per minute",
                  f"{per_minute(every_string_new(), 2):.0f}", "")
    table.add_row("magnets × heights, designs per minute", f"{per_minute(magnets_and_heights(), 2):.0f}", "60")
    table.add_row("keeping the stages of a first design, % more", f"{100 * cold_cost():.1f}", "5")
    for by in ("poles", "both"):
        table.add_row(f"balance by {by}, s", f"{statistics.median(balance_seconds(by) for _ in range(3)):.1f}", "10")
    return table


if __name__ == "__main__":
    Console(width=100).print(studies_table())
