"""A small case with every key in it, and a way to change one value."""

from __future__ import annotations

import copy
import tomllib
from pathlib import Path
from typing import Any

USES = {
    **{f"alnico-{grade}": "magnet" for grade in ("2", "5", "8")},
    "ceramic-8": "magnet",
    "steel-1008": "soft",
    "air": "soft",
    "string-steel": "string",
    "string-nickel-steel": "string",
    "string-bronze": "string",
    "nickel-silver": "conductor",
    "brass": "conductor",
    "spacer": "spacer",
}

def _tests(name: str) -> dict[str, Any]:
    return tomllib.loads(Path(__file__).parents[2].joinpath(name).read_text(encoding="utf-8"))


FULL, BUILD = _tests("full_case.toml"), _tests("full_build.toml")

DROP = object()


def changed(changes: dict[str, Any], base: dict[str, Any] = FULL) -> dict[str, Any]:
    """A copy with values put at dotted paths, items counted from 0; `DROP` takes the key away."""
    data = copy.deepcopy(base)
    for dotted, value in changes.items():
        node: Any = data
        steps = [int(s) if s.isdigit() else s for s in dotted.split(".")]
        for step in steps[:-1]:
            node = node[step]
        if value is DROP:
            del node[steps[-1]]
        else:
            node[steps[-1]] = value
    return data
