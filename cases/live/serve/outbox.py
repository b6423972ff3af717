"""One page as the server sees it: what goes to it, and how often it may ask.

Of each kind of message only the newest waits: a page that reads slowly misses steps, and holds nobody up.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Awaitable, Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any, Protocol

from starlette.websockets import WebSocket, WebSocketDisconnect

from ..frames import frame
from .requests import Request, RequestError, read_request

PER_SECOND, BURST = 200.0, 400.0
"""Requests that a page may make: a hand makes some 60 a second."""


class Socket(Protocol):
    """Where bytes go."""

    async def send_bytes(self, data: bytes) -> None:
        """Send one message."""


@dataclass
class Rate:
    """A bucket of requests that fills by the clock."""

    per_second: float = PER_SECOND
    burst: float = BURST
    left: float = field(init=False)
    at: float = field(default_factory=time.monotonic)

    def __post_init__(self) -> None:
        self.left = self.burst

    def allows(self) -> bool:
        """Whether one more is within bounds."""
        now = time.monotonic()
        self.left, self.at = min(self.burst, self.left + (now - self.at) * self.per_second), now
        if self.left < 1:
            return False
        self.left -= 1
        return True


class Page:
    """One open page.

    Parameters
    ----------
    socket : Socket
    pace : float
        Least time between two rounds of messages, s.
    """

    def __init__(self, socket: Socket, pace: float = 0.0) -> None:
        self._socket, self._pace = socket, pace
        self._waiting: dict[str, bytes] = {}
        self._there = asyncio.Event()
        self.rate = Rate()
        self.following = False
        self._scolded = 0.0

    def post(self, kind: str, message: bytes) -> None:
        """Send a message in the place of one of its kind that still waits."""
        self._waiting.pop(kind, None)
        self._waiting[kind] = message
        self._there.set()

    def tell(self, kind: str, **content: Any) -> None:
        """Send a small message."""
        self.post(kind, frame({"kind": kind, **content}))

    def scold(self) -> None:
        """Say, once a second, that it asks too often."""
        now = time.monotonic()
        if now - self._scolded > 1.0:
            self._scolded = now
            self.tell("refused", says=f"the page asks more than {PER_SECOND:.0f} times a second; the rest was not "
                      "read")

    def forget(self) -> None:
        """Nothing that waits is wanted any more."""
        self._waiting.clear()

    async def send(self) -> None:
        """Send what is posted, for as long as the socket is open."""
        while True:
            await self._there.wait()
            self._there.clear()
            while self._waiting:
                kind = next(iter(self._waiting))
                await self._socket.send_bytes(self._waiting.pop(kind))
            if self._pace:
                await asyncio.sleep(self._pace)


Asked = Callable[[Page, Request], Awaitable[None]]


async def talk(socket: WebSocket, page: Page, greeting: Mapping[str, Any], asked: Asked,
               begin: Callable[[Page], Awaitable[None]] | None = None) -> None:
    """Greet a page, and hand on what it asks until it closes."""
    await socket.accept()
    page.tell("opened", **greeting)
    sending = asyncio.create_task(page.send())
    try:
        if begin is not None:
            await begin(page)
        while (message := await socket.receive())["type"] != "websocket.disconnect":
            if not page.rate.allows():
                page.scold()
                await asyncio.sleep(0)
                continue
            try:
                await asked(page, read_request(message.get("text")))
            except RequestError as error:
                kind = "refused" if error.about["kind"] == "refused" else "design refused"
                page.post(kind, frame({**error.about, "says": str(error)}))
    except (WebSocketDisconnect, RuntimeError):
        return  # it closed while it was written to
    finally:
        sending.cancel()
        with suppress(asyncio.CancelledError, WebSocketDisconnect, RuntimeError, OSError):
            await sending


async def refuse(socket: WebSocket, says: str) -> None:
    """Say why a page is not served, and close."""
    with suppress(WebSocketDisconnect, RuntimeError):
        await socket.accept()
        await socket.send_bytes(frame({"kind": "refused", "says": says}))
        await socket.close(1013)
