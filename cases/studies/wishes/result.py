"""Designs that were wanted: which meet all wishes, what they trade for each other, or which wishes are in the way."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from ..compare.result import ComparedDesigns
from ..engine.task import Outcome
from .plan import DesignPlan, chosen

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True, kw_only=True)
class InTheWay:
    """Wishes without which there would be designs.

    Attributes
    ----------
    wishes : tuple of int
        Their places among the wishes; no fewer would do.
    designs : tuple of int
        That meet all the others, from 0; the nearest to these wishes first.
    """

    wishes: tuple[int, ...]
    designs: tuple[int, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class FoundDesigns:
    """Designs looked for, computed.

    Attributes
    ----------
    asked : DesignPlan
    outcomes : tuple of Outcome
        Of every design (n,), in the order of the plan.
    """

    asked: DesignPlan
    outcomes: tuple[Outcome, ...]

    @cached_property
    def every(self) -> ComparedDesigns:
        """All designs, compared."""
        return ComparedDesigns(asked=self.asked.comparison, outcomes=self.outcomes)

    @cached_property
    def met(self) -> tuple[int, ...]:
        """Designs that meet all wishes, from 0."""
        return tuple(i for i in sorted(self.every.order) if not any(self.misses[i]))

    @cached_property
    def meeting(self) -> ComparedDesigns | None:
        """These alone, compared; None if there is none. Its `best` are the trade-off."""
        return self.of(self.met) if self.met else None

    @cached_property
    def misses(self) -> tuple[tuple[float, ...], ...]:
        """How far every design (n,) is from every wish: 0 where it meets it, inf where it failed."""
        wishes, levels = self.asked.wishes, self.asked.levels
        return tuple(tuple(wish.miss(o.values.get(wish.name, math.nan), levels) for wish in wishes)
                     for o in self.outcomes)

    @cached_property
    def in_the_way(self) -> tuple[InTheWay, ...]:
        """The fewest wishes without which there would be designs, every set of so many; empty if some meet all."""
        missed = {i: tuple(w for w, miss in enumerate(self.misses[i]) if miss) for i in sorted(self.every.order)}
        fewest = min(map(len, missed.values()), default=0)
        if not fewest:
            return ()
        sets = dict.fromkeys(one for one in missed.values() if len(one) == fewest)
        return tuple(
            InTheWay(wishes=one, designs=tuple(sorted((i for i, own in missed.items() if own == one),
                                                      key=lambda i: round(sum(self.misses[i]), 9))))
            for one in sets)

    def of(self, designs: Sequence[int]) -> ComparedDesigns:
        """Some of the designs, compared among themselves."""
        return ComparedDesigns(asked=chosen(self.asked.comparison, designs),
                               outcomes=tuple(self.outcomes[i] for i in designs))

    def plot(self, ax: Axes | None = None, what: str = "") -> Axes:
        """Draw the designs that meet all wishes, or all where none does; panels as of `compare`.

        Raises
        ------
        InputError
            For another panel, or where no design could be computed.
        """
        return self._drawn().plot(ax, what)

    def figures(self) -> dict[str, Figure]:
        """The figure that `stringflux design` writes, by the name of its file; none where all designs failed."""
        count, total = len(self.met), len(self.outcomes)
        what = f"{count} of {total} designs, which meet all wishes" if count else f"none of {total} meets all wishes"
        return self._drawn().figures(what)

    def _drawn(self) -> ComparedDesigns:
        return self.meeting or self.every
