"""One result for every string, handled as the tuple that it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar, overload

from stringflux.geometry.errors import InputError

T = TypeVar("T")


@dataclass(frozen=True, kw_only=True, eq=False)
class EachString(Sequence[T]):
    """Results of the strings of a pickup.

    Attributes
    ----------
    strings : tuple
        In the case's order.
    """

    strings: tuple[T, ...]

    @overload
    def __getitem__(self, index: int) -> T: ...
    @overload
    def __getitem__(self, index: slice) -> tuple[T, ...]: ...
    def __getitem__(self, index: int | slice) -> T | tuple[T, ...]:
        return self.strings[index]

    def __len__(self) -> int:
        return len(self.strings)


def numbered(number: int, strings: Sequence[T], what: str = "string") -> T:
    """What belongs to string 1, 2, … or to another item that is called so.

    Raises
    ------
    InputError
        Where there is no such item.
    """
    if not 1 <= number <= len(strings):
        raise InputError(f"{what}: received {number}; there are 1 to {len(strings)}")
    return strings[number - 1]
