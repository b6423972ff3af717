"""Every demonstration's page in Chromium: it plays, is led by mouse and by keys, is read by all, asks for nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from rigs.live_page import SIZE, chromium
from stringflux.cases.demonstrations.names import KNOWN, computed, read_case
from stringflux.cases.demonstrations.settings import LessonSettings
from stringflux.cases.pickup_fields import nobody
from stringflux.postprocess.demonstrations.player import LARGEST

pytestmark = pytest.mark.usefixtures("shared_solutions")

AXE = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
PHONE = {"width": 390, "height": 844}
LEAST_TEXT = 16.0
"""Dots: what is read on a projector."""

# Every element with text of its own that is seen: its size on the screen, a drawing's scale included.
SIZES = """() => [...document.querySelectorAll("body *")]
  .filter(e => !["SCRIPT", "STYLE"].includes(e.tagName)
    && [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim()))
  .map(e => [e.textContent.slice(0, 30), parseFloat(getComputedStyle(e).fontSize)
    * (e.ownerSVGElement ? e.getScreenCTM().a : 1)])"""
# Words of the drawings that stand out of their drawing: how far, in dots. What moves may leave it.
CUT = """() => [...document.querySelectorAll("#stage text:not([transform])")].map(e => {
    const [a, b] = [e.getBoundingClientRect(), e.ownerSVGElement.getBoundingClientRect()];
    return [e.textContent, Math.max(b.left - a.left, a.right - b.right, a.bottom - b.bottom, b.top - a.top)]; })
  .filter(([, out]) => out > 1)"""

# Words and numbers of axes that stand over one another by more than a third of a line.
CROWDED = """() => [...document.querySelectorAll("#stage svg")].flatMap(svg => {
    const words = [...svg.querySelectorAll("text:not(.halo)")].map(e => [e.textContent, e.getBoundingClientRect()]);
    return words.flatMap(([a, p], i) => words.slice(i + 1)
      .filter(([, q]) => Math.min(p.right, q.right) - Math.max(p.left, q.left) > 2
        && Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top) > 6)
      .map(([b]) => [a, b])); })"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as found:
        yield found


@pytest.fixture(scope="module", params=list(KNOWN))
def page_file(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of a draft, as the command writes it."""
    one = KNOWN[request.param]
    case, _ = read_case(one, one.case, {})
    made = computed(request.param, case, LessonSettings(), "draft", nobody)
    path = tmp_path_factory.mktemp("page") / "moving.html"
    path.write_text(made.page(), encoding="utf-8")
    assert path.stat().st_size < LARGEST
    return path


@pytest.fixture
def opened(browser: Browser, page_file: Path) -> Iterator[Any]:
    """Opens the page with options of a window; what it complained of and asked for is looked at in the end."""
    pages: list[Page] = []
    faults: list[str] = []
    asked: list[str] = []

    def open_page(**options: Any) -> Page:
        page = browser.new_page(**{"viewport": SIZE, **options})
        page.set_default_timeout(20_000)
        page.on("console", lambda m: faults.append(f"{m.type}: {m.text}"))
        page.on("pageerror", lambda e: faults.append(str(e)))
        page.on("request", lambda r: asked.append(r.url))
        page.goto(page_file.as_uri())
        pages.append(page)
        return page

    yield open_page
    for page in pages:
        page.close()
    assert faults == []
    assert [url for url in asked if not url.startswith("data:")] == [page_file.as_uri()] * len(pages)


def _at(page: Page) -> int:
    return int(page.locator("#cursor").input_value())


def _until(page: Page, true: Callable[[int], bool]) -> None:
    """Wait for a place of the cursor; the page lets nobody wait inside it."""
    for _ in range(200):
        if true(_at(page)):
            return
        page.wait_for_timeout(50)
    raise AssertionError(f"the cursor stands at {_at(page)}")


def test_plays_and_rests(opened: Any) -> None:
    page = opened()
    _until(page, lambda k: k > 2)
    page.get_by_role("button", name="Pause").click()
    there, said = _at(page), page.locator("#now").inner_text()
    page.wait_for_timeout(250)
    assert (_at(page), page.locator("#now").inner_text()) == (there, said)
    page.get_by_role("button", name="Play").click()
    _until(page, lambda k: k != there)


def test_is_led_by_mouse_and_by_keys(opened: Any) -> None:
    page = opened(reduced_motion="reduce")
    last = int(page.locator("#cursor").get_attribute("max"))
    before = page.locator("#values").inner_text()
    box = page.locator("#cursor").bounding_box()
    page.mouse.click(box["x"] + 0.4 * box["width"], box["y"] + box["height"] / 2)
    assert _at(page) == pytest.approx(0.4 * last, abs=0.05 * last)
    assert page.locator("#values").inner_text() != before
    there = _at(page)
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    assert _at(page) == there + 2
    page.keyboard.press("Home")
    assert _at(page) == 0
    page.get_by_role("button", name="one step back").focus()
    page.keyboard.press("Enter")
    assert _at(page) == last
    page.get_by_role("button", name="one step on").click()
    assert _at(page) == 0
    page.locator("#play").focus()
    page.keyboard.press("Space")
    _until(page, lambda k: k > 1)


def test_stands_still_for_who_wants_that(opened: Any) -> None:
    page = opened(reduced_motion="reduce")
    page.wait_for_timeout(400)
    assert _at(page) == 0
    assert page.get_by_role("button", name="Play").is_visible()


@pytest.mark.parametrize("size", [SIZE, PHONE], ids=["projector", "phone"])
def test_is_read_by_everyone(opened: Any, size: dict[str, int]) -> None:
    """Large enough, nothing cut or crowded, no scrolling sideways, no fault that axe-core knows, light and dark."""
    page = opened(reduced_motion="reduce", color_scheme="light", viewport=size)
    sizes = page.evaluate(SIZES)
    assert len(sizes) > 20
    assert [(text, found) for text, found in sizes if found < LEAST_TEXT - 0.01] == []
    root = "document.documentElement"
    assert page.evaluate(f"{root}.scrollWidth") <= page.evaluate(f"{root}.clientWidth")
    for k in (0.0, 0.3, 0.7):
        page.locator("#cursor").fill(str(round(k * int(page.locator("#cursor").get_attribute("max")))))
        assert page.evaluate(CUT) == []
    assert page.evaluate(CROWDED) == []
    page.evaluate(AXE)
    there = _at(page)
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        assert _at(page) == there
        found = page.evaluate("axe.run().then((r) => r.violations.map((v) => v.id + ': ' + v.nodes[0].html))")
        assert found == []
