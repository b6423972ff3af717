"""What was on the page is there again when the case is opened again."""

from __future__ import annotations

import os
import signal
import stat
from pathlib import Path

import pytest

from rigs.live import SHIPPED
from rigs.live_server import ask, serving, until
from stringflux.cases.live.serve.last_state import MOST, LastState

BENCH = next(f for f in SHIPPED if f.stem == "bench-single")
TEXT = BENCH.read_text(encoding="utf-8")
PINS = [{"name": "A", "text": TEXT}]


def test_written_and_read(tmp_path: Path) -> None:
    """One a case; nothing once the page shows the file again; for this person alone."""
    one, other = (LastState(case=c, folder=tmp_path / "live") for c in ("/a/x.toml", "/b/x.toml"))
    one.write("changed", PINS, "file")
    kept = one.read("file")
    assert kept is not None
    assert (kept["text"], kept["pins"]) == ("changed", PINS)
    assert other.read("file") is None
    assert stat.S_IMODE(one.path.stat().st_mode) & 0o077 == 0
    one.write("file", [], "file")
    assert list(one.folder.iterdir()) == []


def test_same_as_the_file_is_not_offered(tmp_path: Path) -> None:
    """What was saved meanwhile needs no offer."""
    one = LastState(case="x", folder=tmp_path)
    one.write("changed", [], "file")
    assert one.read("changed") is None


def test_the_oldest_go(tmp_path: Path) -> None:
    for n in range(MOST + 5):
        one = LastState(case=str(n), folder=tmp_path)
        one.write("changed", [], "file")
        os.utime(one.path, (n, n))
    LastState(case="0", folder=tmp_path).write("changed", [], "file")
    assert len(list(tmp_path.iterdir())) == MOST
    assert LastState(case="1", folder=tmp_path).read("file") is None
    assert LastState(case=str(MOST + 4), folder=tmp_path).read("file") is not None


@pytest.mark.parametrize("raw", [
    b"", b"{", b"[]", b"\xff", b'{"case": "x"}', b'{"case": "y", "text": "a", "when": "", "pins": []}',
    b'{"case": "x", "text": "\\ud800", "when": "", "pins": []}', b"[" * 100_000,
    b'{"case": "x", "text": "a", "when": "", "pins": 3}'])
def test_damaged_file(tmp_path: Path, raw: bytes) -> None:
    one = LastState(case="x", folder=tmp_path)
    one.path.write_bytes(raw)
    assert one.read("file") is None


@pytest.mark.slow
def test_offered_again(tmp_path: Path) -> None:
    """Kept by one program, even one that is killed, and offered by the next."""
    changed = TEXT.replace("2.5 mm", "2.4 mm")
    with serving(BENCH, tmp_path) as running, running.open() as page:
        assert "kept" not in until(page, "opened")
        ask(page, "keep", text=changed, pins=PINS)
        ask(page, "design", design=1, text=changed, edits=[])
        until(page, "design")  # requests of a page are done in turn
        running.process.send_signal(signal.SIGKILL)
    with serving(BENCH, tmp_path) as running, running.open() as page:
        kept = until(page, "opened")["kept"]
        assert (kept["text"], kept["pins"]) == (changed, PINS)


def test_nowhere_to_write(tmp_path: Path) -> None:
    """It is said once, and all else works."""
    nowhere = tmp_path / "file"
    nowhere.write_text("")
    with serving(BENCH, nowhere) as running, running.open() as page:
        ask(page, "keep", text="changed", pins=[])
        assert str(nowhere) in until(page, "unkept")["says"]
        ask(page, "keep", text="changed more", pins=[])
        ask(page, "design", design=1, text=TEXT, edits=[])
        assert until(page, "unkept", "design")["kind"] == "design"
