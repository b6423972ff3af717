"""A string midway between poles of opposite polarity: no level and no slope, only sideways motion is heard.

By symmetry: the mirror plane between the two poles turns B₀ and b into themselves and minus themselves, so λ is odd
in y, and at y = 0 it is 0 at every height.
"""

from __future__ import annotations

import json
import math
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from stringflux.cases import load_case, predict
from stringflux.cases.cli import main
from stringflux.cases.solved.materials import case_materials
from stringflux.cases.solved.solve import solved_case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.postprocess.figures.balance import balance_figure
from stringflux.postprocess.figures.linkage import linkage_figure
from stringflux.postprocess.plucked.sensed import ONE_SIDED
from stringflux.postprocess.results.prediction import Prediction
from stringflux.postprocess.string.aperture import aperture
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.linkage import STEP, RestStencil, Slopes, rest_model

pytestmark = pytest.mark.usefixtures("shared_solutions")

CASE = str(Path(__file__).parents[2] / "unheard.toml")
SIDEWAYS = 0.01  # of S across: strings to either side count the answer of either pole, that at rest of one (0.7 %)


@lru_cache
def solved(solver: str) -> Any:
    case = load_case(CASE)
    return solved_case(case, "draft", solver=solver).solution()


def model(solver: str, string: int, aside: float = 0.0, radius: float | None = None) -> Any:
    """A string of the case, moved aside, or as a plain one of another radius."""
    case = load_case(CASE)
    shape = placed_strings(case)[string].shape
    shape = replace(shape, y=shape.y + aside)
    if radius is not None:
        shape = replace(shape, core_radius=radius, wrap_diameter=0.0, wrap="")
    return rest_model(solved(solver).field, shape, layers_of(shape, case_materials(case)))


def slopes(solver: str, string: int, aside: float = 0.0, radius: float | None = None) -> Slopes:
    return RestStencil(model(solver, string, aside, radius)).static()


@pytest.mark.parametrize("solver", ["row", "solid"])
@pytest.mark.parametrize("radius", [0.1e-3, None, 1e-3])
def test_midway_nothing_is_heard(solver: str, radius: float | None) -> None:
    found = slopes(solver, 1, radius=radius)
    assert not found.heard
    assert not found.linked
    assert math.isnan(found.gap_slope)
    assert found.heard_across


@pytest.mark.parametrize("solver", ["row", "solid"])
@pytest.mark.parametrize(("string", "aside"), [(0, 0.0), (1, 0.05e-3), (1, -0.05e-3), (1, 1e-3)])
def test_elsewhere_it_is(solver: str, string: int, aside: float) -> None:
    """Over its pole, and a twentieth of a millimetre beside the middle, where S changes its sign."""
    found = slopes(solver, string, aside)
    assert found.heard
    assert found.linked
    assert math.isfinite(found.gap_slope)
    if string:
        assert np.sign(found.z) == np.sign(aside)


def test_sideways_is_the_slope_of_the_linkage() -> None:
    """S across against λ of two places, and its size by the slope of S: λ is odd in y."""
    there, back = (slopes("row", 1, s * STEP).linkage for s in (1, -1))
    assert slopes("row", 1).y == pytest.approx((there - back) / (2 * STEP), rel=SIDEWAYS)
    assert there == pytest.approx(-back, rel=0.1)


def test_its_aperture_is_that_of_motion_across() -> None:
    found = aperture(model("row", 1))
    assert found.sideways
    assert found.one_sided > ONE_SIDED
    assert found.mean(lambda x: np.ones((1, x.size))) == pytest.approx(1.0)
    assert not aperture(model("row", 0)).sideways


@lru_cache
def prediction() -> Prediction:
    return predict(load_case(CASE), quality="draft")


def test_records_and_notes() -> None:
    heard, unheard = prediction().strings
    assert (unheard.sensitivity, unheard.sensitivity_reversible, unheard.sensitivity_band) == (0.0, 0.0, (0.0, 0.0))
    assert unheard.linkage == 0.0
    for level in (unheard.balance, unheard.balance_force, unheard.balance_displacement, *unheard.balance_band):
        assert math.isnan(level)
    assert heard.balance == heard.balance_force == 0.0
    said = prediction().notes[0]
    assert said.startswith("string 2: its coil does not hear it move up and down")
    assert f"only sideways motion is heard, with {1e3 * unheard.sensitivity_across:.3g} mV per m/s" in said
    slope = slopes("row", 1).y  # on the curve; a thick wound string's memory leaves less than half of it
    assert abs(slope) == pytest.approx(0.1580, rel=0.02)
    assert 0.4 * abs(slope) < unheard.sensitivity_across < 0.5 * abs(slope)


def test_figures_say_not_heard() -> None:
    texts = [t.get_text() for figure in (balance_figure(prediction().strings), linkage_figure(prediction().strings))
             for ax in figure.axes for t in ax.texts]
    assert texts.count("not\nheard") == 3
    assert "0, not heard" in texts


@pytest.mark.parametrize("command", ["predict", "hum", "signal"])
def test_commands(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([command, CASE, "--quality", "draft"]) == 0
    out = capsys.readouterr().out
    row = next(line.split() for line in out.splitlines() if line.split()[:2] == ["2", "E2"])
    assert "nan" not in row
    assert "–" in row
    assert main([command, CASE, "--quality", "draft", "--json"]) == 0
    json.loads(capsys.readouterr().out)


READINGS = """quantity, string, gap, value, uncertainty
output, 1, 2.5 mm, 10 mV, 1 mV
output, 2, 2.5 mm, 5 mV, 1 mV
"""


UNHEARD = "string 2: its coil does not hear it move up and down"


@pytest.mark.slow
@pytest.mark.parametrize(("arguments", "said"), [
    (["balance", CASE, "--by", "poles"], UNHEARD),
    (["balance", CASE, "--by", "poles", "--measure", "output"], UNHEARD),
    (["verify", CASE, "--string", "2"], UNHEARD),
    (["readings", CASE, "readings.csv"], "the prediction has no output, string 2 at 2.5 mm; leave this reading out"),
])
def test_what_needs_its_level_refuses(arguments: list[str], said: str, tmp_path: Path,
                                      capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("readings.csv").write_text(READINGS, encoding="utf-8")
    assert main([*arguments, "--quality", "draft"]) == 2
    assert said in capsys.readouterr().err
