"""Every panel and view of the live page: nothing that axe-core finds, no small text, nothing wider than the page."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.resources import files
from typing import Any

import pytest
from playwright.sync_api import Browser

from rigs.live_page import Watched, chromium, served

AXE = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
FOUND = "axe.run().then((r) => r.violations.map((v) => v.id + ': ' + v.nodes[0].html))"
LEAST = 12.0  # px
# Texts that are seen, with their size on the screen: those of the drawing are in mm.
TEXTS = """() => [...document.querySelectorAll('body *')].filter((n) => n.checkVisibility()
  && n.getClientRects().length && !/^(TITLE|SCRIPT|NOSCRIPT|OPTION)$/i.test(n.tagName)
  && [...n.childNodes].some((c) => c.nodeType === 3 && c.textContent.trim())).map((n) => {
    const scale = n.ownerSVGElement ? n.getScreenCTM().a : 1;
    return [n.textContent.trim().slice(0, 30), scale * parseFloat(getComputedStyle(n).fontSize)]; })"""
SCROLLED = """() => [...document.querySelectorAll('body *')].filter((n) => n.checkVisibility() && !n.ownerSVGElement
  && getComputedStyle(n).overflowX !== 'visible' && n.tagName !== 'INPUT' && n.scrollWidth > n.clientWidth + 1)
  .map((n) => `${n.tagName} ${n.id} ${n.textContent.slice(0, 40)}`)"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as found:
        yield found


@pytest.fixture(scope="module")
def page(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Watched]:
    """One rod, one string, with a pin and another design beside it."""
    with served("bench-single", home=tmp_path_factory.mktemp("home")) as address:
        seen = Watched.opened(browser, address)
        seen.page.evaluate(AXE)
        seen.settled()
        seen.page.click("#pin")
        seen.field("string.1.gap", "3 mm")
        seen.settled()
        yield seen
        assert [fault for fault in seen.faults if "GPU stall" not in fault] == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [(1280, 720), (800, 1100)], ids=["wide", "tall"])
def test_every_panel(page: Watched, size: tuple[int, int], scheme: Any) -> None:
    page.page.set_viewport_size({"width": size[0], "height": size[1]})
    page.page.emulate_media(color_scheme=scheme)
    for panel in ("flux", "coil", "materials", "pins"):
        page.page.click(f"#tab-{panel}")
        page.page.wait_for_timeout(250)
        looked_at(page, f"{panel}, {scheme}")
    page.page.locator("#papers summary").click()
    looked_at(page, f"papers, {scheme}")
    page.page.keyboard.press("Escape")
    for item in ("pole.1", "coil", "pickup", "string.1"):
        page.page.select_option("#item", item)
        for more in page.page.locator("#chosen details:not([open]) > summary").all():
            if more.is_visible():
                more.click()
        page.page.wait_for_timeout(150)
        looked_at(page, f"{item}, {scheme}")
    for view in ("above", "side", "space", "along"):
        page.page.click(f"#tab-{view}")
        page.page.wait_for_timeout(600 if view == "space" else 150)
        looked_at(page, f"{view}, {scheme}")


def looked_at(page: Watched, where: str) -> None:
    assert page.page.evaluate(FOUND) == [], where
    small = [text for text in page.page.evaluate(TEXTS) if text[1] < LEAST - 0.01]
    assert small == [], where
    assert page.page.evaluate("document.documentElement.scrollWidth") <= page.page.evaluate("innerWidth"), where
    assert page.page.evaluate(SCROLLED) == [], where


def test_every_control_has_a_name(page: Watched) -> None:
    """What takes the focus says what it is, and its focus is seen."""
    page.page.set_viewport_size({"width": 1280, "height": 720})
    page.page.click("#tab-coil")
    page.page.locator("body").click(position={"x": 2, "y": 2})
    seen: set[str] = set()
    for _ in range(80):
        page.page.keyboard.press("Tab")
        name, ring = page.page.evaluate(
            "() => { const n = document.activeElement, s = getComputedStyle(n), r = n.querySelector('.reach');"
            "return [`${n.tagName} ${n.id} ${n.getAttribute('aria-label') ?? n.labels?.[0]?.textContent"
            " ?? n.textContent}`.trim(), s.outlineStyle !== 'none'"
            " || (r && getComputedStyle(r).stroke !== 'none')]; }")
        if name in seen or name.startswith("BODY"):
            break
        seen.add(name)
        assert ring, name
        assert len(name.split()) > 1, name
    assert len(seen) > 20
