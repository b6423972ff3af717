"""A report in Chromium, at the width of a desk and of a phone, and printed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from rigs.cases.report_case import TITLE, evil_report
from rigs.live_page import chromium
from stringflux.postprocess.report.page import ReportSection, ReportTable, numbers, render, words

SIZES = {"desk": (1280, 900), "phone": (390, 844)}
LEAST_CONTRAST = 4.5  # WCAG 2, level AA, for text of ordinary size

# Every element with text of its own: ratio of the luminances of its colour and of the ground behind it.
CONTRASTS = """() => {
  const parts = c => { const n = c.match(/[\\d.]+/g).map(Number); return n.length === 3 ? [...n, 1] : n; };
  const light = c => { const [r, g, b] = c.map(v => v / 255).map(v => v <= 0.04045 ? v / 12.92
    : ((v + 0.055) / 1.055) ** 2.4); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
  const ground = e => { for (; e; e = e.parentElement) { const c = parts(getComputedStyle(e).backgroundColor);
    if (c[3] > 0) return c; } return [255, 255, 255, 1]; };
  return [...document.querySelectorAll("body *")]
    .filter(e => [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()))
    .map(e => { const a = light(parts(getComputedStyle(e).color)), b = light(ground(e));
      return [e.tagName + " " + e.textContent.slice(0, 30), (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05)]; });
}"""


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The hostile case's report, with a table added that is wider than any screen and a word that is, too."""
    report = evil_report()
    wide = ReportTable(caption="Wide", note="x" * 400, columns=(
        words("Name", ["a row", "b" * 300]),
        *(numbers(f"Column {i}", ["123.456", "−1"], "mV per m/s") for i in range(25))))
    report = replace(report, sections=(*report.sections, ReportSection(key="wide", title="w" * 200, parts=(wide,))))
    path = tmp_path_factory.mktemp("report") / "report.html"
    path.write_text(render(report, datetime(2026, 3, 9)), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    with chromium() as found:
        yield found


@pytest.fixture(params=list(SIZES))
def opened(request: pytest.FixtureRequest, browser: Browser,
           file: Path) -> Iterator[tuple[Page, list[str], list[str]]]:
    """The page, the addresses it asked for, and its complaints."""
    width, height = SIZES[request.param]
    page = browser.new_page(viewport={"width": width, "height": height})
    asked: list[str] = []
    faults: list[str] = []
    page.on("request", lambda r: asked.append(r.url))
    page.on("console", lambda m: faults.append(f"{m.type}: {m.text}"))
    page.on("pageerror", lambda e: faults.append(str(e)))
    page.on("dialog", lambda d: (faults.append(f"dialog {d.message}"), d.dismiss()))
    page.goto(file.as_uri(), wait_until="load")
    yield page, asked, faults
    page.close()


def test_quiet_and_whole(opened: Any, file: Path) -> None:
    """Nothing is asked of any network, nothing complains, all pictures are there and the sound can be played."""
    page, asked, faults = opened
    assert faults == []
    assert [url for url in asked if not url.startswith("data:")] == [file.as_uri()]
    loaded = page.evaluate("[...document.images].map(i => i.complete && i.naturalWidth > 0)")
    assert loaded == [True] * len(loaded)
    assert len(loaded) > 6
    page.wait_for_function("document.querySelector('audio').readyState > 0")
    assert page.evaluate("document.querySelector('audio').duration") > 1.5
    assert page.inner_text("h1") == TITLE
    assert page.is_visible("h1")


def test_no_scrolling_sideways(opened: Any) -> None:
    """The page fits its window; what is wider scrolls in a box of its own, which the keyboard can reach."""
    page = opened[0]
    root = "document.documentElement"
    assert page.evaluate(f"{root}.scrollWidth") <= page.evaluate(f"{root}.clientWidth")
    page.evaluate("scrollTo(500, 0)")
    assert page.evaluate("scrollX") == 0
    boxes = page.evaluate("""[...document.querySelectorAll('.scroll')].filter(e => e.scrollWidth > e.clientWidth)
        .map(e => [getComputedStyle(e).overflowX, e.tabIndex])""")
    assert len(boxes) >= 1
    assert all(box == ["auto", 0] for box in boxes)


def test_a_figure_is_no_wider_than_the_window(opened: Any) -> None:
    wide = opened[0].evaluate("[...document.querySelectorAll('figure img')].map(i => i.clientWidth)")
    assert max(wide) <= opened[0].evaluate("document.documentElement.clientWidth")
    assert min(wide) > 250


def test_a_table_that_goes_on_says_so(opened: Any) -> None:
    """By a shade at the edge where there is more: the covers of the shades move with the table."""
    layers = opened[0].evaluate("""[...document.querySelectorAll('.table .scroll')].map(
        e => [getComputedStyle(e).backgroundImage, getComputedStyle(e).backgroundAttachment])""")
    assert layers
    for images, attachment in layers:
        assert images.count("linear-gradient") == 4
        assert attachment == "local, local, scroll, scroll"


def test_contrast(opened: Any) -> None:
    found = opened[0].evaluate(CONTRASTS)
    assert len(found) > 100
    assert [(what, ratio) for what, ratio in found if ratio < LEAST_CONTRAST] == []


def test_links_lead_to_chapters(opened: Any) -> None:
    page = opened[0]
    page.click("nav a >> text=How far to trust it")
    assert -2 <= page.evaluate("document.getElementById('trust').getBoundingClientRect().top") < 400


def test_prints_on_a4_without_tearing(browser: Browser, file: Path) -> None:
    """In print the contents and the sound are gone, nothing scrolls, and tables and figures ask not to be torn."""
    page = browser.new_page(viewport={"width": 680, "height": 1000})
    page.goto(file.as_uri())
    page.emulate_media(media="print")
    hidden = page.evaluate("""[...document.querySelectorAll('nav, .sound, details')]
        .map(e => getComputedStyle(e).display)""")
    assert hidden == ["none"] * 3
    kept = page.evaluate("""[...document.querySelectorAll('.short, figure:not(.sound), tr')]
        .map(e => getComputedStyle(e).breakInside)""")
    assert set(kept) == {"avoid"}
    # long tables go over pages, with their heads on each; the page for the bench is one of its own
    long = page.evaluate("""[...document.querySelectorAll('.table:not(.short)')]
        .map(e => getComputedStyle(e).breakInside)""")
    assert set(long) == {"auto"}
    assert page.evaluate("getComputedStyle(document.querySelector('thead')).display") == "table-header-group"
    bench = page.evaluate("""(s => [s.breakBefore, s.breakAfter])(
        getComputedStyle(document.getElementById('bench')))""")
    assert bench == ["page", "page"]
    assert set(page.evaluate("[...document.querySelectorAll('.scroll')].map(e => getComputedStyle(e).overflowX)")) \
        == {"visible"}
    printed = page.pdf(prefer_css_page_size=True)
    page.close()
    assert printed.startswith(b"%PDF")
    assert b"/MediaBox [0 0 594.95" in printed or b"/MediaBox [0 0 595" in printed  # A4 in points
    assert printed.count(b"/Type /Page\n") > 5
