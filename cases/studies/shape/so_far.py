"""The best shape that a search has come by so far: told now and then, and kept when it is stopped."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from stringflux.geometry.arrays import Array

Progress = Callable[[str, float], None]
EVERY = 5.0  # s between words about it


class ShapeStopped(KeyboardInterrupt):
    """A search was stopped, by Ctrl-C say, and had come by a shape.

    Attributes
    ----------
    text : str
        The new case file.
    lengths : dict
        By name, whole steps, m; none of a profile.
    goals : dict
        What the shape comes to on the mesh of its round, before it has whole steps, SI.
    """

    def __init__(self, text: str, lengths: dict[str, float], goals: dict[str, float]) -> None:
        super().__init__("stopped")
        self.text, self.lengths, self.goals = text, lengths, goals


class SoFar:
    """Of a search for one goal.

    Attributes
    ----------
    p : array (n,) or None
        Its lengths, m.
    goals : dict
        What it comes to on the mesh of its round, SI.
    """

    def __init__(self, progress: Progress) -> None:
        self._progress, self._stage, self._share, self._said = progress, "", 0.0, -np.inf
        self._least = np.inf
        self.p: Array | None = None
        self.goals: dict[str, float] = {}

    def begin(self, stage: str, share: float) -> None:
        """A stage of the search begins."""
        self._stage, self._share = stage, share
        self._progress(stage, share)

    def note(self, p: Array, size: float, goals: dict[str, float], words: str) -> None:
        """A shape that keeps all limits: the less `size` the better."""
        if size < self._least:
            self._least, self.p, self.goals = size, np.array(p, float), dict(goals)
            if time.monotonic() - self._said > EVERY:
                self._said = time.monotonic()
                self._progress(f"{self._stage}, so far {words}", self._share)
