"""A string swings in the page: by a button, by its phase, and the drawing with it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect

from rigs.live_page import Watched, chromium, served

SECONDS = 30_000  # ms that a loaded machine may take for a draft


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    """The live page of one string over one rod, with its loops computed."""
    with served("bench-single", home=tmp_path_factory.mktemp("home")) as address, chromium() as browser:
        seen = Watched.opened(browser, address)
        computed(seen.page)
        yield seen.page
        assert seen.faults == []


def computed(page: Page) -> None:
    page.wait_for_function("() => /wide/.test(document.querySelector('#panel-flux')?.textContent)", timeout=SECONDS)


def height(page: Page) -> float:
    """How far up the string is drawn of its place, mm."""
    moved = page.locator(".string[data-item='string.1']").get_attribute("transform") or "translate(0 0)"
    return -float(moved.rpartition(" ")[2].rstrip(")"))


def test_a_phase_puts_string_and_figures_there(page: Page) -> None:
    phase = page.get_by_label("phase of the swing")
    phase.fill("90")
    expect(page.locator("#panel-flux .figures")).to_contain_text("z +0.50 mm")
    page.wait_for_function("() => document.querySelector('.string[transform]')")
    assert height(page) == pytest.approx(0.5, abs=1e-6)
    phase.press("ArrowLeft")
    expect(page.locator("#panel-flux .figures")).to_contain_text("z +0.50 mm")


def test_it_swings_and_stops_by_the_keyboard(page: Page) -> None:
    swing = page.locator("#swing")
    swing.press("Enter")
    expect(swing).to_have_text("Stop")
    page.wait_for_function("() => document.querySelector('.string[transform]')")
    seen = set()
    for _ in range(5):
        page.wait_for_timeout(60)
        seen.add(height(page))
    assert len(seen) > 2
    assert all(abs(z) <= 0.5 + 1e-6 for z in seen)
    swing.press("Enter")
    page.wait_for_function("() => !document.querySelector('.string[transform]')")


def test_an_amplitude_without_room_is_the_largest_there_is(page: Page) -> None:
    amplitude = page.get_by_label("amplitude, mm")
    amplitude.fill("9")
    amplitude.press("Enter")
    expect(amplitude).to_have_value("1")


def test_a_string_is_plucked_and_silenced_by_the_keyboard(page: Page) -> None:
    page.locator("#pluck").press("1")
    expect(page.locator("#silence")).to_be_enabled(timeout=SECONDS)  # it is computed first
    page.locator("#silence").click()
    expect(page.locator("#silence")).to_be_disabled()
    page.locator("#pluck").press("p")
    expect(page.locator("#silence")).to_be_enabled(timeout=1000)  # now at once


def test_a_digit_in_a_field_plucks_nothing(page: Page) -> None:
    page.locator("#silence").click()
    page.get_by_label("amplitude, mm").press("1")
    page.wait_for_timeout(200)
    expect(page.locator("#silence")).to_be_disabled()


def test_a_moved_string_is_estimated_at_once_and_then_computed(page: Page) -> None:
    S = page.locator("#strings tbody td").nth(1)
    before = S.text_content() or ""
    gap = page.locator("[id='key-string.1.gap']")
    gap.fill("2 mm")
    gap.press("Enter")
    expect(S).not_to_have_text(before)
    about = float((S.text_content() or "").lstrip("≈ "))
    page.wait_for_function("() => !document.querySelector('#strings td:nth-child(3)').textContent.includes('≈')",
                           timeout=SECONDS)
    assert float(S.text_content() or "") == pytest.approx(about, rel=0.012)  # 0.05 dB, and the printed digit
    assert float(S.text_content() or "") > float(before)


def test_who_wants_no_motion_has_the_phase(page: Page) -> None:
    page.emulate_media(reduced_motion="reduce")
    page.reload()
    computed(page)
    expect(page.locator("#swing")).to_be_hidden()
    expect(page.get_by_label("phase of the swing")).to_be_visible()
