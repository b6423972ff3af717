"""Designs compared: what came out of each, how they rank, and how they are drawn."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from typing import TYPE_CHECKING

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import InputError
from stringflux.geometry.units import readable, shown

from ..designs.outputs import figure_of
from ..engine.task import Outcome
from .comparison import Comparison
from .paths import path_words
from .ranking import best_trade_offs, ranked, unit_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from stringflux.postprocess.study_figures.trade_off import Measure, Varied

    from .variations import Value, Variation


@dataclass(frozen=True, kw_only=True, eq=False)
class ComparedDesigns:
    """A comparison of designs, computed.

    Attributes
    ----------
    asked : Comparison
        Its `plan[i]` has the inputs of design i.
    outcomes : tuple of Outcome
        Of every design (n,), in the order of the plan.
    """

    asked: Comparison
    outcomes: tuple[Outcome, ...]

    def values(self, name: str) -> Array:
        """A figure of every design (n,), SI; nan where it failed or has none."""
        return np.array([o.values.get(name, math.nan) for o in self.outcomes])

    @cached_property
    def order(self) -> list[int]:
        """Designs that did not fail, from 0, best first."""
        return ranked(self.outcomes, self.asked.ranks)

    @cached_property
    def best(self) -> frozenset[int]:
        """Of one figure the best design; of several those than which no other is as good in all and better in one."""
        if len(self.asked.ranks) > 1:
            return best_trade_offs(self.outcomes, self.asked.ranks)
        return frozenset(self.order[:1])

    @cached_property
    def main(self) -> list[str]:
        """Names of the figures that tell most: those of the ranking, then the others that differ between designs."""
        first = [rank.column for rank in self.asked.ranks]
        rest = [name for name in self.asked.tasks.want if name not in first
                and len({f"{self.outcomes[i].values.get(name, math.nan):.4g}" for i in self.order}) > 1]
        return [*first, *rest]

    def plot(self, ax: Axes | None = None, what: str = "") -> Axes:
        """Draw the "trade_off" of the two figures that tell most, or a figure over the one number that is varied.

        Parameters
        ----------
        ax : Axes, optional
            A new figure's if left out.
        what : str
            "trade_off", or of one varied number the name of a figure such as "sensitivity"; the first that there is
            if left out.

        Raises
        ------
        InputError
            For another panel, or where no design could be computed.
        """
        from stringflux.postprocess.figures.panel import panel
        from stringflux.postprocess.study_figures import trade_off

        if not self.order:
            raise InputError(f"what: received {shown(what)}, but no design could be computed; the first: "
                             f"{self.outcomes[0].failure}")
        varied = self._varied()
        panels: dict[str, Callable[[Axes], object]] = {}
        measures = {name: self._measure(name) for name in self._drawn()}
        if len(varied) == 1 and varied[0].numbers is not None:
            for name, measure in measures.items():
                panels[name] = partial(trade_off.against, varied=varied[0], measure=measure)
        if len(measures) > 1:
            first, second = list(measures.values())[:2]
            panels["trade_off"] = lambda ax: trade_off.trade_off(ax, varied, first, second)
        absent = dict.fromkeys(measures, "but a figure is drawn over one varied number alone")
        return panel(ax, panels, what or next(iter(panels), "trade_off"), absent)

    def figures(self, what: str = "") -> dict[str, Figure]:
        """The figure that `stringflux compare` writes, by the name of its file; none where all designs failed.

        Parameters
        ----------
        what : str
            Which designs these are, for the line under its head.
        """
        from stringflux.postprocess.study_figures.trade_off import study_figure

        if not self.order:
            return {}
        measures = [self._measure(name) for name in self._drawn()]
        title = "; ".join(filter(None, (self.asked.case.title, what)))
        return {"trade_off": study_figure(self._varied(), measures, title)}

    @cached_property
    def _good(self) -> list[int]:
        return sorted(self.order)

    def _drawn(self) -> list[str]:
        """Those of the ranking first; where that is one, the next that differs is what it is traded for."""
        every = dict.fromkeys([*self.main, *self.asked.tasks.want])
        return [name for name in every if np.any(np.isfinite(self.values(name)))]

    def _varied(self) -> list[Varied]:
        return [_varied(v, [self.asked.plan[i][place] for i in self._good])
                for place, v in enumerate(self.asked.plan.variations)]

    def _measure(self, name: str) -> Measure:
        from stringflux.postprocess.study_figures.trade_off import Measure

        figure, better = figure_of(name), {rank.column: rank.better for rank in self.asked.ranks}
        return Measure(title=figure.title, unit=unit_words(figure),
                       values=self.values(name)[self._good] / figure.size, better=better.get(name, figure.better))


def _varied(v: Variation, values: Sequence[Value]) -> Varied:
    from stringflux.postprocess.study_figures.trade_off import Varied

    size, unit = readable_unit(v)
    numbers = np.array([value.si for value in values], float) / size if v.numeric else None
    return Varied(name=path_words(v.field.path), texts=tuple(value.text for value in values), numbers=numbers,
                  unit=unit)


def readable_unit(v: Variation) -> tuple[float, str]:
    """The unit that people read a variation in: its size in SI, and its name."""
    return readable(v.field.kind) if v.field.kind else (1.0, "")
