"""Builds on the live page: the drawing follows the hand at once, the figures when it rests; two cases in Chromium."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser

from rigs.live_page import Watched, chromium, served
from rigs.small_builds import two_strings

AT_ONCE = 1.5
"""s in which the drawing follows, also on a machine that does much else; a draft takes several."""
PATIENCE = 400_000.0
"""ms for a draft of a build on a machine that does much else."""
OLD = "draft, of the design before"
TABLE = "#strings table"


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as found:
        yield found


def opened(browser: Browser, address: str) -> Watched:
    """The page with its first draft, or what of it is wanted: strings and maps."""
    seen = Watched.opened(browser, address)
    seen.page.set_default_timeout(PATIENCE)
    drafted(seen)
    return seen


def drafted(seen: Watched) -> None:
    """Wait until the strings' figures and maps are those of the design, and drawn."""
    seen.settled("loop", "draft")
    seen.page.wait_for_timeout(200)
    assert seen.page.locator(f"{TABLE}.dim").count() == 0


def words(seen: Watched) -> str:
    """What the page says of the figures that it shows."""
    return seen.page.locator("#state > span").inner_text()


def says(seen: Watched, wanted: str) -> None:
    """Wait until it says so."""
    seen.page.wait_for_function("(w) => new RegExp(w).test(document.querySelector('#state > span').textContent)",
                                arg=wanted)


def figures(seen: Watched) -> list[list[str]]:
    return [row.locator("td").all_inner_texts() for row in seen.page.locator("#strings tbody tr").all()]


def places(seen: Watched, item: str) -> str:
    """Where something is drawn."""
    what = seen.page.locator(f"#drawing [data-item='{item}']").first
    return what.evaluate("(n) => n.getAttribute('d') ?? n.querySelector('circle').getAttribute('cy')")  # type: ignore


def follows(seen: Watched, item: str, before: str) -> None:
    """The drawing has followed."""
    start = time.monotonic()
    seen.page.wait_for_function(
        "([item, d]) => { const n = document.querySelector(`#drawing [data-item='${item}']`);"
        "return (n.getAttribute('d') ?? n.querySelector('circle').getAttribute('cy')) !== d; }", arg=[item, before])
    assert time.monotonic() - start < AT_ONCE


def of_before(seen: Watched, figures_before: list[list[str]]) -> None:
    """The figures are those of the design before, dimmed, and said to be so."""
    assert seen.page.locator(f"{TABLE}.dim").count() == 1
    assert [row[1:] for row in figures(seen)] == [row[1:] for row in figures_before]  # a gap is of the drawing


def held(seen: Watched, at: Any, by: tuple[float, float]) -> None:
    """Take hold of something by the mouse, and move it by pixels; it is not let go."""
    box = at.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    mouse = seen.page.mouse
    mouse.move(x, y)
    mouse.down()
    for i in range(1, 9):
        mouse.move(x + by[0] * i / 8, y + by[1] * i / 8)


def saved(seen: Watched, folder: Path) -> Path:
    with seen.page.expect_download() as waiting:
        seen.page.keyboard.press("Control+s")
    path = folder / waiting.value.suggested_filename
    waiting.value.save_as(path)
    return path


def signed(value: float, unit: str = "dB") -> str:
    text = f"{abs(value):.1f}"
    return f"{'' if float(text) == 0 else '−' if value < 0 else '+'}{text}\u202f{unit}"


def same_as_the_command(seen: Watched, path: Path) -> None:
    """Every figure of the table to the digit as `predict --json --quality draft` of the saved file has it."""
    done = subprocess.run([sys.executable, "-m", "stringflux", "predict", str(path), "--json", "--quality", "draft"],
                          capture_output=True, text=True, check=True)
    told: Any = json.loads(done.stdout)["result"]
    for row, s in zip(figures(seen), told["strings"], strict=True):
        gap, sensitivity, level, force, doubt, field, _ = row
        assert float(gap.removesuffix(" mm")) == pytest.approx(1e3 * s["gap"], abs=0.00501)  # a 5 at the end
        assert sensitivity == f"{1e3 * s['sensitivity']:#.3g}".rstrip(".")
        assert level.split(" A ")[0].strip() == signed(s["balance"])
        assert force.strip().rstrip(" ▲▼") == signed(s["balance_force"])
        assert doubt.startswith("± ")
        millitesla = f"{1e3 * s['bias'][2]:#.3g}".rstrip(".")
        assert field == f"{1e4 * s['bias'][2]:.0f} ({millitesla})"


def test_a_blade(browser: Browser, tmp_path: Path) -> None:
    with served(str(two_strings("blade-six", tmp_path)), home=tmp_path) as address:
        seen = opened(browser, address)
        page, press = seen.page, seen.page.keyboard.press
        first, text = figures(seen), seen.state("text")

        # a body by the mouse: its strings stay, the figures are of before, nothing is computed while it is held
        blade, string = places(seen, "body.1"), places(seen, "string.1")
        held(seen, page.locator("#drawing path[data-item='body.1']").first, (0.0, -8.0))
        follows(seen, "body.1", blade)
        assert float(places(seen, "string.1")) == pytest.approx(float(string), abs=1e-6)
        of_before(seen, first)
        page.wait_for_timeout(900)
        assert words(seen) == OLD
        page.mouse.up()

        # at rest a draft: how far it is, and a way to end it
        says(seen, r", \d+ %")
        of_before(seen, first)
        page.get_by_role("button", name="Cancel").press("Enter")
        says(seen, f"^{OLD}$")
        page.wait_for_timeout(1500)
        assert words(seen) == OLD  # and it does not begin again by itself
        of_before(seen, first)

        # by the keyboard, and what is undone is there at once
        page.select_option("#item", "body.1")
        page.get_by_label("blade, top").first.focus()
        blade = places(seen, "body.1")
        press("Shift+ArrowUp")
        follows(seen, "body.1", blade)
        assert float(places(seen, "string.1")) == pytest.approx(float(string), abs=1e-6)
        press("Control+z")
        press("Control+z")
        page.wait_for_function("(text) => stringflux.state.text === text", arg=text)
        drafted(seen)
        assert figures(seen) == first

        # a string by the mouse: its S is estimated at once, and then computed
        held(seen, page.locator("#drawing [data-item='string.1'] .reach").first, (0.0, -14.0))
        follows(seen, "string.1", string)
        page.wait_for_function("() => document.querySelector('#strings td:nth-child(3)').textContent.includes('≈')")
        page.mouse.up()
        drafted(seen)
        assert float(figures(seen)[0][1]) < float(first[0][1])
        assert figures(seen)[1][0] == first[1][0]

        # a pin, and by a field another magnet: the differences beside, dimmed before
        page.get_by_role("button", name="Pin", exact=True).press("Enter")
        page.select_option("#item", "body.2")
        seen.field("body.2.charge", "0.8")
        assert page.locator(f"{TABLE}.dim").count() == 1
        drafted(seen)
        now, beside = page.locator(".pins tr", has_text="S, mV per m/s").locator("td").all_inner_texts()
        assert now == figures(seen)[0][1]
        assert re.fullmatch("−\\d\\.\\d\u202fdB", beside)
        assert words(seen).startswith("draft") or "%" in words(seen)
        same_as_the_command(seen, saved(seen, tmp_path))

        # finer on request: it is said, and can be ended
        seen.settled("pull", "draft")
        page.get_by_role("button", name="Compute finer").press("Enter")
        says(seen, r", \d+ %")
        page.get_by_role("button", name="Cancel").click()
        says(seen, "^draft$")
        assert seen.faults == []
        page.close()


def test_two_coils_side_by_side(browser: Browser, tmp_path: Path) -> None:
    with served(str(two_strings("side-by-side-six", tmp_path)), home=tmp_path) as address:
        seen = opened(browser, address)
        page, press = seen.page, seen.page.keyboard.press
        first, text = figures(seen), seen.state("text")

        # a pole of the other coil has no string of its own: they stay, and so do their gaps
        slug, string = places(seen, "pole.10"), places(seen, "string.2")
        page.select_option("#item", "pole.10")  # seen from the bridge it lies behind a screw
        held(seen, page.get_by_label("pole 10, height of the face").locator(".reach"), (0.0, 8.0))
        follows(seen, "pole.10", slug)
        of_before(seen, first)
        page.mouse.up()
        says(seen, r", \d+ %")
        assert [row[0] for row in figures(seen)] == [row[0] for row in first]

        # a screw is raised by keys under its string
        page.select_option("#item", "pole.4")
        screw = places(seen, "pole.4")
        page.get_by_label("pole 4, height of the face").first.focus()
        press("Shift+ArrowUp")
        follows(seen, "pole.4", screw)
        assert float(places(seen, "string.2")) == pytest.approx(float(string), abs=1e-6)
        assert float(figures(seen)[1][0].split()[0]) == pytest.approx(float(first[1][0].split()[0]) - 0.5, abs=0.011)

        # a wrong field changes nothing, a right one does
        page.select_option("#item", "string.1")
        before = seen.state("text")
        seen.field("string.1.gap", "2 parsec")
        assert "unit" in str(seen.state("says"))
        assert seen.state("text") == before
        seen.field("string.1.gap", "1/8 in")
        drafted(seen)
        same_as_the_command(seen, saved(seen, tmp_path))

        last = str(seen.state("text"))
        assert '"1/8 in"' in last
        for key, wanted in (("Control+z", text), ("Control+Shift+z", last)):  # to the last bit
            for _ in range(3):
                press(key)
            page.wait_for_function("(text) => stringflux.state.text === text", arg=wanted)

        # finer takes a while: how long is said where it is over two seconds
        drafted(seen)
        seen.settled("pull", "draft")
        page.get_by_role("button", name="Compute finer").press("Enter")
        says(seen, r"some \d+ (s|min) left")
        page.get_by_role("button", name="Cancel").click()
        says(seen, "^draft$")
        assert seen.faults == []
        page.close()
