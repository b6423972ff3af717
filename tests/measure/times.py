"""Processor time of a prediction without maps, in a warm process, from nothing: least of three, s.

    python tests/run.py times [CASE ...]
"""

from __future__ import annotations

import sys
import time

from rigs.source_tree import CLOSE_BASS
from stringflux.cases import load_case, predict
from stringflux.cases.solved.solve_row import forget_meshes

CASES = ("bench-single", "baritone-six", "bass-four", CLOSE_BASS, "lap-steel-eight")


def least(case: str, quality: str, runs: int = 3) -> float:
    found = []
    for _ in range(runs):
        forget_meshes()
        start = time.process_time()
        predict(load_case(case), quality=quality, maps=False)
        found.append(time.process_time() - start)
    return min(found)


def main() -> None:
    least("bench-single", "draft", 1)  # imports
    print("| case | draft | normal |\n|---|--:|--:|")
    for case in sys.argv[1:] or CASES:
        print(f"| `{case}` | {least(case, 'draft'):.2f} | {least(case, 'normal'):.2f} |", flush=True)


if __name__ == "__main__":
    main()
