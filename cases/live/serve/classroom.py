"""A class: readers who see the teacher's page as it is, and may play with a copy of their own.

What the teacher's page is sent is sent on to all who follow, as it is, at most ten times a second. Copies are edited
and computed by two processes of their own, one job a reader in turn, which let the teacher's go first.
"""

from __future__ import annotations

import asyncio
import secrets
from dataclasses import dataclass, field
from typing import Any

from starlette.websockets import WebSocket

from ..hand.drawn import drawn
from .outbox import Page, refuse, talk
from .pool import Computer
from .requests import AskCancel, AskCompute, AskDesign, AskFollow, Request
from .worker import Job

READERS = 60
PACE = 0.1
"""s between two rounds of messages to a reader."""
LONGEST = 30.0
"""s that one job of a reader may take."""
_PRIVATE = ("opened", "refused", "design refused", "cancelled", "unkept", "failed", "crashed", "readers",
            "report", "sheet", "table", "figures")
_PASSING = ("progress", "done")


def one_time_word() -> str:
    """A word that can be said aloud and typed, one of 4e9; a new one for every start."""
    pairs = (secrets.choice("bdfgklmnprstvwz") + secrets.choice("aeiou") for _ in range(5))
    return "".join(pairs) + str(secrets.randbelow(9) + 1)


class Leading(Page):
    """A page of the teacher: what it is sent, those who follow are sent, too."""

    def __init__(self, socket: Any, classroom: Classroom) -> None:
        super().__init__(socket)
        self._classroom = classroom

    def post(self, kind: str, message: bytes) -> None:
        super().post(kind, message)
        if kind not in _PRIVATE:
            self._classroom.show(self, kind, message)


@dataclass
class Classroom:
    """Who reads, and what they see.

    Attributes
    ----------
    host : str
        Where the class reaches this machine, with the port: "192.168.1.5:8080".
    text, name : str
        Of the case that was opened.
    word : str
        Lets readers in.
    """

    host: str
    text: str
    name: str
    word: str = field(default_factory=one_time_word)
    readers: set[Page] = field(default_factory=set)

    def __post_init__(self) -> None:
        self._drawer = Computer(nice=5, longest=LONGEST)
        self._computer = Computer(nice=10, longest=LONGEST)
        self.computers = (self._drawer, self._computer)
        self._leader: Page | None = None
        self._teachers: set[Page] = set()
        self._stage: dict[str, bytes] = {}

    @property
    def address(self) -> str:
        """What the class opens."""
        return f"http://{self.host}/{self.word}/"

    def shown(self) -> dict[str, Any]:
        """What the teacher's page shows of the class: the address, its QR code as a path of `size` squares."""
        path, size = qr_path(self.address)
        return {"address": self.address, "qr": path, "size": size, "readers": len(self.readers)}

    def lead(self, socket: Any) -> Page:
        """A page of the teacher."""
        return Leading(socket, self)

    def show(self, page: Page, kind: str, message: bytes) -> None:
        """Hand on what a page of the teacher is sent; of several the one that changed the design last."""
        if kind == "design" and page is not self._leader:
            self._leader = page
            self._stage.clear()
        if page is not self._leader:
            return
        if kind not in _PASSING:
            self._stage[kind] = message
        for reader in self.readers:
            if reader.following:
                reader.post(kind, message)

    def count(self, page: Page, there: bool = True) -> None:
        """Tell a page of the teacher from now on how many read, or no more."""
        (self._teachers.add if there else self._teachers.discard)(page)

    async def read(self, socket: WebSocket) -> None:
        """A page of a reader."""
        page = Page(socket, pace=PACE)
        if len(self.readers) >= READERS:
            await refuse(socket, f"{READERS} pages read here already; more do not fit")
            return
        page.following = True
        self.readers.add(page)
        self._changed()
        try:
            await talk(socket, page, {"text": self.text, "name": self.name, "reader": True}, self._asked, self._begin)
        finally:
            self.readers.discard(page)
            self._changed()
            for computer in self.computers:
                computer.cancel(page)

    def _changed(self) -> None:
        for page in self._teachers:
            page.tell("readers", count=len(self.readers))

    async def _begin(self, page: Page) -> None:
        if "design" not in self._stage:
            message, _ = await asyncio.to_thread(drawn, 0, self.text, ())
            self._stage.setdefault("design", message)
        for kind, message in self._stage.items():
            page.post(kind, message)

    async def _asked(self, page: Page, asked: Request) -> None:
        if isinstance(asked, AskDesign):
            job = Job(text=asked.text, edits=asked.edits, head={"design": asked.design})
            self._drawer.put(job, page)
        elif isinstance(asked, AskCompute):
            self._computer.put(asked.job(), page)
        elif isinstance(asked, AskCancel):
            if self._computer.cancel(page):
                page.tell("cancelled")
        elif isinstance(asked, AskFollow):
            page.following = asked.on
            page.forget()
            if asked.on:
                self._computer.cancel(page)
                await self._begin(page)


def qr_path(address: str) -> tuple[str, int]:
    """An address as a QR code: an SVG path of dark squares, and how many squares a side has, its margin with it."""
    import segno

    rows = [list(row) for row in segno.make(address, micro=False).matrix_iter(border=4)]
    squares = (f"M{x} {y}h1v1h-1z" for y, row in enumerate(rows) for x, dark in enumerate(row) if dark)
    return "".join(squares), len(rows)


def qr_terminal(address: str) -> str:
    """The code in half blocks, for a terminal."""
    import io

    import segno

    out = io.StringIO()
    segno.make(address, micro=False).terminal(out=out, compact=True, border=2)
    return out.getvalue()
