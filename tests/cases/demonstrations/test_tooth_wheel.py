"""The demonstration of a tooth wheel on two cases: words, tables, moving picture, files, refusals."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from stringflux.cases.cli import main
from stringflux.cases.demonstrations.tooth_wheel import demonstrate, read, turned
from stringflux.cases.demonstrations.written import KIND
from stringflux.postprocess.demonstrations.record import Demonstration
from stringflux.postprocess.demonstrations.wheel_words import wheel_signs

pytestmark = pytest.mark.slow

OTHER: dict[str, Any] = {
    "title": "Fifteen teeth, a ceramic bar with a broad pole piece, wound clockwise, south to the wheel",
    "wheel.teeth": 15, "wheel.tooth_top": 0.35, "wheel.floor": 0.5, "gap": "1.5 mm", "gaps": ["2.5 mm", "4 mm"],
    "sensor.magnet": "ceramic-5", "sensor.width": "8 mm", "sensor.towards_wheel": "south",
    "sensor.pole_piece.width": "4 mm", "coil.inner_width": "5 mm", "coil.winding": "clockwise", "coil.turns": 800,
    "turning.speeds": [90],
}
CASES = {"shipped": {}, "other": OTHER}
each = pytest.mark.parametrize("which", CASES)


@cache
def made(which: str) -> Demonstration:
    return demonstrate(read("tooth-wheel", CASES[which])[0], "draft")


@each
def test_what_is_told_is_what_was_found(which: str) -> None:
    shown = made(which)
    found, text = shown.found, shown.text()
    lines = {step.formula: step for step in shown.steps}
    assert lines["f = n · turns per second"].result == f"{found.teeth * found.speeds[0].speed:.1f} Hz"
    assert lines["Δλ = N ΔΦ"].numbers.startswith(f"{found.turns:.0f} × ")
    mean = float(lines["mean e = Δλ / (T/2)"].result.removesuffix(" mV").replace("−", "-"))
    assert mean == pytest.approx(1e3 * found.own.swing * 2 * found.speeds[0].frequency, rel=5e-3)
    peak = float(lines["largest e = S v"].result.removesuffix(" mV"))
    assert peak == pytest.approx(1e3 * np.abs(found.emf).max(), rel=0.01)
    assert "Lenz" in text
    assert "the ends" in text
    assert ("solid steel" in text) == (min(s.skin for s in found.speeds) < found.tooth / 2)
    assert ("times as fast" in text) == (which == "shipped")


@each
def test_series(which: str) -> None:
    turning, tooth, speeds, gaps = made(which).series
    found = made(which).found
    np.testing.assert_allclose(turning["flux per turn"].values * found.turns, turning["linkage"].values)
    t, linkage = turning["time"].values, turning["linkage"].values
    area = np.trapezoid(turning["emf"].values[:13], t[:13])
    assert area == pytest.approx(linkage[0] - linkage[12], rel=0.01)  # trapezoids of a twelfth of half a period
    assert tooth["linkage"].values[[0, -1]] == pytest.approx([found.own.linkage[0]] * 2, rel=1e-9)
    np.testing.assert_allclose(speeds["largest emf"].values / speeds["speed"].values,
                               speeds["largest emf"].values[0] / speeds["speed"].values[0], rtol=1e-12)
    np.testing.assert_allclose(speeds["frequency"].values, found.teeth * speeds["speed"].values)
    assert np.all(np.diff(np.abs(gaps["largest emf at the first speed"].values)) < 0)
    assert np.count_nonzero(gaps["gap"].values == found.own.gap) == 1


def test_signs() -> None:
    """North up and counter-clockwise, south up and clockwise: λ is positive in both, and a tooth makes it grow."""
    for which, way, up, end in (("shipped", "counter-clockwise", "positive up", "north"),
                                ("other", "round clockwise", "positive down", "south")):
        said, found = " ".join(made(which).signs), made(which).found
        assert way in said
        assert up in said
        assert f"The {end} end points to the wheel, so Φ is positive" in said
        assert found.own.swing > 0
        assert found.emf[1] > 0  # a tooth leaves
        assert "λ grows and e is negative: the start is the + end" in said


def test_a_turned_magnet_turns_the_sign() -> None:
    """South up, counter-clockwise: λ and e of the shipped case with the other sign, and told so."""
    found, _ = turned(read("tooth-wheel", {"sensor.towards_wheel": "south", "gaps": ["2 mm"]})[0], "draft")
    np.testing.assert_allclose(found.emf, -made("shipped").found.emf, rtol=1e-6, atol=1e-9)
    said = " ".join(wheel_signs(found))
    assert "so Φ is negative here" in said
    assert "λ falls and e is positive: the finish is the + end" in said


@each
def test_the_picture_follows_the_wheel(which: str) -> None:
    moving, found = made(which).moving, made(which).found
    (view,) = moving.views
    wheel = view.shapes[0]
    assert wheel.motion is not None
    np.testing.assert_allclose(wheel.motion.turned, found.angle)
    assert wheel.motion.turned[-1] == pytest.approx(3 * 2 * np.pi / found.teeth)
    assert view.phase is not None
    assert view.phase[0] == view.phase[-1] == 0
    assert len(view.lines) == view.phase.max() + 1 == 12
    right, left = (s for s in view.shapes if s.label in ("⊗", "⊙"))
    assert right.outline[0].min() > 0 > left.outline[0].max()
    assert (right.label == "⊗") == (which == "shipped")
    north, south = (next(s for s in view.shapes if s.role == role) for role in ("north", "south"))
    assert (north.outline[1].mean() > south.outline[1].mean()) == (which == "shipped")


def test_files(tmp_path: Path) -> None:
    folder = tmp_path / "turned"
    assert main(["demonstrate", "tooth-wheel", "--quality", "draft", "--set", "gap=1.2mm", "--set",
                 'gaps=["2 mm"]', "--out", str(folder)]) == 0
    names = {p.name for p in folder.iterdir()}
    assert {"moving.html", "moving.gif", "in-words.txt", "turning.csv", "tooth.csv", "speeds.csv", "gaps.csv",
            "slide-laws.png", "slide-field-dark.svg", "60-a-minute.wav"} <= names
    assert all(KIND.writes(name) for name in names)
    assert (folder / "moving.html").stat().st_size < 3_000_000
    assert (folder / "moving.gif").stat().st_size < 3_000_000
    said = json.loads((folder / "demonstration.json").read_text(encoding="utf-8"))
    assert said["result"]["found"]["own"]["gap"] == pytest.approx(1.2e-3)
    assert said["case"]["units"]["gap"] == "m"
    assert said["units"]["found"]["speeds"]["peak"] == "V"


@pytest.mark.parametrize(("line", "word"), [
    (["--set", "gap=0mm"], "gap: received"),
    (["--set", "wheel.teeth=0"], "write a whole number from 4"),
    (["--set", "wheel.tooth_top=0.7"], "more than the pitch"),
    (["--set", "sensor.magnet=wood"], "write a magnet"),
    (["--set", "turning.speeds=[-1]"], "turning, speeds 1"),
    (["bench-single"], "is a pickup; this demonstration has a case of its own, tooth-wheel"),
    (["no-such-case"], "tooth-wheel"),
    (["--string", "2"], "makes nothing of it; change its case with --set"),
])
def test_refusals_are_one_sentence(line: list[str], word: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demonstrate", "tooth-wheel", *line]) == 2
    said = capsys.readouterr().err.strip().splitlines()
    assert word in said[-1]
    assert said[-1].startswith("stringflux: ")
