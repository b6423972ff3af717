"""What the meshes of `draft` and `normal` cost against `fine`, on every shipped case: for `cases/jobs/mesh_error.py`.

    python tests/run.py quality [CASE ...]

Largest over the strings, in %: λ, S, and B₀'s vector and each of its components in parts of its modulus; and L.
Rows go to the row solver, builds to the 3-D one, as `predict` sends them.
"""

from __future__ import annotations

import sys
from typing import Any

import numpy as np

from rigs.source_tree import CLOSE_BASS
from stringflux.cases import predict
from stringflux.cases.files.load import load_case

CASES = ("bench-single", "baritone-six", "bass-four", CLOSE_BASS, "lap-steel-eight",
         "side-by-side-six", "stacked-six", "blade-six", "bar-screws-six")


def figures(case: str, quality: str) -> tuple[Any, ...]:
    found = predict(load_case(case), quality=quality, maps=False)
    strings = found.strings
    return (np.array([s.linkage for s in strings]), np.array([s.sensitivity for s in strings]),
            np.array([s.bias for s in strings]), found.coil.inductance)


def row(case: str, quality: str, rough: tuple[Any, ...], fine: tuple[Any, ...]) -> str:
    def worst(signed: Any) -> str:
        signed = np.ravel(signed)
        return f"{signed[np.argmax(np.abs(signed))]:+.2f}"

    linkage, s = (100 * (a / b - 1) for a, b in zip(rough[:2], fine[:2], strict=True))
    size = np.linalg.norm(fine[2], axis=1, keepdims=True)
    off = 100 * (rough[2] - fine[2]) / size
    vector = np.linalg.norm(off, axis=1).max()
    return (f"| `{case}` | {quality} | {worst(linkage)} | {worst(s)} | {100 * (rough[3] / fine[3] - 1):+.2f} | "
            f"{vector:.2f} | " + " | ".join(worst(off[:, i]) for i in range(3)) + " |")


def main() -> None:
    print("| case | quality | λ % | S % | L % | B₀ % | its x | y | z |")
    print("|---|---|--:|--:|--:|--:|--:|--:|--:|")
    for case in sys.argv[1:] or CASES:
        fine = figures(case, "fine")
        for quality in ("draft", "normal"):
            print(row(case, quality, figures(case, quality), fine), flush=True)


if __name__ == "__main__":
    main()
