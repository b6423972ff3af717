"""The live page in Chromium: taken by mouse and by keyboard, its numbers those of the program."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser

from rigs.live_page import Watched, chromium, served

AXE = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as found:
        yield found


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("home")


@pytest.fixture(scope="module")
def address(home: Path) -> Iterator[str]:
    with served("bench-single", home=home) as found:
        yield found


@pytest.fixture
def seen(browser: Browser, address: str) -> Iterator[Watched]:
    page = Watched.opened(browser, address)
    yield page
    faults = list(page.faults)
    page.page.close()
    assert faults == []


def saved(seen: Watched, folder: Path) -> Path:
    """The design as the page saves it."""
    with seen.page.expect_download() as waiting:
        seen.page.click("#save")
    path = folder / waiting.value.suggested_filename
    waiting.value.save_as(path)
    return path


def predicted(path: Path) -> Any:
    done = subprocess.run([sys.executable, "-m", "stringflux", "predict", str(path), "--json"], capture_output=True,
                          text=True, check=True)
    return json.loads(done.stdout)["result"]


def test_a_string_is_dragged_and_the_numbers_are_the_programs(seen: Watched, tmp_path: Path) -> None:
    seen.settled()
    before = float(str(seen.state("answers.strings.answer.strings.0.sensitivity")))
    seen.drag("[data-item='string.1'] circle", (0.0, 1.0))
    seen.settled()
    *_, moved = re.findall(r'gap = "([\d.]+) mm"', str(seen.state("text")))  # the string's own, behind the common one
    path = saved(seen, tmp_path)
    assert "# " in path.read_text(encoding="utf-8")  # the remarks are there
    told = predicted(path)["strings"][0]
    assert float(moved) == pytest.approx(3.5, abs=0.05)
    assert told["gap"] == pytest.approx(1e-3 * float(moved), abs=1e-9)
    assert told["sensitivity"] < before
    cells = seen.page.locator("#strings tbody tr td").all_inner_texts()
    assert cells[1] == f"{1e3 * told['sensitivity']:#.3g}"
    assert cells[5] == f"{1e4 * told['bias'][2]:.0f} ({1e3 * told['bias'][2]:#.3g})"


def test_a_pole_in_the_hand_has_a_first_look_and_at_rest_the_figures(seen: Watched) -> None:
    seen.settled()
    page, before = seen.page, seen.state("answers.strings.design")
    cell = "document.querySelectorAll('#strings tbody td')[1]"
    page.evaluate(f"""() => {{ globalThis.looks = []; new MutationObserver(() => {{
        const {{ state }} = stringflux;
        if (state.answers.estimate?.design === state.design && state.answers.strings.design !== state.design)
          looks.push([state.design, {cell}.textContent]);
      }}).observe(document.querySelector('#strings'), {{ childList: true, subtree: true }}); }}""")
    seen.drawn_one_by_one()
    page.locator("#drawing [data-item='pole.1']").first.click()
    seen.drag("[data-item='pole.1']", (0.0, 0.4), steps=3)
    seen.settled()
    assert seen.state("answers.strings.design") != before
    looks = [look for design, look in page.evaluate("looks") if design == seen.state("design")]
    assert looks
    assert all(look.startswith("≈ ") for look in looks)
    last = page.evaluate(f"{cell}.textContent")
    assert last == f"{1e3 * float(str(seen.state('answers.strings.answer.strings.0.sensitivity'))):#.3g}"
    assert float(looks[-1][2:]) == pytest.approx(float(last), rel=0.03)


def test_arrow_keys_step_and_fields_speak_the_files_language(seen: Watched) -> None:
    seen.page.select_option("#item", "string.1")
    knob = seen.page.locator(".knob[aria-orientation='vertical']").first
    first = float(knob.get_attribute("aria-valuenow") or "nan")
    knob.focus()
    for key, by in (("ArrowUp", 0.05), ("Shift+ArrowUp", 0.5), ("ArrowDown", -0.05)):
        wanted = round(float(knob.get_attribute("aria-valuenow") or "nan") + by, 3)
        seen.page.keyboard.press(key)
        seen.page.wait_for_function("([v]) => document.querySelector(\".knob[aria-orientation='vertical']\")"
                                    ".getAttribute('aria-valuenow') === v", arg=[f"{wanted:.3f}"])
    assert float(knob.get_attribute("aria-valuenow") or "nan") == pytest.approx(first + 0.5)
    assert seen.page.evaluate("document.activeElement.dataset.handle") is not None  # and the focus has stayed
    text = seen.state("text")
    seen.field("string.1.gap", "3 parsec")
    assert "unit" in str(seen.state("says"))
    assert seen.state("text") == text
    seen.field("string.1.gap", "1/8 in")
    assert seen.state("says") == ""
    assert '"1/8 in"' in str(seen.state("text"))
    entry = seen.page.locator("[id='key-string.1.gap']")
    entry.press("Control+z")  # the step back, for nothing is being typed
    seen.page.wait_for_function("(text) => stringflux.state.text === text", arg=text)
    assert entry.evaluate("(n) => n === document.activeElement")
    entry.press("7")
    entry.press("Control+z")  # what is typed alone
    assert seen.state("text") == text


def test_a_hundred_steps_back_and_forth_are_bit_equal(seen: Watched) -> None:
    texts = [seen.state("text")]
    for i in range(100):
        made = [{"path": "coil.turns", "value": str(3000 + i)},
                {"path": "string.1.gap", "value": f"{2 + i / 100} mm"},
                {"path": "pole.1.part.1.material", "value": f"alnico-{2 + 3 * (i // 5 % 2)}"},
                {"path": "load.volume_setting", "value": f"{0.5 + i / 1000}"},
                {"act": "unset", "path": "string.1.gap"}][i % 5]
        assert seen.page.evaluate("(edit) => stringflux.edit(edit)", made), made
        texts.append(seen.state("text"))
    assert len(set(texts)) == 101
    press = seen.page.keyboard.press
    for key, wanted in (("Control+z", texts[-6]), ("Control+Shift+z", texts[-1])):
        for _ in range(5):
            press(key)  # faster than each is answered
        seen.page.wait_for_function("(text) => !stringflux.pending() && stringflux.state.text === text", arg=wanted)
    for way, wanted in ((-1, texts[-2::-1]), (1, texts[1:])):
        found = seen.page.evaluate(
            "async (way) => { const out = []; for (let i = 0; i < 100; i += 1) {"
            "await stringflux.step(way); out.push(stringflux.state.text); } return out; }", way)
        assert found == wanted


def test_pins_stay_beside_the_design(seen: Watched) -> None:
    seen.settled()
    seen.page.click("#pin")
    seen.page.wait_for_selector(".pins tbody td")
    assert {td.inner_text() for td in seen.page.locator(".pins tbody td:last-child").all()} == {"equal"}
    seen.page.select_option("#item", "coil")
    seen.field("coil.turns", "4000")
    seen.settled()
    row = seen.page.locator(".pins tr", has_text="S, mV per m/s").locator("td").all_inner_texts()
    assert row[1] == "−1.9\u202fdB"  # 4000 over 5000 turns
    seen.page.get_by_role("button", name="Go back to A").click()
    seen.settled()
    assert "turns = 5000" in str(seen.state("text"))


def test_papers_are_taken_along_by_the_keyboard(seen: Watched, tmp_path: Path) -> None:
    press = seen.page.keyboard.press
    seen.settled()
    seen.page.locator("#papers summary").focus()
    for key in ("ArrowDown", "ArrowUp", "End"):
        press(key)  # nothing is written by going over it
    press("Enter")
    press("Tab")
    assert seen.page.evaluate("document.activeElement.textContent") == "Report"
    press("Escape")
    assert seen.page.locator("#papers").get_attribute("open") is None
    press("Enter")
    press("Tab")
    press("Tab")
    with seen.page.expect_download() as waiting:
        press("Enter")
    path = tmp_path / "winding.html"
    waiting.value.save_as(path)
    assert "5000" in path.read_text(encoding="utf-8")


def test_a_view_without_a_field_leads_to_one(seen: Watched) -> None:
    seen.settled("fields")
    seen.page.click("#tab-above")
    there = seen.page.get_by_role("button", name="Show it along the strings")
    there.press("Enter")
    seen.page.wait_for_selector("#drawing image")
    assert seen.state("view") == "along"
    assert there.count() == 0


def test_the_address_holds_the_design(seen: Watched, browser: Browser) -> None:
    seen.page.select_option("#item", "coil")
    seen.field("coil.turns", "4321")
    seen.page.wait_for_timeout(800)
    other = Watched.opened(browser, seen.page.url)
    assert other.state("text") == seen.state("text")
    other.page.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_accessible(seen: Watched, scheme: Any) -> None:
    seen.page.emulate_media(color_scheme=scheme)
    seen.settled()
    seen.page.evaluate(AXE)
    found = seen.page.evaluate("axe.run().then((r) => r.violations.map((v) => v.id + ': ' + v.nodes[0].html))")
    assert found == []
