"""Readings of a falling magnet: against its passage, free fall, and each other."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

from rigs.cases.envelope import result_of
from stringflux.cases.cli import main
from stringflux.cases.commands.readings import FALLING_CASES
from stringflux.cases.demonstrations.falling_magnet import SHIPPED, read
from stringflux.cases.pickup_fields import nobody
from stringflux.cases.readings.falling import study_falling
from stringflux.geometry.demonstrations.falling import FallingMagnet
from stringflux.postprocess.falling.passing import passage
from stringflux.postprocess.readings.reading import Reading
from stringflux.solver.materials.lookup import find_material

HEAD = "quantity,peak,height,height uncertainty,speed,value,uncertainty\n"


def reading(quantity: str = "emf peak", peak: str = "first", **others: float) -> Reading:
    return Reading(line=2, quantity=quantity, value=7.0, uncertainty=0.1, peak=peak, **others)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def case() -> FallingMagnet:
    return read("falling-magnet", {})[0]


def test_peaks_and_areas_are_those_of_the_passage(case: FallingMagnet) -> None:
    """Areas by summing the voltage."""
    found = passage(case, {case.magnet.material: find_material(case.magnet.material)})
    asked = [reading(peak=p, height=case.drop.start) for p in ("first", "second")]
    asked += [reading("flux step", p) for p in ("first", "second")]
    values = [x.predicted for x in study_falling(case, asked, "draft", nobody).residuals]
    assert values[:2] == pytest.approx([abs(found.first.e), abs(found.second.e)], rel=1e-9)
    assert values[2:] == pytest.approx([abs(a) for a in found.areas], rel=1e-3)


def test_voltage_goes_with_the_root_of_the_height(case: FallingMagnet) -> None:
    """From high enough the speed hardly changes in the coil: v = √(2 g h); areas are alike from anywhere."""
    low, high, still = (x.predicted for x in study_falling(
        case, [reading(height=0.4), reading(height=1.6), reading("flux step")], "draft", nobody).residuals)
    assert high / low == pytest.approx(2.0, rel=0.02)
    assert still > 0


def test_doubt_of_the_height_is_half_its_share(case: FallingMagnet) -> None:
    """Of the height over the place of the peak: e goes with √h."""
    sharp, blurred = study_falling(case, [reading(peak="second", height=1.0),
                                          reading(peak="second", height=1.0, height_uncertainty=0.02)],
                                   "draft", nobody).residuals
    assert sharp.doubt == pytest.approx(0.01 * sharp.predicted)
    assert math.sqrt(blurred.doubt**2 - sharp.doubt**2) / sharp.predicted == pytest.approx(0.01, rel=0.03)
    assert blurred.sigma == pytest.approx(blurred.difference / math.hypot(0.1, blurred.doubt))


def test_by_hand_peaks_go_with_the_speed() -> None:
    case = read("falling-magnet", {"drop.speed": "0.5 m/s"})[0]
    one, two = study_falling(case, [reading(speed=0.5), reading(speed=1.0, speed_uncertainty=0.05)], "draft",
                             nobody).residuals
    assert two.predicted == pytest.approx(2 * one.predicted, rel=1e-4)
    assert two.doubt == pytest.approx(two.predicted * math.hypot(0.01, 0.05), rel=1e-3)


def test_the_command_reads_the_shipped_ones(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    out = tmp_path / "found"
    assert main(["readings", "falling-magnet", "falling-magnet-readings", "--json", "--out", str(out)]) == 0
    found: list[dict[str, Any]] = result_of(capsys.readouterr().out, "readings")["readings"]
    assert max(abs(r["sigma"]) for r in found) < 2.5
    assert {p.name for p in out.iterdir()} == {"readings.csv", "readings.png", "readings.svg"}
    assert FALLING_CASES == SHIPPED


@pytest.mark.parametrize(("line", "changes", "says"), [
    ("emf peak,,0.15 m,,,7 V,1 %", (), '"peak": it is empty'),
    ("emf peak,third,0.15 m,,,7 V,1 %", (), "first or second"),
    ("emf peak,first,,,,7 V,1 %", (), '"height": it is empty'),
    ("emf peak,first,5 mm,,,7 V,1 %", (), "in the coil already"),
    ("emf peak,first,0.15 m,,0.5 m/s,7 V,1 %", (), "no use for"),
    ("emf peak,first,0.15 m,,,7 V,1 %", ("--set", "drop.speed=0.5m/s"), '"speed": it is empty'),
    ("resistance,,,,,7 ohm,1 %", (), "write emf peak, flux step"),
    ("emf peak,first,0.15 m,,,7 V,1 %", ("--fit", "turns"), "nothing is fitted"),
])
def test_what_cannot_be_is_refused(line: str, changes: tuple[str, ...], says: str, tmp_path: Path,
                                   capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "r.csv"
    path.write_text(HEAD + line, encoding="utf-8")
    assert main(["readings", "falling-magnet", str(path), *changes]) == 2
    said = capsys.readouterr().err
    assert says in said
    assert said.count("\n") == 1


def test_a_case_of_ones_own_is_known_by_what_it_holds(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "mine.toml").write_text(read("falling-magnet", {})[1].text, encoding="utf-8")
    (tmp_path / "r.csv").write_text(HEAD + "flux step,first,,,,67 mWb,2 %", encoding="utf-8")
    assert main(["readings", str(tmp_path / "mine.toml"), str(tmp_path / "r.csv")]) == 0
    assert "first peak" in capsys.readouterr().out
