"""How finely a string with memory goes its way: one setting at a time is made finer, S of a swing is compared.

    python tests/run.py swings                the shipped rows
    python tests/run.py swings baritone-six   one of them

Printed: shipped against changed, the largest difference over the strings, in %, at swings of 0.02, 0.1 and 1 mm.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from rigs.source_tree import CLOSE_BASS
from stringflux.cases import load_case, solve
from stringflux.geometry.arrays import Array
from stringflux.postprocess.string.heard import swung_string
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.linkage import rest_model, rest_slopes
from stringflux.postprocess.string.loop import COARSE, Steps, SwungString

ROWS = ("bench-single", "baritone-six", "bass-four", CLOSE_BASS, "lap-steel-eight")
AMPLITUDES = (0.02e-3, 0.1e-3, 1e-3)
SHARES = 13
SHIPPED = Steps()
TRIED = {
    "turns of the shaking: 18": (replace(SHIPPED, swings=18), 1),
    "places between turns: 3": (replace(SHIPPED, half=4), 1),
    "places of the first time round: 4": (replace(SHIPPED, first=4), 1),
    "places of the round: 16": (replace(SHIPPED, round=16), 1),
    "a place is found: 1e-4": (replace(SHIPPED, settled=1e-4), 1),
    "all steps halved": (SHIPPED.halved, 1),
    "shares of the metal: 26": (SHIPPED, 2),
    "shares of the metal: 104": (SHIPPED, 8),
    "steps quartered, 104 shares": (SHIPPED.halved.halved, 8),
    "coarse, for the ends of a range": (COARSE, 1),
}


def strings(case: str) -> Iterator[SwungString]:
    """Those of a case that are heard."""
    solved = solve(load_case(case), quality="normal").solved
    field = solved.solution().field
    for placed in solved.strings:
        layers = layers_of(placed.shape, solved.materials)
        string = swung_string(rest_slopes(rest_model(field, placed.shape, layers)), field, placed.shape, layers)
        if string is not None:
            yield string


def in_shares(string: SwungString, times: int, steps: Steps) -> SwungString:
    """The same string in other steps, its metal in so many times as many shares."""
    other = string.of((), steps)
    other.layers = tuple(replace(layer, memory=replace(layer.memory, cells=times * SHARES))  # type: ignore[type-var]
                         for layer in string.layers)
    return other


def off(string: SwungString) -> Array:
    """Shipped against changed (settings, amplitudes), in %."""
    def found(one: SwungString) -> Array:
        return np.array([one.loop(min(amplitude, one.reach)).sensitivity for amplitude in AMPLITUDES])

    shipped = found(string)
    return np.array([100 * (shipped / found(in_shares(string, times, steps)) - 1) for steps, times in TRIED.values()])


def main() -> None:
    worst = np.zeros((len(TRIED), len(AMPLITUDES)))
    for case in sys.argv[1:] or ROWS:
        for string in strings(case):
            worst = np.maximum(worst, np.abs(off(string)))
    print("| changed | " + " | ".join(f"{1e3 * a:g} mm" for a in AMPLITUDES) + " |\n|---|--:|--:|--:|")
    for name, row in zip(TRIED, worst, strict=True):
        print(f"| {name} | " + " | ".join(f"{v:.3f}" for v in row) + " |")


if __name__ == "__main__":
    main()
