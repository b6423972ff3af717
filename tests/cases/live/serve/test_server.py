"""The server as a real process: who may come in, what it bears, how it ends."""

from __future__ import annotations

import json
import os
import random
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from websockets.exceptions import ConnectionClosed, InvalidStatus

from rigs.live import SHIPPED
from rigs.live_server import Running, ask, head, serving, until

from .test_requests import damaged

BENCH = next(f for f in SHIPPED if f.stem == "bench-single")
TEXT = BENCH.read_text(encoding="utf-8")
FLOOD = 20_000
GROWTH = 30.0  # MB that a flood may leave behind: buffers of a few messages of 1 MB
END = 2.0  # s

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="looks into /proc")


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with serving("bench-single", tmp_path_factory.mktemp("state")) as running:
        yield running


def test_the_server_loads_nothing_that_computes() -> None:
    """What opens the page is there soon, and the computing process sooner still, for it is the last to be there."""
    for module, without in (("pool", "numpy pydantic"), ("server", "scipy matplotlib skfem gmsh")):
        code = (f"import sys, stringflux.cases.live.serve.{module}; "
                f"print(*(name for name in {without.split()} if name in sys.modules))")
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
        assert done.stdout.strip() == ""


def test_page(server: Running) -> None:
    """The page is served with a strict policy, and nothing of it may be kept, framed or read elsewhere."""
    status, headers, body = server.get()
    assert status == 200
    assert b"main.js" in body
    policy = headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "*" not in policy
    assert f"connect-src 'self' ws://{server.host};" in policy
    assert headers["cache-control"] == "no-store"
    assert headers["x-content-type-options"] == "nosniff"
    assert not [h for h in headers if h.startswith("access-control") or h == "server"]


@pytest.mark.parametrize(("path", "method", "headers", "status"), [
    ("", "GET", {"Host": "example.org"}, 403),
    ("", "GET", {"Host": "127.0.0.1"}, 403),  # without the port
    ("", "GET", {"Origin": "http://example.org"}, 403),
    ("", "GET", {"Origin": "null"}, 403),
    ("", "POST", {}, 405), ("", "PUT", {}, 405), ("", "DELETE", {}, 405), ("", "OPTIONS", {}, 405),
    ("", "TRACE", {}, 405), ("", "BREW", {}, 405),
    ("/", "GET", {}, 404), ("/wrong/", "GET", {}, 404), ("//", "GET", {}, 404), ("/wrong/socket", "GET", {}, 404),
    ("../server.py", "GET", {}, 404), ("..%2fserver.py", "GET", {}, 404), ("%2e%2e/server.py", "GET", {}, 404),
    ("vendor/../../server.py", "GET", {}, 404), ("..%5cserver.py", "GET", {}, 404), ("//etc/passwd", "GET", {}, 404),
    ("%00", "GET", {}, 404), ("nothing.js", "GET", {}, 404), ("socket", "GET", {}, 404),
])
def test_refused(server: Running, path: str, method: str, headers: dict[str, str], status: int) -> None:
    found, sent, body = server.get(path, method, **headers)
    assert found == status
    assert "content-security-policy" in sent
    assert b"import" not in body
    assert server.get()[0] == 200


@pytest.mark.parametrize("options", [
    {"origin": "http://example.org"}, {"origin": None}, {"origin": "null"},
    {"additional_headers": {"Host": "example.org"}},
])
def test_socket_of_another_page(server: Running, options: dict[str, object]) -> None:
    with pytest.raises((InvalidStatus, ConnectionClosed, ValueError)), server.open(**options) as page:
        page.recv(timeout=5)


def test_socket_without_the_token(server: Running) -> None:
    with pytest.raises((InvalidStatus, ConnectionClosed)), server.open(f"http://{server.host}/wrong/") as page:
        page.recv(timeout=5)


def test_only_this_machine(server: Running) -> None:
    """It listens at 127.0.0.1 and nowhere else."""
    with pytest.raises(OSError, match="refused"):
        socket.create_connection(("127.0.0.2", int(server.host.split(":")[1])), timeout=2)


@pytest.mark.slow
def test_flood(server: Running) -> None:
    """20 000 broken, huge, reordered messages: sentences, no crash, no growth, and a new page is served at once."""
    rng = random.Random(2)
    said: set[str] = set()
    huge = json.dumps({"kind": "design", "design": 1, "text": "[[string]]\n" * 17_000 + "#" * 900_000})
    long = json.dumps({"kind": "design", "design": 1, "text": "[[string]]\n" * 17_000})
    with server.open() as page:
        for _ in range(20):  # so often that the allocator has what a design full of faults takes for a moment
            page.send(long)
        ask(page, "design", design=7, text=TEXT, edits=[])
        while until(page, "design")["design"] != 7:
            pass
    before, begun = server.memory(), time.monotonic()
    for part in range(4):
        with server.open() as page:
            for i in range(FLOOD // 4):
                if i % 2000 == 1999:
                    page.send(rng.choice([huge, long]))
                elif i % 50 == 49:
                    page.send(rng.randbytes(200))
                else:
                    page.send(damaged(rng))
            ask(page, "cancel")
            try:
                while True:
                    found = head(page.recv(timeout=0.3))
                    said.add(str(found.get("says", "")))
            except TimeoutError:
                pass
        assert server.process.poll() is None, part
    assert any("times a second" in s for s in said)
    assert all("\n" not in s for s in said)
    assert time.monotonic() - begun < 30.0
    assert server.memory() - before < GROWTH
    with server.open() as page:
        ask(page, "design", design=1, text=TEXT, edits=[])
        assert until(page, "design", seconds=10.0)["text"] == TEXT


def test_larger_than_any_message(server: Running) -> None:
    """What is larger than any design ends the socket, not the server."""
    with server.open() as page:
        until(page, "opened")
        with suppress(ConnectionClosed):  # it may end before all of it is gone
            page.send("x" * 3_000_000)
        with pytest.raises(ConnectionClosed):
            page.recv(timeout=10)
    assert server.get()[0] == 200


def test_newest_wins(server: Running) -> None:
    """Of forty designs asked for in a row few are computed, and the last one is."""
    with server.open() as page:
        for n in range(1, 41):
            ask(page, "compute", design=n, text=TEXT.replace("2.5 mm", f"{2 + n / 50:.2f} mm"), topics=["strings"])
        done = []
        while not done or done[-1] != 40:
            done.append(until(page, "done")["design"])
    assert len(done) < 20


def test_cancelled(server: Running) -> None:
    with server.open() as page:
        ask(page, "compute", design=1, text=TEXT.replace("4.8 mm", "4.9 mm"), topics=["strings", "maps", "coil"])
        ask(page, "cancel")
        assert until(page, "cancelled", "done")["kind"] == "cancelled"
        ask(page, "compute", design=2, text=TEXT, topics=["winding"])
        assert until(page, "done", "failed")["design"] == 2


def test_same_design_once_more(server: Running) -> None:
    """What another string asks of the same design does not cost the rest."""
    with server.open() as page:
        ask(page, "compute", design=3, text=TEXT.replace("4.8 mm", "4.7 mm"), topics=["strings", "hum"])
        ask(page, "compute", design=3, text=TEXT.replace("4.8 mm", "4.7 mm"), topics=["winding"])
        kinds = set()
        while "done" not in kinds:
            kinds.add(until(page, "strings", "hum", "winding", "done")["kind"])
    assert kinds == {"strings", "hum", "winding", "done"}


def test_worker_killed(server: Running) -> None:
    """A computing process that is killed in the middle is a sentence, and the next request has an answer."""
    with server.open() as page:
        ask(page, "compute", design=1, text=TEXT.replace("4.8 mm", "4.6 mm"), topics=["strings", "maps"])
        until(page, "progress", "strings")
        for pid in server.workers():
            os.kill(pid, signal.SIGKILL)
        assert "new one is there" in until(page, "crashed", seconds=10.0)["says"]
        ask(page, "compute", design=2, text=TEXT, topics=["winding"])
        assert until(page, "done")["design"] == 2
        assert len(server.workers()) == 1


@pytest.mark.slow
def test_idle(server: Running) -> None:
    """Nothing to do is nothing done: under 1 % of a core with a page open."""
    with server.open() as page:
        until(page, "opened")
        time.sleep(0.5)
        before = server.ticks()
        time.sleep(3.0)
        assert server.ticks() - before <= 3


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_told_to_end(tmp_path: Path, number: signal.Signals) -> None:
    """With a page open and a job running: gone within 2 s, all of it, with one line."""
    with serving("bench-single", tmp_path) as running, running.open() as page:
        ask(page, "compute", design=1, text=TEXT, topics=["strings", "maps"])
        workers = running.workers()
        begun = time.monotonic()
        running.process.send_signal(number)
        code = running.process.wait(10)
        assert time.monotonic() - begun < END
        assert code == 128 + number
        assert running.process.stdout is not None
        assert running.process.stdout.read() == "stringflux: stopped\n"
        assert workers
        assert not any(alive(pid) for pid in workers)


def test_killed(tmp_path: Path) -> None:
    """A killed server leaves no process behind."""
    with serving("bench-single", tmp_path) as running:
        workers = running.workers()
        running.process.kill()
        running.process.wait()
        end = time.monotonic() + END
        while any(alive(pid) for pid in workers) and time.monotonic() < end:
            time.sleep(0.05)
        assert workers
        assert not any(alive(pid) for pid in workers)


def alive(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False
