"""One design of a study: what is to be computed, and what came out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, kw_only=True)
class Task:
    """A design to compute.

    Attributes
    ----------
    number : int
        Its place in the study, from 0.
    document : mapping
        The content of a complete case file, as a TOML reader gives it.
    quality : str
        "draft", "normal" or "fine".
    want : tuple of str
        Names of the figures to compute; empty for the common ones.
    sought : str
        What else is to be made so before they are computed, in the words of whoever computes; "" for nothing.
    """

    number: int
    document: Mapping[str, Any]
    quality: str = "normal"
    want: tuple[str, ...] = ()
    sought: str = ""


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What came out of a design.

    Attributes
    ----------
    number : int
        The task's.
    values : mapping of str to float
        SI, by the name of the figure; empty if it failed.
    failure : str
        Why it failed, one sentence; "" if it did not.
    seconds : float
        Of computing.
    machine : bool
        Whether it failed for the machine's sake: a killed worker, no memory, no disk, a missing library. The same
        design may succeed another time.
    """

    number: int
    values: Mapping[str, float] = field(default_factory=dict)
    failure: str = ""
    seconds: float = 0.0
    machine: bool = False

    def again(self, *, retry: bool) -> bool:
        """Whether a study that goes on computes it once more; with `retry` whatever it failed of."""
        return bool(self.failure) and (self.machine or retry)
