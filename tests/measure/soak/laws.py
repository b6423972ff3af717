"""Rows of one to three poles over the range that a case may have: S = dλ/dz, and the row against the 3-D solver."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

from measure.soak.mutants import text_of
from stringflux.cases.files.load import load_case
from stringflux.cases.jobs.prediction import predict
from stringflux.geometry.errors import StringfluxError

STEP = 0.02e-3  # m, of the difference of λ
SLOPE = 0.01  # what S may be off dλ/dz, of the larger of S and λ over the gap's decay length
DECAY = 3e-3  # m, some length over which λ falls by a factor of e
ROW = 0.02  # what the row may be off the 3-D solver in λ at normal, where thin steel is 0.9 % off its own fine mesh


def one_round(rng: random.Random, folder: Path) -> str:
    """One row: "good", "refused", or what breaks."""
    data = row(rng)
    solid = rng.random() < 0.25
    try:
        return law_of_slope(data, folder) if not solid else row_and_solid(data, folder)
    except StringfluxError as error:
        return f"refused: {error}" if error.exit_code == 2 else f"{error}\n{text_of(data)}"


def row(rng: random.Random) -> dict[str, Any]:
    """One to three rods or slugs on magnets, any polarity, a string on one of them or beside it."""
    n, diameter = rng.randint(1, 3), rng.choice([1.0, 2.0, 3.0, 4.8, 6.0, 8.0, 10.0, 13.0])
    pitch = diameter + rng.uniform(1.0, 6.0)
    faces = rng.uniform(0.0, 3.0)
    gap = rng.choice([0.22, 0.25, 0.3, 0.5, 1.0, 2.0, 4.0])
    poles = []
    for i in range(n):
        north = {"polarity": rng.choice(["north up", "south up"])}
        magnet = {"material": rng.choice(["alnico-2", "alnico-3", "alnico-5", "ceramic-8"]),
                  "diameter": f"{diameter} mm", "length": f"{rng.uniform(8, 18):.2f} mm", **north}
        if magnet["material"] == "ceramic-8":
            parts = [{"material": "steel-1008", "diameter": f"{diameter} mm", "length": "10 mm"},
                     {**magnet, "length": "4 mm"}]
        else:
            parts = [magnet]
        poles.append({"at": [i + 1], "part": parts})
    middle = (n - 1) * pitch / 2
    over = rng.randrange(n) * pitch - middle + rng.choice([0.0, 0.0, rng.uniform(-0.5, 0.5) * pitch])
    return {
        "title": "A row of the soak", "row": {"positions": [f"{i * pitch - middle:.4f} mm" for i in range(n)],
                                              "face": f"{faces:.3f} mm"},
        "pole": poles,
        "coil": {"inner_width": f"{diameter + 1.5} mm", "inner_length": f"{(n - 1) * pitch + diameter + 1.5} mm",
                 "build": "3.5 mm", "bottom": "-9 mm", "top": "-1 mm", "turns": 6000, "wire": "42 AWG"},
        "strings": {"scale": "648 mm", "gap": f"{gap} mm"},
        "string": [{"gauge": rng.choice(["0.009 in", "0.017 in", "0.026 in"]), "pitch": "D3",
                    "position": f"{over:.4f} mm"}],
    }


def _predicted(data: dict[str, Any], folder: Path, quality: str = "draft", solver: str = "auto",
               **changes: Any) -> Any:
    file = folder / "row.toml"
    file.write_text(text_of(data), encoding="utf-8")
    case = load_case(file, {key.replace("__", "."): value for key, value in changes.items()})
    return predict(case, quality=quality, maps=False, solver=solver).strings[0]


def law_of_slope(data: dict[str, Any], folder: Path) -> str:
    """S on the curve against the central difference of λ with the gap."""
    gap = float(data["strings"]["gap"].removesuffix(" mm"))
    here = _predicted(data, folder)
    low, high = (_predicted(data, folder, strings__gap=f"{gap + 1e3 * d:.6f} mm") for d in (-STEP, STEP))
    slope = (high.linkage - low.linkage) / (2 * STEP)
    room = SLOPE * max(abs(slope), abs(here.linkage) / DECAY)
    if abs(abs(here.sensitivity_curve) - abs(slope)) <= room:
        return "good"
    return f"S {here.sensitivity_curve:.6g}, dλ/dz {slope:.6g} V·s/m, λ {here.linkage:.6g} Wb\n{text_of(data)}"


def row_and_solid(data: dict[str, Any], folder: Path) -> str:
    """λ of the row against λ of the 3-D solver."""
    one, other = (_predicted(data, folder, "normal", solver) for solver in ("row", "solid"))
    if abs(one.linkage - other.linkage) <= ROW * max(abs(other.linkage), abs(other.sensitivity) * DECAY):
        return "good"
    return f"λ {one.linkage:.6g} Wb by the row, {other.linkage:.6g} in 3-D\n{text_of(data)}"
