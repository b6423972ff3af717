"""The live page in Chromium: parts added and taken away, four pins, papers by the mouse, a finger on a string."""

from __future__ import annotations

import csv
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from rigs.live_page import Watched, chromium, served


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as found:
        yield found


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with served("bench-single", home=tmp_path_factory.mktemp("home")) as found:
        yield found


@pytest.fixture
def seen(browser: Browser, address: str) -> Iterator[Watched]:
    page = Watched.opened(browser, address)
    yield page
    faults = list(page.faults)
    page.page.close()
    assert faults == []


def test_one_more_string_and_one_less(seen: Watched) -> None:
    """By the mouse, then back by Ctrl+Z: strings in the drawing, rows of the table, and the text agree."""
    page, before = seen.page, seen.state("text")
    page.select_option("#item", "string.1")
    page.get_by_role("button", name="One more like it").first.click()
    page.wait_for_function("() => /do not place themselves/.test(stringflux.state.says)")  # and nothing changes
    assert seen.state("text") == before
    page.select_option("#item", "pickup")
    page.locator("details[id='table-strings'] > summary").click()
    seen.field("strings.spacing", "10 mm")
    page.select_option("#item", "string.1")
    page.get_by_role("button", name="One more like it").first.click()
    expect(page.locator("#drawing .string")).to_have_count(2)
    assert str(seen.state("text")).count("[[string]]") == 2
    seen.settled("strings")
    expect(page.locator("#strings tbody tr")).to_have_count(2)
    page.select_option("#item", "string.2")
    page.get_by_role("button", name="Remove").first.click()
    expect(page.locator("#drawing .string")).to_have_count(1)
    page.click("#undo")
    expect(page.locator("#drawing .string")).to_have_count(2)
    page.click("#undo")
    page.click("#undo")
    page.wait_for_function("(text) => stringflux.state.text === text", arg=before)


def test_one_more_part_of_the_pole(seen: Watched) -> None:
    page = seen.page
    page.select_option("#item", "pole.1")
    page.locator("details[id='table-pole.1.part.1']").get_by_role("button", name="One more like it").click()
    page.wait_for_function("() => stringflux.state.text.split('[[pole.part]]').length === 3")
    seen.settled("strings")
    page.click("#undo")
    page.wait_for_function("() => stringflux.state.text.split('[[pole.part]]').length === 2")


def test_four_pins_and_not_a_fifth(seen: Watched) -> None:
    page = seen.page
    seen.settled()
    page.select_option("#item", "coil")
    for turns in (5000, 4800, 4600, 4400):
        seen.field("coil.turns", str(turns))
        seen.settled()
        page.click("#pin")
    row = page.locator(".pins tr", has_text="S, mV per m/s").locator("td")
    expect(row).to_have_text([re.compile("."), *(re.compile(f"^{d}") for d in ("−1.1", "−0.8", "−0.4", "equal"))])
    page.click("#pin")
    assert "there are 4 pins" in str(seen.state("says"))
    page.get_by_role("button", name="Take B off").click()
    expect(page.locator(".pins thead th .pin")).to_have_text(["A", "C", "D"])


def test_table_and_figures_by_the_mouse(seen: Watched, tmp_path: Path) -> None:
    page = seen.page
    seen.settled()
    for name, ending in (("Table of strings (CSV)", ".csv"), ("Figures (PNG, SVG)", ".zip")):
        page.click("#papers summary")
        with page.expect_download() as waiting:
            page.get_by_role("button", name=name).click()
        path = tmp_path / waiting.value.suggested_filename
        waiting.value.save_as(path)
        assert path.suffix == ending
    rows = list(csv.DictReader(next(tmp_path.glob("*.csv")).read_text(encoding="utf-8").splitlines()))
    shown = float(page.locator("#strings tbody td").nth(1).inner_text())
    assert float(rows[0]["S mV per m/s"]) == pytest.approx(shown, abs=0.05)
    with zipfile.ZipFile(next(tmp_path.glob("*.zip"))) as archive:
        assert {"drawing.svg", "drawing.png"} <= {Path(n).name for n in archive.namelist()}


def test_a_finger_drags_the_string(browser: Browser, address: str) -> None:
    """Touch, as on a tablet: pointer events of a finger move the string as the mouse does."""
    seen = Watched.opened(browser, address, has_touch=True, viewport={"width": 1024, "height": 768})
    page, before = seen.page, seen.state("text")
    box = page.locator("#drawing .string").first.bounding_box()
    assert box is not None
    session = page.context.new_cdp_session(page)
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    session.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
    for step in range(1, 6):
        session.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [{"x": x, "y": y - 3 * step}]})
    session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    page.wait_for_function("(text) => stringflux.state.text !== text", arg=before)
    assert "gap" in str(seen.state("text"))
    assert [f for f in seen.faults if "GPU" not in f] == []
    page.close()
