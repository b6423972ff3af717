"""How far the work of a verification is."""

from __future__ import annotations

from collections.abc import Callable, Sequence

Report = Callable[[str, float], None]


class Shares:
    """The share of the work done, by what the meshes are expected to take."""

    _STAGES = 7  # of every mesh

    def __init__(self, progress: Report, seconds: Sequence[float]) -> None:
        self._progress, self._seconds = progress, list(seconds)

    def more(self, seconds: float) -> None:
        self._seconds.append(seconds)

    def stage(self, level: int) -> Callable[[str], None]:
        done = sum(self._seconds[:level])
        each = self._seconds[level] / self._STAGES
        count = [0]

        def told(stage: str) -> None:
            share = (done + each * min(count[0], self._STAGES)) / sum(self._seconds)
            count[0] += 1
            self._progress(f"mesh {level + 1}: {stage}", 0.04 + 0.94 * share)

        return told


