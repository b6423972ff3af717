"""A live page's server as a process of its own, and a page that speaks to it."""

from __future__ import annotations

import http.client
import json
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from websockets.sync.client import ClientConnection, connect


def head(message: bytes | str) -> dict[str, Any]:
    """The head of a frame."""
    assert isinstance(message, bytes)
    found: dict[str, Any] = json.loads(message[4:4 + int.from_bytes(message[:4], "little")])
    return found


class Running:
    """A running server."""

    def __init__(self, process: subprocess.Popen[str], page: str, printed: str) -> None:
        self.process, self.page, self.printed = process, page, printed
        self.host, self.token = re.fullmatch(r"http://([^/]+)/([^/]+)/", page).groups()  # type: ignore[union-attr]

    def get(self, path: str = "", method: str = "GET", **headers: str) -> tuple[int, dict[str, str], bytes]:
        """What a request of the page's address, or of an absolute path, gives."""
        at = http.client.HTTPConnection(self.host, timeout=10)
        try:
            at.putrequest(method, path if path.startswith("/") else f"/{self.token}/{path}", skip_host=True)
            for name, value in ({"Host": self.host} | headers).items():
                at.putheader(name, value)
            at.endheaders()
            answer = at.getresponse()
            return answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read()
        finally:
            at.close()

    def open(self, page: str = "", **options: Any) -> ClientConnection:
        """A page's socket, greeted already."""
        page = page or self.page
        host = page.split("/")[2]
        return connect(page.replace("http:", "ws:") + "socket", max_size=None, compression=None,
                       **({"origin": f"http://{host}"} | options))

    def workers(self) -> list[int]:
        """Processes that compute for it."""
        found = []
        for stat in Path("/proc").glob("[0-9]*/stat"):
            try:
                fields = stat.read_text().rpartition(")")[2].split()
                command = (stat.parent / "cmdline").read_bytes()
            except OSError:
                continue
            if int(fields[1]) == self.process.pid and b"spawn_main" in command and fields[0] != "Z":
                found.append(int(stat.parent.name))
        return found

    def memory(self) -> float:
        """Of the server's own process, MB."""
        pages = int(Path(f"/proc/{self.process.pid}/statm").read_text().split()[1])
        return pages * os.sysconf("SC_PAGE_SIZE") / 1e6

    def ticks(self) -> int:
        """CPU time of the server and its workers, in ticks."""
        total = 0
        for pid in (self.process.pid, *self.workers()):
            fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
            total += int(fields[11]) + int(fields[12])
        return total


@contextmanager
def serving(case: str | Path, state: Path, *options: str) -> Iterator[Running]:
    """A server of a case, whose states lie in a folder of their own."""
    command = [sys.executable, "-m", "stringflux", "live", str(case), "--no-browser", *options]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
                               env=os.environ | {"STRINGFLUX_STATE": str(state)}, start_new_session=True)
    assert process.stdout is not None
    printed = ""
    try:
        while "ends it" not in printed:
            line = process.stdout.readline()
            assert line, printed
            printed += line
        page = re.search(r"The page: (\S+)", printed)
        assert page is not None, printed
        yield Running(process, page[1], printed)
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGKILL)
        process.wait()
        process.stdout.close()


def until(socket: ClientConnection, *kinds: str, seconds: float = 60.0) -> dict[str, Any]:
    """The next message of one of the kinds."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        found = head(socket.recv(timeout=max(end - time.monotonic(), 0.01)))
        if found["kind"] in kinds:
            return found
    raise TimeoutError(kinds)


def ask(socket: ClientConnection, kind: str, **content: Any) -> None:
    """Send a request."""
    socket.send(json.dumps({"kind": kind, **content}))
