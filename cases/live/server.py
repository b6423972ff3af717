"""The page's server: this machine only, by a token, and nothing but the page and one socket.

The page asks in JSON, and is answered in frames (:mod:`.frames`) that name the request they belong to.
"""

from __future__ import annotations

import asyncio
import json
import secrets
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Mount, Route, WebSocketRoute
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from starlette.websockets import WebSocket, WebSocketDisconnect

from stringflux.geometry.errors import StringfluxError

from .design import Edit, edited, read_design
from .frames import frame
from .pool import Computer
from .scene import scene
from .worker import Job

PAGE = Path(__file__).with_name("page")
LONGEST = 1_200_000
"""Bytes of a message from the page."""
KINDS = ("design", "compute", "keep")


@dataclass(frozen=True, kw_only=True)
class Opened:
    """What the page opens with: the text of the case, its file's name, and where it may be served."""

    text: str
    name: str
    hosts: tuple[str, ...]
    token: str = field(default_factory=lambda: secrets.token_urlsafe(16))


class Guard:
    """Refuses every other host, and says what the page may do."""

    def __init__(self, app: ASGIApp, hosts: tuple[str, ...]) -> None:
        self.app, self.hosts = app, hosts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        headers = {k.decode("latin-1"): v.decode("latin-1") for k, v in scope["headers"]}
        host, origin = headers.get("host", ""), headers.get("origin")
        if host not in self.hosts or (origin is not None and origin.removeprefix("http://") not in self.hosts) or (
                scope["type"] == "websocket" and origin is None):
            if scope["type"] == "websocket":
                await send({"type": "websocket.close", "code": 1008})
            else:
                await PlainTextResponse("this address is not served here", 403)(scope, receive, send)
            return

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [*message["headers"], *_headers(host)]
            await send(message)

        await self.app(scope, receive, guarded)


def _headers(host: str) -> list[tuple[bytes, bytes]]:
    policy = ("default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
              f"connect-src 'self' ws://{host}; worker-src 'self'; base-uri 'none'; form-action 'none'; "
              "frame-ancestors 'self'")
    return [(b"content-security-policy", policy.encode()), (b"x-content-type-options", b"nosniff"),
            (b"referrer-policy", b"no-referrer"), (b"cache-control", b"no-store"),
            (b"cross-origin-opener-policy", b"same-origin"), (b"cross-origin-resource-policy", b"same-origin")]


class Live:
    """One running page."""

    def __init__(self, opened: Opened) -> None:
        self.opened, self.computer = opened, Computer()

    def app(self) -> Starlette:
        """The application."""

        @asynccontextmanager
        async def running(app: Starlette) -> AsyncIterator[None]:
            serving = asyncio.create_task(self.computer.serve())
            yield
            serving.cancel()
            with suppress(asyncio.CancelledError):
                await serving
            self.computer.stop()

        token = self.opened.token
        return Starlette(
            routes=[WebSocketRoute(f"/{token}/socket", self.socket), Route(f"/{token}", _slash),
                    Mount(f"/{token}", StaticFiles(directory=PAGE, html=True))],
            middleware=[Middleware(Guard, hosts=self.opened.hosts)], lifespan=running)

    async def socket(self, socket: WebSocket) -> None:
        """One page."""
        await socket.accept()
        await socket.send_bytes(frame({"kind": "opened", "text": self.opened.text, "name": self.opened.name}))
        try:
            while True:
                message = await socket.receive()
                if message["type"] == "websocket.disconnect":
                    return
                await self._asked(socket, message.get("text"))
        except WebSocketDisconnect:
            return

    async def _asked(self, socket: WebSocket, message: str | None) -> None:
        try:
            asked = _read(message)
        except ValueError as error:
            await socket.send_bytes(frame({"kind": "refused", "says": str(error)}))
            return
        if asked["kind"] == "design":
            await socket.send_bytes(await asyncio.to_thread(_design, asked))
        elif asked["kind"] == "compute":
            job = Job(number=0, text=asked["text"], quality=asked["quality"], topics=tuple(asked["topics"]),
                      string=asked["string"], swing=asked["swing"], name=str(asked.get("name", ""))[:200],
                      head={"design": asked["design"]})
            await self.computer.put(job, socket.send_bytes)


def _slash(request: Any) -> Response:
    return Response(status_code=307, headers={"location": f"{request.url.path}/"})


def _read(message: str | None) -> dict[str, Any]:
    """A request, checked: every key there and of its kind.

    Raises
    ------
    ValueError
    """
    if message is None or len(message) > LONGEST:
        raise ValueError("a request is one text of at most 1 MB")
    try:
        asked = json.loads(message)
    except (ValueError, RecursionError):
        raise ValueError("a request is JSON") from None
    if not isinstance(asked, dict) or asked.get("kind") not in KINDS:
        raise ValueError(f"a request has a kind: {', '.join(KINDS)}")
    wanted = {"design": int, "text": str} | ({"edits": list} if asked["kind"] == "design" else {})
    for key, of in wanted.items():
        if not isinstance(asked.get(key), of) or isinstance(asked.get(key), bool):
            raise ValueError(f"the request lacks {key}")
    from .answers import TOPICS

    asked.setdefault("quality", "draft")
    asked.setdefault("topics", [])
    asked.setdefault("string", 1)
    asked.setdefault("swing", 0.5e-3)
    if asked["quality"] not in ("draft", "normal") or not isinstance(asked["topics"], list) or any(
            t not in TOPICS for t in asked["topics"]) or not isinstance(asked["string"], int) or not isinstance(
            asked["swing"], int | float) or not 0 < asked["swing"] < 0.1:
        raise ValueError("the request names a quality, topics, a string or a swing that is none")
    return asked


def _design(asked: dict[str, Any]) -> bytes:
    """The edited text with its drawing, or the sentence that refuses it."""
    about = {"kind": "design", "design": asked["design"]}
    try:
        edits = [Edit(act=e.get("act", "set"), path=str(e.get("path", "")), value=e.get("value"))
                 for e in asked["edits"] if isinstance(e, dict)]
        text = edited(asked["text"], edits)
        return frame({**about, "text": text, "scene": scene(read_design(text), text)})
    except StringfluxError as error:
        return frame({**about, "says": str(error)})
