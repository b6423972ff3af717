"""The winding sheet: what it says, where leads go, and the PDF that a browser makes."""

from __future__ import annotations

import json
import re
from itertools import pairwise
from pathlib import Path

import pytest

from stringflux.cases import load_case
from stringflux.cases.cli import main
from stringflux.cases.papers import sheets
from stringflux.cases.papers.sheets import goes_to, winding_sheet

Printed = pytest.CaptureFixture[str]


def test_says_what_goes_to_the_machine() -> None:
    page = winding_sheet(load_case("baritone-six", {"coil.leads.start": "black", "coil.leads.finish": "<red>"}), "b")
    for words in ("<td>7000</td>", "42 AWG", "5.106", "11 to 18 g", "common practice, no source", "clockwise",
                  "pacemakers", "glasses", "leaded solder", "black", "&lt;red&gt;", "compass", ">start</text>",
                  "default-src 'none'", "0.0026 to 0.0030 in"):
        assert words in page, words
    assert "<script" not in page
    assert page.count("<article") == 1
    assert "not said in the case" in winding_sheet(load_case("baritone-six"), "b")


def test_the_drawing_goes_round_the_way_of_the_winding() -> None:
    def turned(sense: str) -> float:
        page = winding_sheet(load_case("bench-single", {"coil.winding": sense}), "b")
        found = re.search(r'<polyline points="([^"]+)"', page)
        assert found
        at = [complex(*map(float, p.split(","))) for p in found[1].split()]
        middle = sum(at) / len(at)
        return sum((((b - middle) / (a - middle)).imag) for a, b in pairwise(at))

    # the picture's second axis points down, so counter-clockwise to the eye is a negative sum
    assert turned("counter-clockwise") < 0 < turned("clockwise")


def test_a_build_that_changes_is_told_by_its_heights() -> None:
    builds = [{"height": "0 mm", "build": "3 mm"}, {"height": "5 mm", "build": "4.2 mm"}, {"height": "11 mm",
                                                                                          "build": "3.6 mm"}]
    page = winding_sheet(load_case("baritone-six", {"coil.wound_builds": builds}), "b")
    for words in ('<th scope="row">5.0</th><td>1.40</td><td>2.80</td><td>4.20</td>', "where it is thickest",
                  "by the height over the winding's lower edge", '<th scope="col">at 4667</th>',
                  "at the end 13.4 × 65.6 mm"):
        assert words in page, words
    assert "lower edge" not in winding_sheet(load_case("baritone-six"), "b")


@pytest.mark.parametrize(("changes", "expected"), [
    ({}, (("ground", "slugs, its start"), ("screws, its finish", "hot"))),
    ({"connection.reversed": ["slugs"]}, (("ground", "slugs, its finish"), ("hot", "screws, its finish"))),
    ({"coil.grounded_end": "outer"}, (("slugs, its finish", "ground"), ("hot", "screws, its start"))),
    ({"connection.coils": "parallel"}, (("ground", "hot"), ("ground", "hot"))),
    ({"connection.coils": "slugs"}, (("open", "open"), ("ground", "hot"))),
])
def test_leads_go_where_the_connection_says(changes: dict[str, object], expected: object) -> None:
    assert goes_to(load_case("side-by-side-six", changes)) == expected


def test_several_coils_have_a_page_each() -> None:
    page = winding_sheet(load_case("side-by-side-six"), "s")
    assert page.count("<article") == 2
    assert "in phase (strings add), hum cancels" in page
    assert winding_sheet(load_case("side-by-side-six"), "s", coils=[1]).count("<article") == 1


def test_wind_writes_the_sheet_and_replaces_only_its_own(tmp_path: Path, capsys: Printed,
                                                         monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sheets, "browser", lambda: None)
    out = tmp_path / "w"
    for _ in range(2):
        assert main(["wind", "stacked-six", "--coil", "lower", "--out", str(out)]) == 0
        said = capsys.readouterr()
        assert "Written: wind.json, sheet.html" in said.out
        assert said.err.count("\n") == 1
        assert "No PDF: no browser" in said.err
        (out / "mine.txt").write_text("kept", encoding="utf-8")
    assert sorted(p.name for p in out.iterdir()) == ["mine.txt", "sheet.html", "wind.json"]
    assert json.loads((out / "wind.json").read_text(encoding="utf-8"))["files"] == ["sheet.html", "wind.json"]
    assert (out / "sheet.html").read_text(encoding="utf-8").count("<article") == 1
    (out / "wind.json").unlink()
    assert main(["wind", "stacked-six", "--out", str(out)]) == 2
    assert "no wind.json" in capsys.readouterr().err


def test_the_sheet_is_that_of_the_turns_that_were_asked_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sheets, "browser", lambda: None)
    assert main(["wind", "baritone-six", "--for", "6.2kohm", "--out", str(tmp_path / "w")]) == 0
    page = (tmp_path / "w" / "sheet.html").read_text(encoding="utf-8")
    assert "<td>8500</td><td>6.200</td>" in page


def test_a_browser_that_fails_leaves_a_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sheets, "browser", lambda: "/bin/false")
    page = tmp_path / "a.html"
    page.write_text("<p>", encoding="utf-8")
    said = sheets.printed(page, tmp_path / "a.pdf")
    assert said == "No PDF: false did not print the page; print it from a browser."
