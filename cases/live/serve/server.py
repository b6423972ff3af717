"""The page's server: by a token, and nothing but the page and one socket.

The page asks in JSON (:mod:`.requests`), and is answered in frames (:mod:`..frames`) that name the request they
belong to. In a class there are readers, too (:mod:`.classroom`).
"""

from __future__ import annotations

import asyncio
import secrets
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.responses import Response
from starlette.routing import Mount, Route, WebSocketRoute
from starlette.staticfiles import StaticFiles
from starlette.websockets import WebSocket

from ..hand.drawn import drawn
from .classroom import Classroom
from .guard import Guard
from .last_state import LastState
from .outbox import Page, refuse, talk
from .pool import NOBODY, Computer
from .requests import AskCancel, AskCompute, AskDesign, AskKeep, Request
from .worker import Job

PAGE = Path(__file__).parents[1] / "page"
PAGES = 8
"""Pages of the teacher that may be open at once."""


@dataclass(frozen=True, kw_only=True)
class Opened:
    """What the page opens with: the text of the case, its file's name, and where it may be served.

    Attributes
    ----------
    text, name : str
    hosts : tuple of str
        Values of `Host` of this machine itself.
    last : LastState or None
        Where the page's state is kept.
    framed : bool
        Whether other pages of this machine may show it in a frame.
    token : str
    """

    text: str
    name: str
    hosts: tuple[str, ...]
    last: LastState | None = None
    framed: bool = False
    token: str = field(default_factory=lambda: secrets.token_urlsafe(16))


class Live:
    """One running page.

    Parameters
    ----------
    opened : Opened
    computer : Computer
        Started already: it loads while the server does.
    classroom : Classroom or None
    """

    def __init__(self, opened: Opened, computer: Computer, classroom: Classroom | None = None) -> None:
        self.opened, self.computer, self.classroom = opened, computer, classroom
        self._pages = 0
        self._keeping = asyncio.Lock()
        self._kept_as: tuple[Any, ...] | None = None
        self._unkept = False

    def app(self) -> Starlette:
        """The application."""

        @asynccontextmanager
        async def running(app: Starlette) -> AsyncIterator[None]:
            computers = [self.computer, *(self.classroom.computers if self.classroom else ())]
            for computer in computers:
                computer.listen()
            self.computer.put(Job(text=self.opened.text, topics=("strings",)), NOBODY)  # it loads
            yield
            for computer in computers:
                computer.stop()

        words = {self.opened.token: self.opened.hosts}
        routes: list[Any] = [WebSocketRoute(f"/{self.opened.token}/socket", self.teach)]
        if self.classroom is not None:
            words[self.classroom.word] = (self.classroom.host, *self.opened.hosts)
            routes.append(WebSocketRoute(f"/{self.classroom.word}/socket", self.classroom.read))
        files = StaticFiles(directory=PAGE, html=True)
        routes += [route for word in words for route in (Route(f"/{word}", _slash), Mount(f"/{word}", files))]
        guard = Middleware(Guard, hosts=words, framed=self.opened.framed)
        return Starlette(routes=routes, middleware=[guard], lifespan=running)

    async def teach(self, socket: WebSocket) -> None:
        """A page of the teacher, or of a person alone."""
        if self._pages >= PAGES:
            await refuse(socket, f"{PAGES} pages of this design are open already; close one of them")
            return
        page = self.classroom.lead(socket) if self.classroom else Page(socket)
        self._pages += 1
        try:
            if self.classroom is not None:
                self.classroom.count(page)
            await talk(socket, page, self._greeting(), self._asked)
        finally:
            self._pages -= 1
            self.computer.cancel(page)
            if self.classroom is not None:
                self.classroom.count(page, False)

    def _greeting(self) -> dict[str, Any]:
        kept = self.opened.last.read(self.opened.text) if self.opened.last else None
        return ({"text": self.opened.text, "name": self.opened.name} | ({"kept": kept} if kept else {})
                | ({"class": self.classroom.shown()} if self.classroom else {}))

    async def _asked(self, page: Page, asked: Request) -> None:
        if isinstance(asked, AskDesign):
            message, good = await asyncio.to_thread(drawn, asked.design, asked.text, asked.edits)
            page.post("design" if good else "design refused", message)
        elif isinstance(asked, AskCompute):
            self.computer.put(asked.job(), page)
        elif isinstance(asked, AskCancel):
            if self.computer.cancel(page):
                page.tell("cancelled")
        elif isinstance(asked, AskKeep):
            await self._keep(page, asked)

    async def _keep(self, page: Page, asked: AskKeep) -> None:
        """Keep the state; where that cannot be it is said once, and nothing else happens."""
        last = self.opened.last
        state = (asked.text, *((p["name"], p["text"]) for p in asked.pins))
        if last is None or self._unkept:
            return
        async with self._keeping:
            if state == self._kept_as:
                return
            try:
                await asyncio.to_thread(last.write, asked.text, asked.pins, self.opened.text)
                self._kept_as = state
            except OSError as error:
                self._unkept = True
                page.tell("unkept", says=f"the state of this page is not kept for the next time: {last.folder} "
                          f"cannot be written ({error.strerror or error}); save the design before you close it")


def _slash(request: Any) -> Response:
    return Response(status_code=307, headers={"location": f"{request.url.path}/"})
