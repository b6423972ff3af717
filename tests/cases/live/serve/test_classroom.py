"""A class reads along: who may, what they see, and that the teacher's page goes first."""

from __future__ import annotations

import re
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import numpy as np
import pytest
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import ClientConnection

from rigs.live import SHIPPED
from rigs.live_server import Running, ask, head, serving, until
from stringflux.cases.live.serve.classroom import one_time_word, qr_path
from stringflux.cases.live.serve.run import check_host
from stringflux.geometry.errors import CaseError

ELSEWHERE = "127.0.0.3"  # an address of its own on this machine
CLASS = 30
TEXT = next(f for f in SHIPPED if f.stem == "baritone-six").read_text(encoding="utf-8")

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="127.0.0.3 is one of this machine on Linux alone")


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with serving("baritone-six", tmp_path_factory.mktemp("state"), "--class", "--host", ELSEWHERE) as running:
        yield running


def address(server: Running) -> str:
    found = re.search(r"For the class: (\S+)", server.printed)
    assert found is not None
    return found[1]


def test_said(server: Running) -> None:
    """The terminal has the address, its code and a caution; the teacher's page has them, too."""
    assert "Everyone in this network" in server.printed
    assert "█" in server.printed
    with server.open() as page:
        shown = until(page, "opened")["class"]
    assert shown["address"] == address(server)
    assert shown["qr"].startswith("M4 4h1v1h-1z")


def test_code_is_that_of_the_address() -> None:
    """The squares of a corner's finder pattern, 7 wide within a margin of 4, and a size of the standard."""
    path, size = qr_path("http://192.168.1.5:8080/bafotikulo3/")
    assert (size - 8 - 17) % 4 == 0
    assert all(f"M{4 + i} 4h1" in path and f"M4 {4 + i}h1" in path for i in range(7))
    assert "M11 4h1" not in path


def test_words() -> None:
    assert len({one_time_word() for _ in range(500)}) == 500


def test_who_may_come_in(server: Running) -> None:
    """The class's word opens the page; the teacher's does so on this machine alone; nothing else does."""
    word, host = address(server).split("/")[3], address(server).split("/")[2]
    assert server.get(f"/{word}/", Host=host)[0] == 200
    assert server.get(f"/{word}/", Host=f"example.org:{host.split(':')[1]}")[0] == 403
    assert server.get(f"/{server.token}/", Host=host)[0] == 404
    with pytest.raises((InvalidStatus, ConnectionClosed)), server.open(
            address(server), origin=f"http://{server.host}") as page:
        page.recv(timeout=5)


@pytest.mark.slow
def test_follows(server: Running) -> None:
    """A reader sees the opened design, then what the teacher does; may leave with a copy, and come back."""
    with server.open(address(server)) as reader:
        assert until(reader, "opened")["reader"] is True
        assert until(reader, "design")["text"] == TEXT
        with server.open() as teacher:
            moved(teacher, 5, "2.4 mm")
            seen = until(reader, "design")
            assert seen["design"] == 5
            assert '"2.4 mm"' in seen["text"]
            ask(teacher, "compute", design=5, text=seen["text"], topics=["winding"])
            assert until(reader, "winding")["design"] == 5
            ask(reader, "follow", on=False)
            ask(reader, "design", design=10**9, text=TEXT, edits=[{"path": "string.1.gap", "value": "3.3 mm"}])
            assert '"3.3 mm"' in until(reader, "design")["text"]
            moved(teacher, 6, "2.2 mm")
            ask(reader, "compute", design=10**9, text=TEXT, topics=["winding"])
            assert until(reader, "design", "winding")["kind"] == "winding"
            ask(reader, "follow", on=True)
            assert until(reader, "design")["design"] == 6


def test_refused_edits_are_the_teachers_own(server: Running) -> None:
    with server.open(address(server)) as reader, server.open() as teacher:
        until(reader, "design")
        ask(teacher, "design", design=7, text=TEXT, edits=[{"path": "string.1.gap", "value": "3 kg"}])
        assert "kg" in until(teacher, "design")["says"]
        moved(teacher, 8, "2.3 mm")
        assert until(reader, "design")["design"] == 8


def moved(page: ClientConnection, design: int, gap: str) -> float:
    """One edit there and back, s."""
    begun = time.perf_counter()
    ask(page, "design", design=design, text=TEXT, edits=[{"path": "string.3.gap", "value": gap}])
    while until(page, "design")["design"] != design:
        pass
    return time.perf_counter() - begun


def trips(server: Running, first: int, count: int = 60) -> float:
    """Median time of an edit of the teacher's, s."""
    with server.open() as teacher:
        until(teacher, "opened")
        return float(np.median([moved(teacher, first + n, f"{2 + n / 100:.2f} mm") for n in range(count)]))


def test_thirty_readers(server: Running) -> None:
    """Thirty readers follow what the teacher does, and the teacher's edits take less than twice as long."""
    alone = trips(server, 1000)
    heard: list[int] = []

    def listen(reader: ClientConnection) -> None:
        last = 0
        try:
            while last != 3059:
                found = head(reader.recv(timeout=20))
                last = found["design"] if found["kind"] == "design" else last
        except (TimeoutError, ConnectionClosed):
            pass
        heard.append(last)

    with ExitStack() as opened:
        readers = [opened.enter_context(server.open(address(server))) for _ in range(CLASS)]
        threads = [threading.Thread(target=listen, args=(r,)) for r in readers]
        for thread in threads:
            thread.start()
        together = trips(server, 3000)
        for thread in threads:
            thread.join()
    assert heard == [3059] * CLASS
    assert together < 2 * alone + 5e-3, (alone, together)


@pytest.mark.parametrize(("host", "lesson", "word"), [
    ("192.168.1.5", False, "--class"), (None, True, "--host"), ("0.0.0.0", True, "every address"),
    ("example.invalid", False, "--class"),
])
def test_has_to_be_asked_for(host: str | None, lesson: bool, word: str) -> None:
    with pytest.raises(CaseError, match=word):
        check_host(host, lesson)
    check_host("127.0.0.1", False)
    check_host(None, False)


def test_address_of_another_machine(tmp_path: Path) -> None:
    with pytest.raises(AssertionError, match=r"--host: received"), serving(
            "bench-single", tmp_path, "--class", "--host", "192.0.2.1"):
        pass
