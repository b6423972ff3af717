"""What a balance found, and how it is drawn."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.notes import pitch_words

from .levels import Measured
from .limits_row import Bound
from .model import Model
from .problem import SettingProblem, Unknown
from .search import LimitsCost, hard_limits, pull_limits

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from stringflux.postprocess.study_figures.setting import Move

EVEN = 0.1
"""Strings nearer than this to what is wanted count as there, dB."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Balanced:
    """A case before and after.

    Attributes
    ----------
    case : Case
        As it is.
    problem : Problem
    model : Model
        About the setting.
    movement : array (k,)
        Of every unknown towards the strings, rounded to what can be set, m.
    unrounded : array (k,)
        The same before rounding; of poles in a build rounded too, as every setting that is solved there.
    before, after : Measured
        Exact, as the case is and at the rounded setting.
    off_before, off_after : arrays (n,)
        How far each string is over what is wanted, dB.
    error : array (n,)
        What 0.1 mm nearer does to each string: of its own pole, or of the string where only the pickup moves, dB.
    quarter_turn : tuple of float or None (k,)
        What a quarter of a turn of each unknown's screw, towards the strings, does to the string that goes with it
        most, dB; None where the case gives no thread.
    misses : tuple of float
        Largest difference between promise and exact answer, round by round, the last one at the rounded setting, dB.
    binding : tuple of Limit
        What holds the setting back, the costliest first.
    cost : LimitsCost
        What these limits cost.
    changes : mapping
        What the case file has to say otherwise, by dotted path.
    """

    case: Case
    problem: SettingProblem
    model: Model
    movement: Array
    unrounded: Array
    before: Measured
    after: Measured
    off_before: Array
    off_after: Array
    error: Array
    quarter_turn: tuple[float | None, ...]
    misses: tuple[float, ...]
    binding: tuple[Bound, ...]
    cost: LimitsCost
    changes: Mapping[str, Any]

    @property
    def unknowns(self) -> tuple[Unknown, ...]:
        """What may be set."""
        return self.problem.unknowns

    @property
    def turns(self) -> tuple[float | None, ...]:
        """By which the screw of each unknown is turned, positive clockwise; None where the case gives no thread."""
        return tuple(u.turns(float(m)) for u, m in zip(self.unknowns, self.movement, strict=True))

    @property
    def gaps(self) -> tuple[Array, Array]:
        """Gaps before and after, m (n,)."""
        return self.problem.gaps_at(0 * self.movement), self.problem.gaps_at(self.movement)

    @property
    def louder(self) -> float:
        """Change of the strings' mean level, dB."""
        return float(np.mean(self.after.level - self.before.level))

    def plot(self, ax: Axes | None = None, what: str = "levels") -> Axes:
        """Draw the "levels" of the strings before and after, or the "movements" in their limits.

        Parameters
        ----------
        ax : Axes, optional
            A new figure's if left out.

        Raises
        ------
        InputError
            For another panel.
        """
        from stringflux.postprocess.figures.panel import panel
        from stringflux.postprocess.study_figures import setting

        return panel(ax, {
            "levels": lambda ax: setting.levels(ax, self._labels, self.off_before, self.off_after, self._held),
            "movements": lambda ax: setting.movements(ax, self._moves())}, what)

    def figures(self) -> dict[str, Figure]:
        """The figure that `stringflux balance` writes, by the name of its file."""
        from stringflux.postprocess.figures.style import house_style
        from stringflux.postprocess.study_figures.setting import setting_figure

        before, after = (np.max(np.abs(off)) for off in (self.off_before, self.off_after))
        measure = "equal pluck" if self.problem.request.measure == "output" else "sensitivity"
        under = (f"up to {before:.1f} dB off before, {after:.1f} dB after; under each string its note and its gap "
                 "after")
        with house_style():
            return {"setting": setting_figure(f"Balance by {measure}", under, self._labels, self.off_before,
                                              self.off_after, self._moves(), self._held)}

    @property
    def _labels(self) -> list[str]:
        notes = zip(self.case.string, self.gaps[1], strict=True)
        return [f"{i}\n{pitch_words(s.pitch)}\n{1e3 * gap:.2f} mm" for i, (s, gap) in enumerate(notes, start=1)]

    @property
    def _held(self) -> list[int]:
        """Strings, from 1, that a limit holds back."""
        return [i + 1 for i, e in enumerate(self.off_after) if self.binding and abs(e) > EVEN]

    def _moves(self) -> list[Move]:
        """Each movement, and how far it might go from there with the others as they are."""
        from stringflux.postprocess.study_figures.setting import Move

        limits = [*hard_limits(self.problem), *pull_limits(self.model)]
        out = []
        for j, (unknown, movement) in enumerate(zip(self.unknowns, self.movement, strict=True)):
            low, high = -unknown.travel, unknown.travel
            for limit in limits:
                slope, room = limit.row[j], limit.most - limit.row @ self.movement
                if slope > 1e-9:
                    high = min(high, movement + max(room, 0.0) / slope)
                elif slope < -1e-9:
                    low = max(low, movement + max(room, 0.0) / slope)
            out.append(Move(name=unknown.name, movement=float(movement), low=float(low), high=float(high)))
        return out
