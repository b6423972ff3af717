"""A case of long bars by the planar solver, held to 3-D; and the cases it refuses."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from stringflux.cases import predict
from stringflux.cases.cli import app
from stringflux.cases.files.load import load_case
from stringflux.cases.solved.choice import choose
from stringflux.cases.solved.solve import solved_case
from stringflux.cases.solving import solve
from stringflux.geometry.errors import CaseError
from stringflux.solver.plane.solve import SolvedBars

# 3-D, quality normal: B₀z mT, b_z mT/A, S V·s/m on the curve, string by string, each alone; L in H
SOLID = ((25.509, 274.60, 0.32395), (23.466, 260.55, 0.21310), (23.350, 262.91, 0.12927), (23.913, 270.37, 0.12639),
         (24.934, 279.70, 0.07720), (28.352, 309.05, 0.05108))
SOLID_L = 2.2867
CLOSE = 1e-2  # what the program says of its end strings


@pytest.fixture(scope="module")
def plane() -> Any:
    return predict(load_case("blade-six"), solver="plane", maps=False)


@pytest.mark.slow
def test_a_plane_stands_within_a_hundredth_of_3d(plane: Any) -> None:
    for string, (bias, b, s) in zip(plane.strings, SOLID, strict=True):
        assert string.bias[2] * 1e3 == pytest.approx(bias, rel=CLOSE)
        assert string.reciprocal[2] * 1e3 == pytest.approx(b, rel=CLOSE)
        assert string.sensitivity_curve == pytest.approx(s, rel=CLOSE)
    assert plane.coil.inductance == pytest.approx(SOLID_L, rel=5e-3)
    assert plane.solver == "plane"
    assert any("ends of the bars are estimated" in note for note in plane.notes)


def test_whoever_asks_for_a_plane_gets_one() -> None:
    case = load_case("blade-six")
    solved = solved_case(case, "normal", solver="plane").solution()
    assert isinstance(solved, SolvedBars)


@pytest.mark.slow
def test_another_gap_and_other_turns_solve_nothing_again(plane: Any) -> None:
    first = solve(load_case("blade-six"), solver="plane")
    assert {"mesh", "magnet_field", "signal_field", "ends"} < set(first.prediction(maps=False).timings)
    other = first.with_({"strings.gap": "2.2 mm", "coil.turns": 5000}).prediction(maps=False)
    assert not {"mesh", "magnet_field", "signal_field", "ends"} & set(other.timings)
    assert other.coil.inductance == pytest.approx(plane.coil.inductance * (5000 / 5500) ** 2)
    assert other.strings[2].bias[2] > plane.strings[2].bias[2]


@pytest.mark.parametrize(("name", "why"), [
    ("baritone-six", "which is no box"), ("stacked-six", "2 coils"), ("bar-screws-six", "which is no box"),
    ("side-by-side-six", "2 coils")])
def test_what_is_no_section_is_refused(name: str, why: str) -> None:
    with pytest.raises(CaseError, match=f"plane takes long bars across the strings.*{why}"):
        choose(load_case(name), "plane")


@pytest.mark.parametrize(("changes", "why"), [
    ({"body.2.across": "30 mm"}, "no section that goes on"),
    ({"body.2.along": "22 mm"}, "not 3 times as long"),
    ({"body.2.centre": ["0 mm", "2 mm"]}, "off the middle"),
    ({"body.2.magnetised": "to +y"}, "magnetised across the strings")])
def test_bars_that_do_not_go_on_are_refused(changes: dict[str, Any], why: str) -> None:
    with pytest.raises(CaseError, match=why):
        choose(load_case("blade-six", changes), "plane")


def test_3d_is_kept_and_the_plane_named() -> None:
    choice = choose(load_case("blade-six"))
    assert choice.solver == "solid"
    assert "--solver plane is faster" in choice.why
    assert choose(load_case("blade-six"), "plane").solver == "plane"


@pytest.mark.slow
def test_the_command_takes_it(tmp_path: Path) -> None:
    """JSON and a results folder, of two strings; without a mesh in space there is no picture of the section."""
    text = (files("stringflux.cases") / "blade-six.toml").read_text()
    head, *strings = text.split("[[string]]")
    case = tmp_path / "two.toml"
    case.write_text("[[string]]".join([head, strings[2], strings[3]]))
    result = CliRunner().invoke(app, ["predict", str(case), "--solver", "plane", "--quality", "draft",
                                      "--json", "--out", str(tmp_path / "r")])
    assert result.exit_code == 0, result.output
    found = json.loads((tmp_path / "r" / "prediction.json").read_text())["result"]
    assert found["solver"] == "plane"
    assert len(found["strings"]) == 2
    assert (tmp_path / "r" / "balance.png").exists()
