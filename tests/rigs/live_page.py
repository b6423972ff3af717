"""A live page for the tests: the command in a process of its own, and Chromium before it."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from signal import SIGINT

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

CHROMIUM = next((path for name in ("chromium", "chromium-browser") if (path := shutil.which(name))), None)
HELD = """() => {
  const setter = Object.getOwnPropertyDescriptor(WebSocket.prototype, 'onmessage').set;
  let before = Promise.resolve();
  const frame = () => new Promise((then) => requestAnimationFrame(then));
  globalThis.hold = false;
  Object.defineProperty(WebSocket.prototype, 'onmessage', { set(hear) {
    setter.call(this, (event) => {
      before = before.then(async () => { hear(event); if (globalThis.hold) { await frame(); await frame(); } });
    });
  } });
}"""
"""The page hears one message after the other; with `hold`, the next one when the last one was drawn."""
ARGUMENTS = ["--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
             "--disable-component-update", "--disable-sync", "--mute-audio"]
SIZE = {"width": 1280, "height": 720}
PATIENCE = 120_000.0
"""ms for a figure on a machine that does much else."""


@contextmanager
def served(case: str, *words: str, home: Path) -> Iterator[str]:
    """The address of a page of that case; `home` is where it may keep things."""
    env = {**os.environ, "STRINGFLUX_STATE": str(home / "state"), "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    process = subprocess.Popen([sys.executable, "-m", "stringflux", "live", case, "--no-browser", *words], text=True,
                               stdout=subprocess.PIPE, stderr=subprocess.STDOUT, env=env)
    assert process.stdout is not None
    try:
        found = re.search(r"http://\S+", process.stdout.readline())
        assert found is not None
        yield found[0]
    finally:
        process.send_signal(SIGINT)
        process.communicate(timeout=20)


@contextmanager
def chromium() -> Iterator[Browser]:
    """The system's browser; a test without one is skipped."""
    if CHROMIUM is None:
        pytest.skip("there is no Chromium here: apt-get install chromium")
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield browser
        browser.close()


@dataclass(kw_only=True)
class Watched:
    """A page with its complaints, and what the tests do with it."""

    page: Page
    faults: list[str] = field(default_factory=list)

    @classmethod
    def opened(cls, browser: Browser, address: str, **options: object) -> Watched:
        """Open it and wait for the drawing."""
        seen = cls(page=browser.new_page(**{"viewport": SIZE, **options}))  # type: ignore[arg-type]
        seen.page.set_default_timeout(PATIENCE)
        seen.page.on("console", lambda m: seen.faults.append(f"{m.type}: {m.text}"))
        seen.page.on("pageerror", lambda e: seen.faults.append(str(e)))
        seen.page.add_init_script(f"({HELD})()")
        seen.page.goto(address)
        seen.page.wait_for_selector("#drawing .string")
        return seen

    def state(self, what: str) -> object:
        """A value of the page's state: "text", "answers.strings.quality"."""
        return self.page.evaluate(
            "(what) => what.split('.').reduce((node, key) => node?.[key], stringflux.state)", what)

    def drawn_one_by_one(self) -> None:
        """From now on every answer is drawn before the next one is heard, as on a machine that does nothing else."""
        self.page.evaluate("hold = true")

    def settled(self, topic: str = "pull", quality: str = "normal") -> None:
        """Wait until the figures of a topic are those of the design that is shown."""
        self.page.wait_for_function(
            "([topic, quality]) => { const { state } = stringflux; const a = state.answers[topic]; "
            "return !state.moving && !stringflux.pending() && a && a.design === state.design "
            "&& a.quality === quality; }",
            arg=[topic, quality])

    def field(self, path: str, value: str) -> None:
        """Type into the field of a key, and wait for what the program says of it."""
        entry = self.page.locator(f"[id='key-{path}']")
        entry.fill(value)
        entry.press("Enter")
        self.page.wait_for_function("() => !stringflux.pending()")

    def drag(self, selector: str, by: tuple[float, float], steps: int = 8) -> None:
        """Take hold of the middle of something, and move by mm of the drawing."""
        found = self.page.wait_for_function(  # a drawing that is renewed just then has none for a moment
            """(what) => { const box = [...document.querySelectorAll(what)].at(-1)?.getBoundingClientRect();
            return box && box.width + box.height > 0 && [box.x + box.width / 2, box.y + box.height / 2,
              document.querySelector('#drawing svg').getScreenCTM().a]; }""", arg=selector)
        x, y, scale = found.json_value()
        mouse = self.page.mouse
        mouse.move(x, y)
        mouse.down()
        for i in range(1, steps + 1):
            mouse.move(x + by[0] * scale * i / steps, y - by[1] * scale * i / steps)
        mouse.up()
