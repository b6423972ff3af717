"""Every handle of every shipped case: a hand moves it by 0.05 mm, and the case and its drawing follow."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rigs.live import EVERY, remarks, scene_of, tried
from stringflux.cases.live.hand.design import Edit, edited

STEP = 0.05  # mm, one key press on the page
SAME = 1e-6  # mm: what six digits in the file and float64 leave


def edges(scene: dict[str, Any], handle: dict[str, Any]) -> np.ndarray:
    """Lows, highs and middles of what is drawn of a handle's item, along the handle's axis, mm."""
    axis = "uv".index(handle["axis"])
    if handle["item"].startswith("string."):
        string = scene["strings"][int(handle["item"].split(".")[1]) - 1]
        return np.array([string["y"] if axis == 0 else string["z"]])
    shapes = [s for s in scene["shapes"][handle["view"]] if s["item"] == handle["item"]]
    outlines = [o for s in shapes for o in s.get("rings", [s.get("outline")])]
    ends = [(np.min(o[:, axis]), np.max(o[:, axis])) for o in outlines]
    return np.array([e for low, high in ends for e in (low, high, (low + high) / 2)])


@pytest.mark.parametrize("file", EVERY, ids=lambda f: f.stem)
def test_moves(file: Path) -> None:
    """The value by rate times the way, the handle by the way along its axis, and it stays on what is drawn."""
    text = file.read_text(encoding="utf-8")
    before = scene_of(text)
    done: set[str] = set()
    moved = 0
    for handle in before["handles"]:
        assert np.min(np.abs(edges(before, handle) - handle["at"]["uv".index(handle["axis"])])) < SAME, handle
        if handle["path"] in done:  # in another view, or of a pole like that one: seen below
            continue
        done.add(handle["path"])
        for way in (STEP, -STEP):
            value = handle["value"] + handle["rate"] * way
            made, said = tried(text, Edit(path=handle["path"], value=f"{value:.6f} mm"))
            if made is None:
                assert "\n" not in said
                assert "runs into" in said or "end on the rim" in said, said
                continue
            moved += 1
            assert remarks(made) == remarks(text), handle["path"]
            check(before, scene_of(made), handle["path"], way * handle["rate"], "radius =" in text)
    assert moved > len(done)


def check(before: dict[str, Any], after: dict[str, Any], path: str, change: float, curved: bool) -> None:
    for old, new in zip(before["handles"], after["handles"], strict=True):
        if old["path"] != path:
            continue
        axis = "uv".index(old["axis"])
        assert (new["path"], new["view"], new["label"]) == (old["path"], old["view"], old["label"])
        assert new["value"] - old["value"] == pytest.approx(change, abs=SAME)
        assert new["at"][axis] - old["at"][axis] == pytest.approx(change / old["rate"], abs=SAME), old
        if not path.endswith(".position") or not curved:  # across a fingerboard's arc a string rises and falls
            assert new["at"][1 - axis] == pytest.approx(old["at"][1 - axis], abs=SAME), old
        assert np.min(np.abs(edges(after, new) - new["at"][axis])) < SAME, new


def test_place_that_the_file_leaves_out() -> None:
    """A body without a centre stands in the middle; moved by hand it has one."""
    text = next(f for f in EVERY if f.stem == "side-by-side-six").read_text(encoding="utf-8")
    made = edited(text, [Edit(path="body.1.centre.1", value="0.2 mm")])
    assert 'centre = ["0.2 mm", "0 mm"]' in made
    assert remarks(made) == remarks(text)
