"""Cases with their quantities changed, predicted: each gives figures that can be, or is refused in one sentence."""

from __future__ import annotations

import copy
import json
import math
import random
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

from rigs.cases.spoilt_cases import ONCE, RUBBISH, parent, paths, spoil, toml
from stringflux.cases.files.load import read_toml, shipped_cases

PATIENCE = 600  # s that a prediction at draft may take, a build with many bodies on a busy machine
STEEL = 2.2 + 0.5  # T: saturation of any string steel in the table, and μ₀H of the strongest magnets
MAGNET = 1.5  # T: no permanent magnet leaves more over its face
_QUANTITY = re.compile(r"(-?\d+(?:\.\d+)?)( ?[A-Za-z°%]+(?: .*)?)?")
FULL = Path(__file__).parents[2].joinpath("full_case.toml")


def one_round(rng: random.Random, folder: Path) -> str:
    """Predict one changed case."""
    file = folder / "case.toml"
    file.write_text(text_of(changed(rng)), encoding="utf-8", errors="replace")
    return predicted(file)


def changed(rng: random.Random) -> dict[str, Any]:
    """A case with up to four of its quantities changed, and every fifth time a fault besides."""
    base = rng.choice([FULL, *shipped_cases().values()])
    data = copy.deepcopy(read_toml(base))
    places = [p for p in paths(data) if _QUANTITY.fullmatch(str(_at(data, p))) and p[0] not in ("title", "scatter")]
    for path in rng.sample(places, min(len(places), rng.randint(1, 4))):
        _scale(rng, data, path)
    if rng.random() < 0.2:
        spoil(data, rng.choice(list(paths(data))), rng.choice([*ONCE, "fill"]), rng.choice(RUBBISH))
    return data


def _at(data: Any, path: tuple[Any, ...]) -> Any:
    node = parent(data, path)
    return node[path[-1]]


def _scale(rng: random.Random, data: Any, path: tuple[Any, ...]) -> None:
    """Most changes are those a person would try; some are wild."""
    node, key = parent(data, path), path[-1]
    value, factor = node[key], math.exp(rng.gauss(0.0, 0.08 if rng.random() < 0.8 else 1.0))
    if isinstance(value, str):
        found = _QUANTITY.fullmatch(value)
        if found is not None:
            node[key] = f"{float(found[1]) * factor:.4g}{found[2] or ''}"
    elif isinstance(value, bool):
        node[key] = not value
    elif isinstance(value, int):
        node[key] = max(0, round(value * factor))
    elif isinstance(value, float):
        node[key] = value * factor


def text_of(data: dict[str, Any]) -> str:
    return "".join(f"{json.dumps(k)} = {toml(v)}\n" for k, v in data.items())


def predicted(file: Path) -> str:
    """What `predict` says of a file: "good", "refused", or what is wrong with its answer and the file."""
    try:
        done = subprocess.run([sys.executable, "-m", "stringflux.cases", "predict", str(file), "--quality", "draft",
                               "--json"], capture_output=True, text=True, check=False, timeout=PATIENCE)
    except subprocess.TimeoutExpired:
        return f"took over {PATIENCE} s\n{file.read_text(encoding='utf-8')}"
    fault = _fault(done)
    return fault if fault.startswith(("good", "refused")) else f"{fault}\n{file.read_text(encoding='utf-8')}"


def _fault(done: subprocess.CompletedProcess[str]) -> str:
    said = done.stderr.strip()
    if "Traceback" in said or "should not" in said or done.returncode not in (0, 1, 2):
        return f"exit {done.returncode}: {said[-400:]}"
    if done.returncode:
        lines = [line for line in said.splitlines() if line.startswith("stringflux: ")]
        one = len(lines) == 1 and not done.stdout
        return f"refused: {lines[0]}" if one else f"exit {done.returncode}, not one sentence: {said[-400:]}"
    found = json.loads(done.stdout)["result"]
    for s in found["strings"]:
        for name in ("linkage", "sensitivity", "sensitivity_across", "peak_flux_density"):
            if s[name] is None or not math.isfinite(s[name]):
                return f"string {s['number']}: {name} is {s[name]}"
        if abs(s["peak_flux_density"]) > STEEL:
            return f"string {s['number']}: {s['peak_flux_density']} T in the steel"
        if math.dist((0, 0, 0), s["bias"]) > MAGNET:
            return f"string {s['number']}: {s['bias']} T at the string"
    if not found["coil"]["inductance"] > 0:
        return f"L is {found['coil']['inductance']} H"
    return "good"
