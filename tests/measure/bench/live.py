"""How fast the live page is: its server's answers, and what a person sees of them in Chromium."""

from __future__ import annotations

import os
import statistics
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from playwright.sync_api import Page
from rich.console import Console
from rich.table import Table

from rigs.live_page import CHROMIUM, Watched, chromium
from rigs.live_server import Running, ask, serving, until

SIX = "baritone-six"
EDITS, STARTS = 60, 5
MOVES = [*range(-5, -17, -1), *range(5, 17)]
"""Pixels down from where the pointer took hold; no place twice, for what is known is not computed."""
FIRST = {"moved": "what is likely of its string", "estimate": "what is likely of all", "strings": "their draft"}
CHARGES = {"moved": 1.0, "estimate": 0.98, "strings": 0.96}
MAGNETS = ("alnico-2", "alnico-3", "alnico-8", "ceramic-8", "alnico-4", "alnico-5-7", "ceramic-5")
"""None twice with the same charge, for what is known is not computed."""
IDLE, SWING = 5.0, 3.0
"""s"""
CHOSEN = """([what, value]) => new Promise((done) => {
  const { state, edit } = stringflux;
  const since = performance.now();
  new MutationObserver((_, me) => {
    if (state.design === before || state.answers[what]?.design !== state.design) return;
    me.disconnect();
    done(performance.now() - since);
  }).observe(document.querySelector('#strings'), { childList: true, subtree: true });
  const before = state.design;
  edit({ path: 'pole.1.part.1.material', value });
})"""
WATCH = """([selector, what]) => {
  const seen = { times: [], moved: NaN };
  addEventListener('pointermove', () => { seen.moved = performance.now(); }, true);
  const { state } = stringflux;
  const is = what === 'drawing' ? () => state.design : () => state.answers[what]?.design;
  let last = is();
  new MutationObserver(() => {
    if (is() === last || (what !== 'drawing' && is() !== state.design)) return;
    last = is();
    seen.times.push(performance.now() - seen.moved);
  }).observe(document.querySelector(selector), { childList: true, subtree: true });
  globalThis.seen = seen;
}"""


def live_table() -> Table:
    """Everything, to print."""
    table = Table(title=f"the live page of {SIX}")
    table.add_column("")
    table.add_column("median", justify="right")
    table.add_column("95th", justify="right")
    table.add_column("target", justify="right")
    with tempfile.TemporaryDirectory() as folder:
        starts = [_start(Path(folder)) for _ in range(STARTS)]
        table.add_row("page ready after the command, ms", *_pair(starts), "1500")
        with serving(SIX, Path(folder)) as running:
            table.add_row("an edit, there and back over the socket, ms", *_pair(_edits(running)), "")
            if CHROMIUM is None:
                table.add_row("in the browser: no Chromium here", "", "", "")
            else:
                _in_browser(running, table)
    return table


def _pair(times: Sequence[float]) -> tuple[str, str]:
    return f"{statistics.median(times):.0f}", f"{statistics.quantiles(times, n=20, method='inclusive')[-1]:.0f}"


def _start(folder: Path) -> float:
    """ms from the command to the first message of the page's socket."""
    start = time.perf_counter()
    with serving(SIX, folder) as running, running.open() as socket:
        until(socket, "opened")
        return 1e3 * (time.perf_counter() - start)


def _edits(running: Running) -> list[float]:
    """ms of every edit of one string's gap, its drawing in the answer."""
    times = []
    with running.open() as socket:
        text = until(socket, "opened")["text"]
        for n in range(EDITS):
            start = time.perf_counter()
            ask(socket, "design", design=n + 1, text=text,
                edits=[{"act": "set", "path": "string.3.gap", "value": f"{2.0 + 0.01 * n:.2f} mm"}])
            assert not until(socket, "design").get("says")
            times.append(1e3 * (time.perf_counter() - start))
    return times


def _in_browser(running: Running, table: Table) -> None:
    with chromium() as browser:
        seen = Watched.opened(browser, running.page)
        seen.settled()
        drawn = seen.page.evaluate("performance.getEntriesByName('field picture').map((e) => e.duration)")
        table.add_row("pointer to redrawn drawing, string 3 dragged, ms",
                      *_pair(_dragged(seen, "string.3", "drawing")), "50")
        seen.page.locator("#drawing [data-item='pole.6']").first.click()
        for what, told in FIRST.items():
            table.add_row(f"pole 6 raised, pointer to {told}, ms", *_pair(_dragged(seen, "pole.6", what)),
                          "" if what == "strings" else "250")
        for what, told in FIRST.items():
            table.add_row(f"another magnet, to {told}, ms", *_pair(_magnets(seen.page, what)),
                          "" if what == "strings" else "250")
        table.add_row("field picture after its answer, ms", *_pair(drawn), "100")
        seen.settled()
        table.add_row("frames a second while a string swings", f"{_frames(seen.page):.0f}", "", "60")
        time.sleep(2.0)
        before = running.ticks()
        time.sleep(IDLE)
        busy = (running.ticks() - before) / os.sysconf("SC_CLK_TCK") / IDLE
        table.add_row("server at rest, a page open, % of a core", f"{100 * busy:.1f}", "", "0")
        seen.page.close()


def _dragged(seen: Watched, item: str, what: str) -> list[float]:
    """ms from each movement of the pointer, one at a time, until what it does is in the page."""
    page = seen.page
    at = f"#drawing [data-item='{item}']" + (" circle" if item.startswith("string") else "")
    # the last one that is drawn; asked at once, for the drawing may be made anew between two questions
    x, y = page.evaluate(
        "(at) => [...document.querySelectorAll(at)].map((node) => node.getBoundingClientRect())"
        ".filter((box) => box.width > 0).map((box) => [box.x + box.width / 2, box.y + box.height / 2]).at(-1)", at)
    page.evaluate(WATCH, ["#drawing" if what == "drawing" else "#strings", what])
    page.mouse.move(x, y)
    page.mouse.down()
    for n in range(1, 5):  # beyond what is no movement yet
        page.mouse.move(x, y - n)
    page.wait_for_timeout(1500)
    page.evaluate("seen.times.length = 0")
    for n, by in enumerate(MOVES):
        page.mouse.move(x, y + by)
        page.wait_for_function("(n) => seen.times.length > n", arg=n)
    page.mouse.up()
    times: list[float] = page.evaluate("seen.times")
    seen.settled()
    return times


def _magnets(page: Page, what: str) -> list[float]:
    """ms from the choice of each magnet for all poles until its strings are in the page."""
    times = []
    page.evaluate("(value) => stringflux.edit({ path: 'pole.1.part.1.charge', value })", CHARGES[what])
    for material in MAGNETS:
        page.wait_for_function("() => stringflux.state.answers.strings.design === stringflux.state.design")
        page.wait_for_timeout(100)
        times.append(page.evaluate(CHOSEN, [what, material]))
    return times


def _frames(page: Page) -> float:
    page.click("#swing")
    count: int = page.evaluate("""(ms) => new Promise((done) => {
        let count = 0;
        const end = performance.now() + ms;
        const next = (t) => { if (t >= end) done(count); else { count += 1; requestAnimationFrame(next); } };
        requestAnimationFrame(next);
    })""", 1e3 * SWING)
    page.click("#swing")
    return count / SWING


if __name__ == "__main__":
    Console(width=100).print(live_table())
