"""A sheet in Chromium: one page of either paper, sound for those who do not see it, and nothing fetched."""

from __future__ import annotations

import re
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from rigs.live_page import chromium
from stringflux.cases import load_case, solve
from stringflux.cases.demonstrations.worksheet import worksheet_figures
from stringflux.postprocess.worksheet.page import page
from stringflux.postprocess.worksheet.questions import sheet_of

pytestmark = pytest.mark.usefixtures("shared_solutions")

AXE = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
LONG = ("A title as long as that of a case may be " * 5)[:200]


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as found:
        yield found


@pytest.mark.parametrize(("case", "seed", "title"), [
    ("bench-single", None, ""), ("bench-single", 12, LONG), ("bass-four", 3, ""), ("baritone-six", None, "")])
def test_prints_on_one_page_and_is_open_to_all(browser: Browser, tmp_path: Path, case: str, seed: int | None,
                                               title: str) -> None:
    pickup = solve(load_case(case, {"title": title} if title else {}), quality="draft")
    figures, section = worksheet_figures(pickup, 1, seed)
    sheet = sheet_of(figures)
    for answers, most in ((False, 1), (True, 2)):
        path = tmp_path / f"{answers}.html"
        path.write_text(page(sheet, section, name=case, seed=seed, answers=answers), encoding="utf-8")
        # the page's policy keeps scripts out, also that of the test; the policy itself is looked at in the text
        opened = browser.new_page(bypass_csp=True)
        faults: list[str] = []
        opened.on("console", lambda m, faults=faults: faults.append(m.text))
        opened.on("pageerror", lambda e, faults=faults: faults.append(str(e)))
        asked: list[str] = []
        opened.on("request", lambda r, asked=asked: asked.append(r.url))
        opened.goto(path.as_uri())
        for paper in ("A4", "Letter"):
            pages = len(re.findall(rb"/Type\s*/Page\b", opened.pdf(format=paper)))
            assert 1 <= pages <= most, (paper, answers)
        assert opened.evaluate("document.documentElement.scrollWidth <= innerWidth")
        opened.evaluate(AXE)
        found = opened.evaluate("axe.run().then((r) => r.violations.map((v) => v.id + ': ' + v.nodes[0].html))")
        assert found == []
        assert faults == []
        assert [a for a in asked if not a.startswith(("file:", "data:"))] == []
        opened.close()
