"""Who computes which design next: neighbours stay together, and nobody waits while there is work."""

from __future__ import annotations

from collections import deque
from collections.abc import Hashable, Iterable, Sequence

from .task import Task


class Shares:
    """A run of neighbouring designs for every worker; whoever is through takes half of the longest run left.

    Neighbours mostly differ in one field, so a worker finds what they share in its own memory.

    Parameters
    ----------
    tasks : sequence of Task
        May make a task when it is asked for; it is not asked before.
    places : iterable of int
        Which of them are to be computed.
    """

    def __init__(self, tasks: Sequence[Task], places: Iterable[int]) -> None:
        self._tasks = tasks
        self._runs: dict[Hashable, deque[int | Task]] = {None: deque(places)}

    def deal(self, workers: Sequence[Hashable]) -> None:
        """Give every worker there is at the start its run; others may come."""
        if not workers:
            return
        left = [item for run in self._runs.values() for item in run]
        ends = [len(left) * i // len(workers) for i in range(len(workers) + 1)]
        self._runs = {worker: deque(left[a:b]) for worker, a, b in zip(workers, ends, ends[1:], strict=False)}

    def take(self, worker: Hashable) -> Task | None:
        """The worker's next design, or None if none is left."""
        run = self._runs.setdefault(worker, deque())
        if not run:
            longest = max(self._runs.values(), key=len)
            for _ in range((len(longest) + 1) // 2):
                run.appendleft(longest.pop())
        if not run:
            return None
        item = run.popleft()
        return self._tasks[item] if isinstance(item, int) else item

    def give_back(self, worker: Hashable, tasks: Iterable[Task]) -> None:
        """Put designs that a lost worker had in hand first in its run."""
        self._runs.setdefault(worker, deque()).extendleft(reversed(list(tasks)))

    def __len__(self) -> int:
        """Designs nobody has taken."""
        return sum(map(len, self._runs.values()))
