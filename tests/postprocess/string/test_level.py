"""A string that leans a little is laid level for its swings and its map: what that leaves out goes as the square."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.cases import load_case, solve
from stringflux.postprocess.string import model
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.linkage import curve_slopes, linkage_map, rest_model
from stringflux.postprocess.string.loop import SwungString

pytestmark = pytest.mark.usefixtures("shared_solutions")

LEFT_OUT = {"0.5 deg": 5e-5, "1 deg": 2e-4}  # of λ, and of S of a swing over that on the curve


def found(angle: str) -> tuple[np.ndarray, float, bool]:
    """λ over its place, S of a swing over that on the curve, and whether it was laid level."""
    solved = solve(load_case("bench-single", {"strings.plane_angle": angle}), quality="draft").solved
    shape, field = solved.strings[0].shape, solved.solution().field
    layers = layers_of(shape, solved.materials)
    rest, string = rest_model(field, shape, layers), SwungString(field, shape, layers)
    over = linkage_map(field, rest, 5, 5)
    (curve,) = np.abs(curve_slopes(string.model, np.array([shape.axis_height])))
    return over.linkage, string.light().sensitivity / curve, string.model.grid.mirrored


@pytest.mark.parametrize("angle", LEFT_OUT)
def test_a_leaning_string_is_heard_as_a_level_one(angle: str, monkeypatch: pytest.MonkeyPatch) -> None:
    linkage, ratio, level = found(angle)
    monkeypatch.setattr(model, "LEVEL", 0.0)
    leaning, leaning_ratio, still_level = found(angle)
    assert level
    assert not still_level
    off = float(np.max(np.abs(linkage / leaning - 1)))
    assert LEFT_OUT[angle] / 4 < off < LEFT_OUT[angle]
    assert abs(ratio / leaning_ratio - 1) < LEFT_OUT[angle]


def test_a_string_that_leans_more_is_not_laid_level() -> None:
    assert not found("1.1 deg")[2]
