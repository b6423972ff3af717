"""What computes for the page is killed in the middle, and the server: a sentence, and nothing is lost."""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path

import pytest

from rigs.live_page import Watched, chromium
from rigs.live_server import serving

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="looks into /proc")


def test_killed(tmp_path: Path) -> None:
    with chromium() as browser:
        with serving("bench-single", tmp_path) as running:
            seen = Watched.opened(browser, running.page)
            page = seen.page
            seen.settled("strings", "draft")
            page.select_option("#item", "pole.1")
            seen.field("pole.1.part.1.length", "17.5 mm")  # this has to be solved
            page.wait_for_function("() => stringflux.state.busy?.stage")
            for pid in running.workers():
                os.kill(pid, signal.SIGKILL)
            page.wait_for_function("() => document.querySelector('#says').textContent.includes('new one is there')")
            page.select_option("#item", "coil")
            seen.field("coil.turns", "4321")
            seen.settled("strings", "draft")  # the new one computes
            assert page.locator("#strings table.dim").count() == 0
            page.wait_for_timeout(2500)  # at rest it is kept

            text = str(seen.state("text"))
            seen.field("coil.turns", "4322")
            last = str(seen.state("text"))
            running.process.send_signal(signal.SIGKILL)
            page.wait_for_function("() => document.querySelector('#state').textContent.includes('not there')")
            assert seen.state("text") == last
            with page.expect_download() as waiting:  # what was not kept can be saved
                page.keyboard.press("Control+s")
            waiting.value.save_as(tmp_path / "saved.toml")
            assert (tmp_path / "saved.toml").read_text(encoding="utf-8") == last
            design = page.url.partition("#")[2]
            assert [f for f in seen.faults if "WebSocket" not in f and "ERR_CONNECTION" not in f] == []
            page.close()
        with serving("bench-single", tmp_path) as running:
            offered = Watched.opened(browser, running.page)
            offered.page.get_by_role("button", name="Go on where you left off").press("Enter")
            offered.page.wait_for_function("(text) => stringflux.state.text === text", arg=text)
            offered.page.close()
            sent = Watched.opened(browser, f"{running.page}#{design}")
            assert sent.state("text") in (text, last)
            sent.page.close()
            assert offered.faults + sent.faults == []
