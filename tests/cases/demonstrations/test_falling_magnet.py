"""The demonstration of a falling magnet on its shipped cases: words, tables, moving picture, files, refusals."""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure

from stringflux.cases.cli import main
from stringflux.cases.demonstrations.falling_magnet import SHIPPED, demonstrate, read
from stringflux.cases.demonstrations.written import KIND
from stringflux.geometry import CaseError
from stringflux.postprocess.demonstrations.palette import LIGHT
from stringflux.postprocess.demonstrations.record import Demonstration
from stringflux.postprocess.demonstrations.slides import view_panel

pytestmark = pytest.mark.slow


@cache
def made(which: str) -> Demonstration:
    return demonstrate(read(which, {})[0], "draft")


@pytest.mark.parametrize("which", SHIPPED)
def test_what_is_told_is_what_was_found(which: str) -> None:
    shown = made(which)
    found, text = shown.found, shown.text()
    lines = {step.formula: step for step in shown.steps}
    assert lines["λ = N Φ"].numbers.startswith(f"{found.turns:.0f} × ")
    area = lines["∫ e dt = −N ΔΦ"].result
    assert float(area.removesuffix(" mV s").replace("−", "-")) == pytest.approx(1e3 * found.areas[0], rel=5e-3)
    peaks = [s for s in shown.steps if s.formula == "|e| = |dλ/dz| |v|"]
    assert len(peaks) == 2
    for peak, step in zip((found.first, found.second), peaks, strict=True):
        assert abs(found.slope(np.array([peak.z]))[0]) * peak.speed == pytest.approx(abs(peak.e), rel=1e-3)
        assert ("e is −" in step.result) == (peak.e < 0)
    assert "Lenz" in text
    assert "Caution" in text
    assert text.count("\n") > 60


def test_lenz_in_words() -> None:
    """North below and counter-clockwise: −Φ grows; and clockwise turns count the other way."""
    said = " ".join(made("falling-magnet").signs)
    assert "flux down through the coil grows" in said
    assert "makes flux up, against the growing" in said
    assert "Φ is positive up" in said
    clockwise = " ".join(made("magnet-onto-steel").signs)
    assert "Φ is positive down" in clockwise
    assert "flux down through the coil grows" in clockwise


def test_only_what_there_is_is_told() -> None:
    plain, tube, core = (made(which) for which in SHIPPED)
    formulas = [{s.formula for s in one.steps} for one in (plain, tube, core)]
    assert ["v = m g/k" in f for f in formulas] == [False, True, False]
    assert ["λ with the core / λ without it" in f for f in formulas] == [False, False, True]
    assert ["v = √(2 g h)" in f for f in formulas] == [True, False, False]
    assert [any(s.name == "tube" for s in one.slides) for one in (plain, tube, core)] == [False, True, False]
    assert "jumps onto the core" in " ".join(core.cautions)


@pytest.mark.parametrize("which", SHIPPED)
def test_series(which: str) -> None:
    shown = made(which)
    passage, flux, peaks = shown.series
    assert [s.name for s in shown.series] == ["passage", "flux", "peaks"]
    np.testing.assert_allclose(passage["flux per turn"].values * shown.found.turns, passage["linkage"].values)
    np.testing.assert_array_equal(passage["emf turned round"].values, -passage["emf"].values)
    slope = np.interp(passage["place z"].values, flux["place z"].values, flux["slope"].values)
    e = -slope * passage["speed up"].values
    np.testing.assert_allclose(e, passage["emf"].values, atol=0.01 * np.abs(e).max())
    assert len(peaks["first peak"].values) == (1 if which == "magnet-in-a-tube" else 5)


@pytest.mark.parametrize("which", SHIPPED)
def test_the_picture_follows_the_magnet(which: str) -> None:
    shown = made(which)
    moving, (view,) = shown.moving, shown.moving.views
    z = moving.traces[0].curves[0].values
    north = next(s for s in view.shapes if s.role == "north")
    assert north.motion is not None
    np.testing.assert_array_equal(north.motion.z, z)
    assert np.allclose(np.diff(moving.time), np.diff(moving.time)[0])
    half = (north.outline[1].max() - north.outline[1].min())
    assert z.max() <= view.window[3] + half + 1e-6
    e = moving.traces[3].curves[0].values
    assert np.abs(e).max() == pytest.approx(max(abs(shown.found.first.e), abs(shown.found.second.e)), rel=2e-3)
    assert view.phase is not None
    if which == "magnet-onto-steel":
        assert view.carried is None
        assert len(view.lines) == view.phase.max() + 1 > 5
    else:
        assert view.carried is north.motion
        assert len(view.lines) == 1
    right, left = (s for s in view.shapes if s.label in ("⊗", "⊙"))
    assert right.outline[0].min() > 0 > left.outline[0].max()
    counter_clockwise = which != "magnet-onto-steel"
    assert (right.label == "⊗") == counter_clockwise


def test_lines_are_carried_along_on_paper_and_on_the_page() -> None:
    moving = made("falling-magnet").moving
    (view,), z = moving.views, moving.traces[0].curves[0].values
    heights = []
    for k in (20, 150):
        ax = Figure().subplots()
        view_panel(ax, view, LIGHT, k)
        heights.append(np.asarray(ax.lines[0].get_ydata(), dtype=float))
    np.testing.assert_allclose(heights[1] - heights[0], 1e3 * (z[150] - z[20]))
    page = made("falling-magnet").page()
    told = json.loads(re.findall(r'<script[^>]*id="data"[^>]*>(.*?)</script>', page, re.DOTALL)[0])
    np.testing.assert_allclose(told["views"][0]["carried"]["z"], 1e3 * z, atol=1e-3)


def test_files(tmp_path: Path) -> None:
    folder = tmp_path / "fallen"
    assert main(["demonstrate", "falling-magnet", "--set", "drop.speed=0.5m/s", "--out", str(folder)]) == 0
    names = {p.name for p in folder.iterdir()}
    assert {"moving.html", "moving.gif", "in-words.txt", "passage.csv", "flux.csv", "peaks.csv", "slide-areas.png",
            "slide-areas-dark.svg", "slide-lenz.png"} <= names
    assert all(KIND.writes(name) for name in names)
    assert (folder / "moving.html").stat().st_size < 3_000_000
    assert (folder / "moving.gif").stat().st_size < 3_000_000
    said = json.loads((folder / "demonstration.json").read_text(encoding="utf-8"))
    found = said["result"]["found"]
    assert found["first"]["speed"] == 0.5
    assert said["case"]["si"]["drop"]["speed"] == 0.5
    assert said["case"]["units"]["drop.speed"] == "m/s"
    assert said["units"]["found"]["first"]["e"] == "V"
    assert found["first"]["e"] == pytest.approx(-found["second"]["e"], rel=1e-4)


@pytest.mark.parametrize(("line", "word"), [
    (["--set", "magnet.diameter=16mm"], "does not pass coil, inner_diameter 16 mm"),
    (["--set", "drop.start=10mm"], "the magnet is in the coil already"),
    (["--set", "drop.speed=0m/s"], "write a speed from 0.01 m/s"),
    (["--set", "magnet.material=copper"], "which is not a magnet"),
    (["bench-single"], "is a pickup; this demonstration has a case of its own"),
    (["no-such-case"], "the shipped cases are falling-magnet, magnet-in-a-tube, magnet-onto-steel"),
    (["magnet-in-a-tube", "--set", "drop.start=2m"], "tube: the magnet is at"),
    (["--amplitude", "1mm"], "makes nothing of it; change its case with --set"),
])
def test_refusals_are_one_sentence(line: list[str], word: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demonstrate", "falling-magnet", *line]) == 2
    said = capsys.readouterr().err.strip().splitlines()
    assert word in said[-1]
    assert said[-1].startswith("stringflux: ")


def test_a_file_of_ones_own(tmp_path: Path) -> None:
    shipped, _ = read("falling-magnet", {})
    copy = tmp_path / "mine.toml"
    text = read("falling-magnet", {})[1].text
    copy.write_text(text, encoding="utf-8")
    assert read(str(copy), {})[0] == shipped
    copy.write_text(text.replace('[magnet]\nmaterial = "ndfeb-38"', '[magnet]\nmaterial = "ndfeb"'), encoding="utf-8")
    with pytest.raises(CaseError, match=r"mine\.toml, line \d+: magnet, material: received \"ndfeb\""):
        read(str(copy), {})
    copy.write_text("[magnets]\n", encoding="utf-8")
    with pytest.raises(CaseError, match=r'mine\.toml, line 1: "magnets" is not a key here'):
        read(str(copy), {})
    pickup = tmp_path / "pickup.toml"
    pickup.write_text('[coil]\nturns = 1\n[[string]]\ngap = "2 mm"\n', encoding="utf-8")
    with pytest.raises(CaseError, match=r"pickup\.toml is a pickup; this demonstration has a case of its own"):
        read(str(pickup), {})


def test_shipped_cases_say_what_they_are() -> None:
    for which in SHIPPED:
        case, source = read(which, {})
        assert case.title
        assert source.name == which
        assert source.text.startswith("#")
