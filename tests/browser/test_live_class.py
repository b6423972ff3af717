"""A class in Chromium: a reader follows the teacher, plays with a copy, follows again; what was left is kept."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from rigs.live_page import Watched, chromium, served


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as found:
        yield found


def test_a_class_follows_plays_and_follows_again_and_the_state_is_kept(browser: Browser, tmp_path: Path) -> None:
    with served("bench-single", "--host", "127.0.0.1", "--class", home=tmp_path) as address:
        teacher = Watched.opened(browser, address)
        inside = teacher.page.locator("#class")
        inside.locator("summary").click()
        reads = inside.locator("p").inner_text()
        assert inside.locator("svg.qr").is_visible()
        inside.locator("summary").click()
        reader = Watched.opened(browser, reads)
        teacher.page.wait_for_function("() => document.querySelector('#readers').textContent === '1 reader'")

        teacher.field("string.1.gap", "3 mm")
        reader.page.wait_for_function("() => stringflux.state.text.includes('\"3 mm\"')")
        teacher.settled("strings", "draft")
        reader.settled("strings", "draft")
        assert reader.state("answers.strings.answer.strings.0.sensitivity") == teacher.state(
            "answers.strings.answer.strings.0.sensitivity")

        reader.field("string.1.gap", "2 mm")
        reader.settled("strings", "draft")
        assert '"3 mm"' in str(teacher.state("text"))
        reader.page.get_by_role("button", name="Follow the class").click()
        reader.page.wait_for_function("() => stringflux.state.text.includes('\"3 mm\"')")

        teacher.page.click("#pin")
        teacher.page.wait_for_timeout(2500)  # at rest it is kept
        faults = teacher.faults + reader.faults
        teacher.page.close()
        reader.page.close()
    assert faults == []
    with served("bench-single", home=tmp_path) as address:
        again = Watched.opened(browser, address)
        assert '"3 mm"' not in str(again.state("text"))
        again.page.get_by_role("button", name="Go on where you left off").click()
        again.page.wait_for_function("() => stringflux.state.text.includes('\"3 mm\"')")
        assert [pin["name"] for pin in again.state("pins")] == ["A"]  # type: ignore[attr-defined]
        assert again.faults == []
        again.page.close()
