"""The computing process seen from the server: the newest job wins, the others are dropped, a crash is mended."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from contextlib import suppress
from dataclasses import replace
from multiprocessing import get_context
from typing import Any

from ..ending import deaf
from .worker import Job, work

Told = Callable[[bytes], Awaitable[None]]
CRASHED = "the computing process ended by itself; a new one is there, change something or ask again"


class Computer:
    """One computing process and the job it is on.

    A job that is put in while another runs takes its place at that one's next step; jobs never queue.
    """

    def __init__(self) -> None:
        self._context = get_context("spawn")
        self._count = 0
        self._told: dict[int, Told] = {}
        self._start()

    def _start(self) -> None:
        self.newest = self._context.Value("q", 0, lock=False)
        self._ours, theirs = self._context.Pipe()
        self.process: Any = self._context.Process(target=work, args=(theirs, self.newest), daemon=True)
        with deaf():
            self.process.start()
        theirs.close()

    async def put(self, job: Job, told: Told) -> int:
        """Give it the newest job; what it says goes to `told`, message by message."""
        self._count += 1
        number = self._count
        self._told = {number: told}
        self.newest.value = number
        try:
            self._ours.send(replace(job, number=number))
        except OSError:
            await self._mend()
        return number

    def drop(self) -> None:
        """Nobody wants the running job any more."""
        self._count += 1
        self.newest.value = self._count
        self._told = {}

    async def serve(self) -> None:
        """Hand on what the process says, for as long as the server runs."""
        loop = asyncio.get_running_loop()
        while True:
            ready = asyncio.Event()
            try:
                fd = self._ours.fileno()
                loop.add_reader(fd, ready.set)
                try:
                    await ready.wait()
                finally:
                    loop.remove_reader(fd)
                while self._ours.poll():
                    number, message = self._ours.recv()
                    told = self._told.get(number)
                    if told is not None and message is not None:
                        with suppress(Exception):
                            await told(message)
            except (EOFError, OSError):
                await self._mend()

    async def _mend(self) -> None:
        """The process is gone: tell who waits, and start another."""
        from .frames import frame

        told, self._told = self._told, {}
        self.stop()
        self._start()
        for number, tell in told.items():
            with suppress(Exception):
                await tell(frame({"re": number, "kind": "crashed", "says": CRASHED}))

    def stop(self) -> None:
        """End the process."""
        self.process.kill()
        self.process.join(1.0)
        self._ours.close()
