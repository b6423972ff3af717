"""A newcomer's ten minutes with the live page, as docs/live.md lists them, by mouse and keyboard in Chromium."""

from __future__ import annotations

import math
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Locator

from rigs.live_page import Watched, chromium, served

HIGHEST = 2.0
"""mm that pole 6 may be raised."""
STEP = 0.5
"""mm by Shift and an arrow."""


def cells(seen: Watched, string: int) -> dict[str, str]:
    """A row of the table of strings as it is read: its cells by the heads over them."""
    heads = seen.page.locator("#strings thead th").all_inner_texts()[1:]
    return dict(zip(heads, seen.page.locator("#strings tbody tr").nth(string - 1).locator("td").all_inner_texts(),
                    strict=True))


def number(cell: str) -> float:
    """The number of a cell, without its unit."""
    found = re.search(r"[+−]?\d+(\.\d+)?", cell)
    assert found is not None, cell
    return float(found[0].replace("−", "-"))


def compared(seen: Watched, figure: str) -> list[Locator]:
    """A figure as it is now, and beside it the difference to the pin."""
    return seen.page.locator(".pins tbody tr", has_text=figure).locator("td").all()


def handed(seen: Watched, act: Any, folder: Path) -> Path:
    """The file that the page hands over after an act."""
    with seen.page.expect_download() as waiting:
        act()
    path: Path = folder / waiting.value.suggested_filename
    waiting.value.save_as(path)
    return path


def test_ten_minutes(tmp_path: Path) -> None:
    with served("baritone-six", home=tmp_path) as address, chromium() as browser:
        seen = Watched.opened(browser, address)
        page, press = seen.page, seen.page.keyboard.press
        seen.settled()
        first = cells(seen, 3)

        page.locator("#strings tbody tr").nth(2).get_by_role("button").click()
        press("p")
        page.wait_for_function("() => !document.querySelector('#silence').disabled")  # it sounds
        press("p")  # by the keyboard once more: the focus has stayed
        assert page.locator("#says").inner_text() == ""

        seen.drag("[data-item='string.3'] circle", (0.0, -0.6))
        seen.settled()
        second = cells(seen, 3)
        assert number(second["gap"]) == pytest.approx(number(first["gap"]) - 0.6, abs=0.05)
        assert number(second["S, mV per m/s"]) > number(first["S, mV per m/s"])
        assert number(second["equal pluck force"]) > number(first["equal pluck force"])
        assert number(second["level"]) > number(first["level"])

        page.locator("#drawing [data-item='pole.6']").first.click()
        knob = page.get_by_label("pole 6, height of the face")
        knob.focus()
        place = page.locator("[data-item='string.6'] circle").first
        lies = float(place.get_attribute("cy") or "nan")
        begun = away(seen)
        seen.drag(".knob[aria-label='pole 6, height of the face'] .reach", (0.0, 0.4))
        page.wait_for_function("() => !stringflux.pending()")
        seen.settled("strings", "draft")
        raised = float(knob.get_attribute("aria-valuenow") or "nan") - 1.5
        assert raised == pytest.approx(0.4, abs=0.05)
        while away(seen) < 0 and raised + STEP <= HIGHEST:
            press("Shift+ArrowUp")
            raised += STEP
            page.wait_for_function("(v) => document.activeElement.getAttribute('aria-valuenow') === v",
                                   arg=f"{1.5 + raised:.3f}")
            page.wait_for_function("() => stringflux.state.answers.strings.design === stringflux.state.design")
            page.wait_for_timeout(100)  # drawn
        seen.settled()
        assert float(place.get_attribute("cy") or "nan") == pytest.approx(lies, abs=1e-3)  # the string stays
        assert number(cells(seen, 6)["gap"]) == pytest.approx(2.5 - raised, abs=0.01)
        assert abs(away(seen)) < 0.7 < abs(begun)

        page.get_by_role("button", name="Pin", exact=True).click()
        page.wait_for_selector(".pins tbody td")
        assert compared(seen, "equal pluck force")[1].inner_text() == "equal"  # a pin of what is seen

        material = page.get_by_label("material", exact=True)
        material.fill("alnico-2")
        press("Enter")
        page.wait_for_function("() => !stringflux.pending()")
        seen.settled()

        now, beside = compared(seen, "S, mV per m/s")
        assert number(now.inner_text()) == (weaker := number(cells(seen, 3)["S, mV per m/s"]))
        assert beside.inner_text().endswith("dB")
        then = number((beside.get_attribute("title") or "").partition(": ")[2])
        assert number(beside.inner_text()) == pytest.approx(20 * math.log10(weaker / then), abs=0.1)
        assert weaker < then
        now, beside = compared(seen, "field at string, mT")
        assert re.fullmatch("−\\d+(\\.\\d+)? %", beside.inner_text())

        case = handed(seen, lambda: press("Control+s"), tmp_path)
        text = case.read_text(encoding="utf-8")
        assert tomllib.loads(text)["pole"][0]["part"][0]["material"] == "alnico-2"
        assert "# over all, half-circle ends included" in text  # the remarks are the person's own

        page.locator("#papers summary").press("Enter")
        paper = page.get_by_role("button", name="Report")
        report = handed(seen, lambda: paper.press("Enter"), tmp_path).read_text(encoding="utf-8")
        assert report.lower().startswith("<!doctype html>")
        assert "Six-string baritone, alnico rods" in report
        assert f"{weaker:.3g}" in report
        assert "alnico-2" in report
        assert seen.faults == []


def away(seen: Watched) -> float:
    """How much louder string 6 is than string 5 when both are plucked with the same force, dB."""
    return number(cells(seen, 6)["equal pluck force"]) - number(cells(seen, 5)["equal pluck force"])
