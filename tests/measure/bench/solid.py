"""Builds of other bodies in the benchmark: two coils with twelve steel poles, what changes of turns or strings cost,
and a 3-D check of a string.

    python tests/run.py bench.solid
"""

from __future__ import annotations

import re
import subprocess
import sys
import time
from typing import Any

from rich.console import Console
from rich.table import Table

from stringflux.cases.files.load import load_case
from stringflux.cases.jobs.verify import verify
from stringflux.cases.pickup import Pickup
from stringflux.cases.solving import solve

TWO_COILS = "side-by-side-six"
VERIFIED = "baritone-six"
_PEAK = re.compile(r"VmHWM:\s*(\d+) kB")
_JOB = ("import time; start = time.perf_counter(); from stringflux.cases import load_case, predict; "
        f"predict(load_case({TWO_COILS!r}), maps=False); "
        "print(time.perf_counter() - start, open('/proc/self/status').read())")


def solid_table() -> Table:
    """What there is to say, each measured once: these take long."""
    table = Table(title="builds of other bodies, measured once")
    for head in ("job", "s", "target"):
        table.add_column(head, justify="left" if head == "job" else "right")
    seconds, memory = _fresh()
    table.add_row("two coils, twelve steel poles, a bar: all six strings, fresh process", f"{seconds:.1f}", "8")
    table.add_row("   the most memory it holds, GB (Linux)", f"{memory:.2f}", "1")
    pickup = solve(load_case(TWO_COILS))
    pickup.prediction(maps=False)
    for words, changes in (("other turns", {"coil.turns": 5100}), ("another gap", {"strings.gap": "2.6 mm"}),
                           ("another string", {"string.4.gauge": "0.018 in"})):
        table.add_row(f"   {words}: nothing in 3-D is solved again", f"{_changed(pickup, changes):.2f}", "0.5")
    for words, changes in (("another magnet", {"body.1.material": "alnico-2"}),
                           ("a screw another height", {"pole.1.part.1.length": "15.5 mm"})):
        table.add_row(f"   {words}: solved again", f"{_changed(pickup, changes):.1f}", "4")
    start = time.perf_counter()
    verify(load_case(VERIFIED))
    table.add_row(f"one string of {VERIFIED} checked in 3-D", f"{time.perf_counter() - start:.0f}", "30")
    return table


def _fresh() -> tuple[float, float]:
    """Seconds and GB of a process that has solved nothing before."""
    done = subprocess.run([sys.executable, "-c", _JOB], check=True, capture_output=True, text=True).stdout
    peak = _PEAK.search(done)
    return float(done.split()[0]), float(peak.group(1)) / 1e6 if peak else float("nan")


def _changed(pickup: Pickup, changes: dict[str, Any]) -> float:
    start = time.perf_counter()
    pickup.with_(changes).prediction(maps=False)
    return time.perf_counter() - start


if __name__ == "__main__":
    Console(width=100).print(solid_table())
