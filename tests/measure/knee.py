"""Rows of alnico rods at the knee of their curves, by either solver.

    python tests/run.py knee     solve them in 3-D at fine again and write tests/reference3d/knee.json
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np

from stringflux.cases.files.load import built_in_uses
from stringflux.cases.solved.materials import case_materials
from stringflux.cases.solved.solve import solved_case
from stringflux.cases.solved.solve_row import one_thread
from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.reading.read import read_case
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.linkage import RestStencil, rest_model
from stringflux.postprocess.string.pull import pull_of

STORED = Path(__file__).parents[1].joinpath("reference3d") / "knee.json"
TWO, THREE, FOUR = (-5.0, 5.0), (-10.0, 0.0, 10.0), (-15.0, -5.0, 5.0, 15.0)
OVER_TWO, OVER_THREE, OVER_FOUR = (1.0, 2.5, 5.0, 7.5), (-10.0, -6.0, 0.0, 2.5), (-15.0, -11.0, -5.0, -2.5)
ROWS = {
    f"{material} {polarity} {history}": (material, polarity, history, places, strings)
    for material, polarity, history, places, strings in (
        *((m, p, h, TWO, OVER_TWO) for m in ("alnico-5", "alnico-2", "alnico-3") for p in ("++", "+-")
          for h in ("after", "before")),
        ("alnico-5", "+++", "after", THREE, OVER_THREE), ("alnico-5", "+-+", "after", THREE, OVER_THREE),
        ("alnico-5", "+-+", "before", THREE, OVER_THREE), ("alnico-5", "+--+", "after", FOUR, OVER_FOUR))
}
"""By name: material, north or south up of each rod, when charged, places of rods and strings, mm. Rods 4.8 × 16 mm,
strings of 0.017 in 2.5 mm over them, on the axis of a rod and up to midway between two."""


def row_case(material: str, polarity: str, history: str, places: tuple[float, ...],
             strings: tuple[float, ...]) -> Case:
    poles: list[dict[str, Any]] = []
    for sign, word in (("+", "north up"), ("-", "south up")):
        at = [i for i, c in enumerate(polarity, start=1) if c == sign]
        if at:
            poles.append({"at": at, "part": [{"material": material, "diameter": "4.8 mm", "length": "16 mm",
                                              "polarity": word}]})
    return read_case({
        "row": {"positions": [f"{p} mm" for p in places], "face": ["1 mm"] * len(places),
                "charged": f"{history} assembly"},
        "pole": poles,
        "coil": {"inner_width": "6 mm", "inner_length": f"{places[-1] - places[0] + 6} mm", "build": "4 mm",
                 "bottom": "-12 mm", "top": "-1 mm", "turns": 5000, "wire": "42 AWG"},
        "strings": {"scale": "648 mm", "gap": "2.5 mm"},
        "string": [{"gauge": "0.017 in", "pitch": "G3", "position": f"{s} mm"} for s in strings],
    }, materials=built_in_uses())


def figures(name: str, solver: str, quality: str) -> Array:
    """(strings, 6): B₀ across and up, T, λ, Wb, S, V·s/m, pull across and up, N."""
    case = row_case(*ROWS[name])
    out = []
    with one_thread():
        materials = case_materials(case)
        field = solved_case(case, quality, solver=solver).solution().field
        for shape in (string.shape for string in placed_strings(case)):
            model = rest_model(field, shape, layers_of(shape, materials))
            slopes, pull = RestStencil(model).static(), pull_of(model)
            b = field.bias(np.array([[0.0], [shape.y], [shape.axis_height]]))[:, 0]
            out.append([b[1], b[2], slopes.linkage, slopes.z, pull.force_y, pull.force_z])
    return np.array(out)


def misses(found: Array, true: Array) -> tuple[float, float, float, float]:
    """Largest of all strings: B₀ as a vector, λ, S and the pull as a vector, relative."""
    def vector(k: int) -> float:
        return float(np.max(np.linalg.norm(found[:, k:k + 2] - true[:, k:k + 2], axis=1)
                            / np.linalg.norm(true[:, k:k + 2], axis=1)))

    scalar = np.max(np.abs(found[:, 2:4] / true[:, 2:4] - 1), axis=0)
    return vector(0), float(scalar[0]), float(scalar[1]), vector(4)


if __name__ == "__main__":
    stored = {name: {q: figures(name, "solid", q).round(12).tolist() for q in ("normal", "fine")} for name in ROWS}
    STORED.write_text(json.dumps(stored, indent=1) + "\n")
    for name, by in stored.items():
        print(name, *(f"{100 * m:.2f}" for m in misses(np.array(by["normal"]), np.array(by["fine"]))))
