"""The coil's panel: knobs that turn, by keyboard, by mouse and typed, written into the design when they rest."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect

from rigs.live_page import Watched, chromium, served

SAID = "#panel-coil .small"


@pytest.fixture(scope="module")
def seen(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Watched]:
    with served("bench-single", home=tmp_path_factory.mktemp("home")) as address, chromium() as browser:
        seen = Watched.opened(browser, address)
        seen.page.click("#tab-coil")
        seen.page.wait_for_function("() => document.querySelector('#panel-coil .small').textContent.includes('Peak')")
        yield seen
        assert seen.faults == []


def written(page: Page, key: str) -> None:
    """Wait until the design says it."""
    page.wait_for_function("(key) => stringflux.state.text.includes(key)", arg=key)


def test_a_knob_turns_by_keyboard_and_is_written(seen: Watched) -> None:
    page, dial = seen.page, seen.page.get_by_role("slider", name="tone, rotation")
    before = page.locator(SAID).first.text_content() or ""
    dial.press("ArrowDown")
    expect(dial).to_have_attribute("aria-valuenow", "0.95")
    expect(page.locator(SAID).first).not_to_have_text(before)
    written(page, "tone_setting = 0.95")


def test_a_knob_is_dragged(seen: Watched) -> None:
    page, dial = seen.page, seen.page.get_by_role("slider", name="volume, rotation")
    dial.scroll_into_view_if_needed()
    box = dial.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y + 75, steps=3)
    expect(dial).to_have_attribute("aria-valuenow", "0.5")
    assert "volume_setting" not in str(seen.state("text"))  # not before it rests
    page.mouse.up()
    written(page, "volume_setting = 0.5")


def test_a_typed_rotation_that_is_none_changes_nothing(seen: Watched) -> None:
    typed = seen.page.get_by_label("tone, 0 to 1")
    typed.fill("2")
    typed.press("Tab")
    expect(typed).to_have_value("0.95")
    typed.fill("0")
    typed.press("Tab")
    written(seen.page, "tone_setting = 0")


def test_the_peak_that_the_page_reads_is_the_programs(seen: Watched) -> None:
    seen.settled("coil", "normal")
    loaded = seen.state("answers.coil.answer.loaded")
    assert isinstance(loaded, dict)
    said = seen.page.locator(SAID).first
    expect(said).to_contain_text(f"+{loaded['peak']:.1f}" if loaded["peak"] else "No peak")
    expect(said).to_contain_text(f"{abs(loaded['level']):.1f}")


def test_another_cable_is_typed_in_the_files_words(seen: Watched) -> None:
    cable = seen.page.get_by_label("cable", exact=True)
    cable.fill("9 m")
    cable.press("Tab")
    written(seen.page, 'cable_length = "9 m"')
