"""What goes to the page, read as the page reads it."""

from __future__ import annotations

import json
import struct
from typing import Any

import numpy as np
import pytest

from stringflux.cases.live.frames import frame


def unpacked(whole: bytes) -> Any:
    """As in page/frames.js."""
    length = struct.unpack("<I", whole[:4])[0]
    assert length % 4 == 0  # or the page's view of the numbers would not be aligned

    def filled(node: Any) -> Any:
        if isinstance(node, list):
            return [filled(n) for n in node]
        if isinstance(node, dict):
            if set(node) == {"at", "shape"}:
                size = int(np.prod(node["shape"]))
                return np.frombuffer(whole, "<f4", size, 4 + length + 4 * node["at"]).reshape(node["shape"])
            return {k: filled(v) for k, v in node.items()}
        return node

    return filled(json.loads(whole[4:4 + length]))


@pytest.mark.parametrize("title", ["", "λ", "Ø 3/16 in, “quoted” \u2028", "𝄞" * 7])
def test_comes_back(title: str) -> None:
    """Texts of any length, arrays of any shape and kind, in any depth."""
    rng = np.random.default_rng(1)
    arrays = [rng.random(s) for s in ((0,), (1,), (3, 4), (2, 3, 5))]
    back = unpacked(frame({"title": title, "list": [{"a": a} for a in arrays], "n": np.int64(7), "none": None}))
    assert back["title"] == title
    assert (back["n"], back["none"]) == (7, None)
    for item, a in zip(back["list"], arrays, strict=True):
        np.testing.assert_array_equal(item["a"], a.astype("f4"))


def test_not_in_order_in_memory() -> None:
    """A transposed array comes as it is read, not as it lies."""
    a = np.arange(6.0).reshape(2, 3).T
    np.testing.assert_array_equal(unpacked(frame({"a": a}))["a"], a)


def test_what_is_no_number() -> None:
    """JSON has no NaN: alone it is null, in an array it stays."""
    whole = frame({"x": float("nan"), "y": np.float64("inf"), "a": np.array([np.nan, 1.0])})
    back = unpacked(whole)
    assert back["x"] is None
    assert back["y"] is None
    np.testing.assert_array_equal(back["a"], [np.nan, 1.0])
    assert b"NaN" not in whole
