"""Stages whose results can be kept: what a solve asks before it computes.

A stage is a pure function of its key, which holds everything that the result depends on. Then it makes no
difference to the last digit whether a result was computed, remembered or read from a disk, by whom and in what
order. A `Keep` decides whether to remember; :func:`made_anew` never does.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol, TypeVar

T = TypeVar("T")


class Keep(Protocol):
    """Give the result of a stage, kept or made now."""

    def __call__(self, kind: str, key: object, make: Callable[[], T], /) -> T:
        """The result of stage `kind` for `key`; `make()` computes it."""


class _NotKeptError(Exception):
    """A result is not there."""


def if_kept(keep: Keep, kind: str, key: object) -> object | None:
    """The result of a stage if it is there, else None: nothing is computed."""
    def refuse() -> object:
        raise _NotKeptError

    try:
        return keep(kind, key, refuse)
    except _NotKeptError:
        return None


def made_anew(kind: str, key: object, make: Callable[[], T], /) -> T:
    """Keep nothing."""
    return make()
