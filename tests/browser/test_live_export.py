"""The exported page in Chromium: from a file, without the program."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from rigs.live_page import Watched, chromium
from stringflux.cases import load_case, solve
from stringflux.cases.files.load import shipped_cases
from stringflux.cases.live.export import LARGEST, exported
from stringflux.cases.live.hand.design import read_design


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as found:
        yield found


def test_strings_move_on_the_tables_that_the_page_carries(browser: Browser, tmp_path: Path) -> None:
    pickup = solve(load_case("bench-single"), quality="draft")
    text = shipped_cases()["bench-single"].read_text(encoding="utf-8")
    path = tmp_path / "page.html"
    path.write_text(exported(pickup, text, "bench-single.toml", lambda stage, share: None), encoding="utf-8")
    assert path.stat().st_size < LARGEST
    seen = Watched.opened(browser, path.as_uri())
    asked: list[str] = []
    seen.page.on("request", lambda r: asked.append(r.url))

    def told() -> float:
        return float(seen.page.locator("#strings tbody td").nth(1).inner_text().removeprefix("≈ "))

    seen.settled("strings", "draft")
    assert told() == pytest.approx(1e3 * pickup.prediction().strings[0].sensitivity, rel=3e-3)
    seen.field("string.1.gap", "3/32 in")
    for changes in ({"string.1.gap": "3/32 in"}, {"string.1.gap": "3/32 in", "coil.turns": 4000}):
        if "coil.turns" in changes:
            seen.page.select_option("#item", "coil")
            seen.field("coil.turns", "4000")
        seen.page.wait_for_timeout(300)
        wanted = pickup.with_(changes).prediction().strings[0]
        assert told() == pytest.approx(1e3 * wanted.sensitivity, rel=6e-3)  # 0.05 dB
    moved = read_design(str(seen.state("text")))
    assert (moved.string[0].gap, moved.coil.turns) == (pytest.approx(25.4e-3 * 3 / 32), 4000)
    before = seen.state("text")
    seen.field("coil.wire", "44 AWG")
    assert "stringflux live" in str(seen.state("says"))
    assert seen.state("text") == before
    seen.page.click("#undo")
    seen.page.click("#undo")
    seen.page.wait_for_function("(text) => stringflux.state.text === text", arg=text)
    seen.settled("strings", "draft")
    seen.page.locator("#tab-space").click()
    seen.page.wait_for_timeout(1500)
    assert "drag or arrows turn" in seen.page.locator("#space-says").inner_text()
    assert [fault for fault in seen.faults if "GPU stall" not in fault and "GL Driver" not in fault] == []
    assert [url for url in asked if not url.startswith(("blob:", "data:"))] == []
    seen.page.close()
