"""`stringflux report`: where it writes, and what it refuses before it computes."""

from __future__ import annotations

import json
from contextlib import nullcontext
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rigs.cases.report_case import evil_figures, evil_findings
from stringflux.cases import load_case, shipped_cases
from stringflux.cases.cli import main
from stringflux.cases.commands import report as command_report
from stringflux.cases.papers import report as paper
from stringflux.cases.pickup_fields import nobody
from stringflux.cases.solved.solve import solved_case
from stringflux.cases.solving import solve
from stringflux.postprocess.coil.controls import LoadedCoil, network
from stringflux.postprocess.plucked.signal import through
from stringflux.postprocess.report import pictures as report_pictures
from stringflux.postprocess.report.motion import signal_table
from stringflux.postprocess.report.words import figure

pytestmark = pytest.mark.usefixtures("shared_solutions")

Printed = pytest.CaptureFixture[str]


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """What was found and drawn once, for any case."""
    monkeypatch.setattr(command_report, "beside", lambda *args: nullcontext(lambda: ((), (), ())))
    monkeypatch.setattr(report_pictures, "pictures_at_rest", lambda *args: dict(evil_figures()))
    monkeypatch.setattr(paper, "findings", lambda *args, **more: evil_findings())


@pytest.fixture
def never(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing may be computed."""

    def computed(*args: Any, **more: Any) -> None:
        raise AssertionError("computed")

    monkeypatch.setattr(paper, "findings", computed)
    monkeypatch.setattr(command_report, "beside", computed)


@pytest.mark.slow
@pytest.mark.usefixtures("quick")
def test_writes_a_page_and_replaces_its_own(tmp_path: Path, capsys: Printed, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["report", "bench-single", "--quality", "draft"]) == 0
    path = tmp_path / "bench-single-report.html"
    assert "Report: bench-single-report.html" in capsys.readouterr().out
    first = path.read_text(encoding="utf-8")
    assert first.startswith("<!DOCTYPE html>")
    path.write_text(first[:2000], encoding="utf-8")
    assert main(["report", "bench-single"]) == 0
    assert len(path.read_text(encoding="utf-8")) == len(first)
    assert [p.name for p in tmp_path.iterdir()] == [path.name]


@pytest.mark.usefixtures("never")
@pytest.mark.parametrize(("out", "said"), [
    ("report.pdf", "name a file that ends in .html"),
    ("folder.html", "which is a folder"),
    ("none/report.html", "there is no folder"),
    ("mine.html", "is no report of stringflux"),
    ("a\0.html", "no possible name"),
])
def test_refuses_before_it_computes(out: str, said: str, tmp_path: Path, capsys: Printed,
                                    monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "folder.html").mkdir()
    (tmp_path / "mine.html").write_text("<p>my own page</p>")
    assert main(["report", "bench-single", "--out", out]) == 2
    printed, err = capsys.readouterr()
    assert printed == ""
    (line,) = err.splitlines()
    assert line.startswith("stringflux: --out: received ")
    assert said in line
    assert (tmp_path / "mine.html").read_text() == "<p>my own page</p>"


@pytest.mark.usefixtures("never")
def test_refuses_a_quality_that_is_none(capsys: Printed) -> None:
    assert main(["report", "bench-single", "--quality", "best"]) == 2
    assert "--quality: received" in capsys.readouterr().err


@pytest.mark.slow
def test_without_a_place_along_the_string_the_rest_is_told(tmp_path: Path, capsys: Printed) -> None:
    lines = shipped_cases()["bench-single"].read_text(encoding="utf-8").splitlines()
    path = tmp_path / "nowhere.toml"
    path.write_text("\n".join(line for line in lines if not line.startswith("bridge_distance")), encoding="utf-8")
    out = tmp_path / "nowhere.html"
    assert main(["report", str(path), "--quality", "draft", "--out", str(out)]) == 0
    notes = [line for line in capsys.readouterr().out.splitlines() if line.startswith("Note: left out: ")]
    assert len(notes) == 1
    assert "bridge_distance" in notes[0]
    assert "bridge_distance: it is missing" in out.read_text(encoding="utf-8")


@pytest.mark.slow
def test_one_number_at_the_amplifier(tmp_path: Path, capsys: Printed) -> None:
    """The report's voltage there is that of `signal --loaded`, eddy currents at the string included."""
    text = shipped_cases()["bench-single"].read_text(encoding="utf-8")
    slug = '''[[pole.part]]
material = "steel-1008"
diameter = "4.8 mm"
length = "12 mm"
[[pole.part]]
material = "alnico-5"
diameter = "4.8 mm"
length = "5 mm"
polarity = "north up"
'''
    path = tmp_path / "slug.toml"
    path.write_text(text[:text.index("[[pole.part]]")] + slug + text[text.index("[coil]"):], encoding="utf-8")
    case = load_case(path)
    found = paper.with_motion(evil_findings(), paper.motion(solve(case, quality="draft")))
    columns = {c.head: c.cells[0] for c in signal_table(found).columns}
    assert main(["signal", str(path), "--loaded", "--quality", "draft", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)["result"]["strings"][0]
    for name in ("peak", "rms"):
        assert columns[f"{name.capitalize()}, at amplifier"] == figure(1e3 * told[name])
    unmoved = solved_case(case, "draft").at_ends(nobody)
    behind = LoadedCoil(coil=unmoved.coil, network=network(case.load))
    without = through(found.played[0].signal.voltage, found.played[0].signal.rate, behind)
    assert told["peak"] < 0.99 * float(np.max(np.abs(without)))  # what the currents take from b counts
