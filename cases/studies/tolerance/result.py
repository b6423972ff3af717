"""What a tolerance study found, and how it is drawn."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import InputError
from stringflux.geometry.units import printed_unit, shown

from ..designs.limits import Limit
from ..designs.outputs import figure_of
from .causes import Causes
from .statistics import Importance, Share, Spread
from .surrogate import Surrogate

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from stringflux.postprocess.study_figures.tolerance import ScatterRow

WORDS = {
    "output": "Output, mean", "output_balance": "Balance by output", "sensitivity": "Sensitivity, mean",
    "balance": "Balance by sensitivity", "face_field": "Field over the faces", "resistance": "Resistance",
    "inductance": "Inductance",
}


@dataclass(frozen=True, kw_only=True, eq=False)
class QuantityScatter:
    """How one quantity scatters; SI.

    Attributes
    ----------
    nominal : float
        In the case as it stands.
    spread : Spread
        Of the surrogate's sample.
    error : float
        Root mean square of surrogate − program over the pickups that the program computed.
    true_deviation : float
        Standard deviation over those pickups; nan for fewer than two.
    importance : Importance or None
        None for single strings.
    sample : array
        Values of the surrogate's sample, (count,).
    doubt : (float, float)
        What is unknown of the materials multiplies all of it with, low and high; (1, 1) where nothing is told.
    """

    nominal: float
    spread: Spread
    error: float
    true_deviation: float
    importance: Importance | None
    sample: Array
    doubt: tuple[float, float] = (1.0, 1.0)

    @property
    def relative_error(self) -> float:
        """The surrogate's error over the standard deviation; 0 where nothing scatters."""
        return self.error / self.spread.deviation if self.spread.deviation > 0 else 0.0


@dataclass(frozen=True, kw_only=True, eq=False)
class LimitShare:
    """The share of pickups that keep limits.

    Attributes
    ----------
    text : str
    sample, true : Share
        Of the surrogate's sample, and of the pickups that the program computed.
    ends : (float, float) or None
        Of the sample, with what is unknown of the materials at its least and at its largest; None where a limit does
        not feel that.
    """

    text: str
    sample: Share
    true: Share
    ends: tuple[float, float] | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class ToleranceStudy:
    """What came out.

    Attributes
    ----------
    case : Case
    causes : Causes
    surrogate : Surrogate
    scatter : mapping of str to Scatter
        By quantity.
    asked : tuple of Limit
    limits : tuple of LimitShare
    together : LimitShare or None
        All limits at once, if there are several.
    runs : int
        Designed runs that made the surrogate.
    checked : int
        Pickups that checked the surrogate.
    impossible : tuple of str
        Why others of them could not be computed.
    """

    case: Case
    causes: Causes
    surrogate: Surrogate
    scatter: Mapping[str, QuantityScatter]
    asked: tuple[Limit, ...]
    limits: tuple[LimitShare, ...]
    together: LimitShare | None
    runs: int
    checked: int
    impossible: tuple[str, ...]

    @property
    def main(self) -> dict[str, QuantityScatter]:
        """What the causes are told of: by output where it is known, and not by sensitivity again."""
        again = ("sensitivity", "balance") if "output" in self.scatter else ()
        return {n: s for n, s in self.scatter.items() if s.importance is not None and n not in again}

    def plot(self, ax: Axes | None = None, what: str = "spread", *, quantity: str = "") -> Axes:
        """Draw the "spread" of a quantity from pickup to pickup, or the "causes" that matter most in it.

        Parameters
        ----------
        ax : Axes, optional
            A new figure's if left out.
        quantity : str
            Of those in `scatter`, the first of `main` if left out. Of single strings no causes are told.

        Raises
        ------
        InputError
            For another panel or quantity.
        """
        from stringflux.postprocess.figures.panel import panel
        from stringflux.postprocess.study_figures import tolerance

        name = quantity or next(iter(self.main))
        if name not in self.scatter:
            raise InputError(f"quantity: received {shown(name)}; write {', '.join(self.scatter)}")
        row = self._row(name)
        panels = {"spread": lambda ax: tolerance.spread(ax, row)}
        if self.scatter[name].importance is not None:
            panels["causes"] = lambda ax: tolerance.causes(ax, row)
        return panel(ax, panels, what, {"causes": "but of single strings they are not told apart"})

    def figures(self) -> dict[str, Figure]:
        """The figure that `stringflux tolerance` writes, by the name of its file."""
        from stringflux.postprocess.study_figures.tolerance import tolerance_figure

        return {"tolerance": tolerance_figure([self._row(name) for name in self.main], self.case.title)}

    def _row(self, name: str) -> ScatterRow:
        from stringflux.postprocess.study_figures.tolerance import CauseBar, ScatterRow

        titles, s, size = {c.name: c.title for c in self.causes.active}, self.scatter[name], figure_of(name).size
        ends = tuple(end / size for x in self.asked if x.name == name for end in (x.low, x.high)
                     if math.isfinite(end))
        bars = [CauseBar(title=titles[c], total=t[0], low=t[1], high=t[2], first=s.importance.first[c][0])
                for c, t in s.importance.total.items()] if s.importance else []
        return ScatterRow(title=words_of(name), unit=unit_of(name), values=s.sample / size, nominal=s.nominal / size,
                          low=s.spread.low / size, high=s.spread.high / size, limits=ends, causes=bars)


def words_of(name: str) -> str:
    """A quantity of a study as people read it.

    Examples
    --------
    >>> words_of("string_3_sensitivity")
    'Sensitivity, string 3'
    """
    if name in WORDS:
        return WORDS[name]
    item, number, figure = name.split("_", 2)
    return f"{WORDS[figure].split(',')[0]}, {item} {number}"


def unit_of(name: str) -> str:
    """The unit that people read a quantity in."""
    return printed_unit(figure_of(name).shown)
