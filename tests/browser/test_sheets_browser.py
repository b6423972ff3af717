"""Sheets in Chromium: each coil on one page of either paper, open to all, and nothing fetched."""

from __future__ import annotations

import re
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from rigs.cases.balance_formula import solved
from rigs.live_page import chromium
from stringflux.cases import load_case
from stringflux.cases.files.load import find_case, read_toml
from stringflux.cases.papers.sheets import printed, winding_sheet
from stringflux.cases.studies.balance.problem import BalanceRequest
from stringflux.cases.studies.balance.sheet import setting_sheet

AXE = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
LONG = {"title": ("A title as long as that of a case may be " * 5)[:200], "coil.turns": 6999,
        "second_coil.1.name": "another name as long as it may ever be!", "coil.leads.start": "forty letters " * 2}
HEIGHTS = {f"{path}.wound_builds": [{"height": f"{i} mm", "build": f"{4.4 - i % 2} mm"} for i in range(9)]
           for path in ("coil", "second_coil.1.coil")}
PAGE = rb"/Type\s*/Page\b"


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as found:
        yield found


def looked_at(browser: Browser, path: Path, pages: int) -> None:
    """Pages on both papers, no fault in the log, none that axe-core finds, nothing asked of another host."""
    opened = browser.new_page(bypass_csp=True)  # the page's policy keeps scripts out, also that of the test
    faults: list[str] = []
    asked: list[str] = []
    opened.on("console", lambda m: faults.append(m.text))
    opened.on("request", lambda r: asked.append(r.url))
    opened.goto(path.as_uri())
    for paper in ("A4", "Letter"):
        assert len(re.findall(PAGE, opened.pdf(format=paper))) == pages, paper
    for width in (1280, 390):  # wide tables scroll in boxes of their own
        opened.set_viewport_size({"width": width, "height": 844})
        assert opened.evaluate("document.documentElement.scrollWidth <= innerWidth"), width
    opened.evaluate(AXE)
    found = opened.evaluate("axe.run().then((r) => r.violations.map((v) => v.id + ': ' + v.nodes[0].html))")
    assert found == []
    assert faults == []
    assert [a for a in asked if not a.startswith(("file:", "data:"))] == []
    opened.close()


@pytest.mark.parametrize(("case", "changes", "pages"), [
    ("baritone-six", {}, 1), ("bench-single", {}, 1), ("blade-six", {}, 1), ("lap-steel-eight", {}, 1),
    ("side-by-side-six", LONG, 2), ("side-by-side-six", LONG | HEIGHTS, 2), ("stacked-six", {}, 2)])
def test_a_winding_sheet_prints_on_one_page_a_coil(browser: Browser, tmp_path: Path, case: str,
                                                   changes: dict[str, object], pages: int) -> None:
    path = tmp_path / "sheet.html"
    path.write_text(winding_sheet(load_case(case, changes), case), encoding="utf-8")
    looked_at(browser, path, pages)


@pytest.mark.parametrize("case", ["lap-steel-eight", "bass-four", "bar-screws-six"])
def test_a_setting_sheet_prints_on_one_page(browser: Browser, tmp_path: Path, case: str) -> None:
    data = {**read_toml(find_case(case)), "title": LONG["title"]}
    if case == "bar-screws-six":  # all in turns, too
        data["pole"][0]["part"][0]["thread"] = "40 per inch"
        data["height_screws"] = {"thread": "M3", "apart": "78 mm", "clockwise": "raises"}
    levels = [3.0 - 0.7 * i for i in range(len(data["string"]))]
    path = tmp_path / "setting.html"
    path.write_text(setting_sheet(solved(data, levels, BalanceRequest(by="both")), case), encoding="utf-8")
    looked_at(browser, path, 1)


def test_the_browser_that_is_there_makes_the_pdf(tmp_path: Path) -> None:
    page, pdf = tmp_path / "sheet.html", tmp_path / "sheet.pdf"
    page.write_text(winding_sheet(load_case("baritone-six"), "baritone-six"), encoding="utf-8")
    assert printed(page, pdf) == ""
    assert len(re.findall(PAGE, pdf.read_bytes())) == 1
