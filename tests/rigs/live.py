"""Designs that the tests of the live page share."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import stringflux.cases
from stringflux.cases.live.hand.design import Edit, edited, read_design
from stringflux.cases.live.hand.scene import scene
from stringflux.geometry.errors import CaseError

SHIPPED = sorted(p for p in Path(next(iter(stringflux.cases.__path__))).glob("*.toml"))
FULL = [Path(__file__).parents[1] / name for name in ("full_case.toml", "full_build.toml")]
EVERY = [*SHIPPED, *FULL]
"""Files of cases: those shipped, and two that have every key."""


def scene_of(text: str) -> dict[str, Any]:
    return scene(read_design(text), text)


def tried(text: str, edit: Edit) -> tuple[str | None, str]:
    """The edited text, or None and the sentence that refuses it."""
    try:
        return edited(text, [edit]), ""
    except CaseError as error:
        return None, str(error)


def remarks(text: str) -> list[str]:
    """The remarks of a file, in their order."""
    return re.findall(r'#[^"\n]*$', text, re.M)
