"""A first look at strings: what a pickup's are likely to be, by a pickup that differs little and is known.

The small signal is solved, the bias follows that of the pickup before (:mod:`stringflux.solver.row.nearby`). A string
whose own pole or place changed is swung, as coarsely as what is a doubt anyway; of another the slope on its metal's
curve is taken, times what the memory made of it before. Over a row of six S of the prediction is met within 0.3 %
where a pole is 1 mm higher or lower and within 0.6 % at 2 mm, B₀ within 0.5 %, with other magnets too.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.placed_strings import PlacedString
from stringflux.geometry.errors import InputError
from stringflux.postprocess.records.balance import with_balance
from stringflux.postprocess.records.prediction import StringRecord
from stringflux.postprocess.results.prediction import Prediction
from stringflux.postprocess.string.heard import swung_string
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.linkage import Slopes, level_model, rest_slopes
from stringflux.postprocess.string.loop import COARSE
from stringflux.postprocess.string.room import swing_model
from stringflux.solver.seam import Solved

from ..solved.abstract import SolvedCase
from ..solved.solve_row import one_thread

Progress = Callable[[str, float], None]


def nobody(stage: str, share: float) -> None:
    """Tell nobody how far the work is."""


@dataclass(frozen=True, kw_only=True)
class StringEstimate:
    """What a string is likely to be.

    Attributes
    ----------
    number : int
        From 1.
    gap : float
        m.
    sensitivity : float
        S for a light swing, V·s/m.
    linkage : float
        λ, Wb.
    bias : array (3,)
        B₀ at its axis over the row, T.
    balance, balance_force, balance_displacement : float
        dB against the loudest of these strings: by S; at equal pluck force; at equal pluck displacement.
    anew : bool
        Whether it was estimated; else all is as it was before.
    """

    number: int
    gap: float
    sensitivity: float
    linkage: float
    bias: Array
    balance: float
    balance_force: float
    balance_displacement: float
    anew: bool


class Estimate:
    """The strings of a case, by a solved one that differs little.

    Parameters
    ----------
    solved, before : SolvedCase
    found : Prediction
        Of `before`.

    Raises
    ------
    InputError
        Where they differ in more than can be estimated.
    """

    def __init__(self, solved: SolvedCase, before: SolvedCase, found: Prediction) -> None:
        if len(solved.strings) != len(before.strings):
            raise InputError(f"estimate: received a pickup of {len(before.strings)} strings; write one of as many")
        self._solved, self._before = solved, before
        self._turns = float(solved.signed_turns[0])
        by = abs(self._turns / float(before.signed_turns[0]))
        self._records = [self._placed(record, string, by)
                         for record, string in zip(found.strings, solved.strings, strict=True)]
        self._known: dict[int, StringRecord] = {}

    @staticmethod
    def _placed(record: StringRecord, string: PlacedString, by: float) -> StringRecord:
        return replace(record, gap=string.gap, y=string.shape.y, height=string.shape.axis_height, pitch=string.pitch,
                       tension=string.tension, sensitivity=by * record.sensitivity,
                       sensitivity_curve=by * record.sensitivity_curve, linkage=by * record.linkage)

    @cached_property
    def changed(self) -> tuple[int, ...]:
        """Numbers, from 1, of the strings that are other ones, or whose own pole is."""
        poles = zip(self._solved.case.placed_poles(), self._before.case.placed_poles(), strict=True)
        other = {n for n, (now, then) in enumerate(poles, start=1) if now != then}
        return tuple(s.number for s, then in zip(self._solved.strings, self._before.strings, strict=True)
                     if s.pole in other or s.shape != then.shape)

    def strings(self, numbers: Collection[int] | None = None,
                progress: Progress = nobody) -> tuple[StringEstimate, ...]:
        """All strings: those of `numbers` estimated (all if left out), and those that have been before.

        Raises
        ------
        InputError
            Where there is no estimate.
        SolveError
            Where a string's magnetisation does not settle.
        """
        numbers = range(1, len(self._records) + 1) if numbers is None else numbers
        with one_thread():
            for string, record in zip(self._solved.strings, self._records, strict=True):
                if string.number in numbers and string.number not in self._known:
                    progress("a first look", 0.5)
                    self._known[string.number] = self._string(string, record, progress)
        records = [self._known.get(r.number, r) for r in self._records]
        told = with_balance(records, [s.scale for s in self._solved.strings],
                            np.array([[r.sensitivity for r in records]]))
        return tuple(StringEstimate(
            number=r.number, gap=r.gap, sensitivity=r.sensitivity, linkage=r.linkage, bias=r.bias, balance=r.balance,
            balance_force=r.balance_force, balance_displacement=r.balance_displacement, anew=r.number in self._known)
            for r in told)

    def _string(self, string: PlacedString, record: StringRecord, progress: Progress) -> StringRecord:
        row = self._row(progress)
        shape, numerics = string.shape, self._solved.numerics.string
        field = self._solved.among(row.field).over(string.number)
        layers = layers_of(shape, self._solved.materials)
        swings = string.number in self.changed
        model = (swing_model if swings else level_model)(field, shape, layers, numerics)
        slopes = rest_slopes(model)
        swung = swung_string(slopes, field, shape, layers, numerics, model, COARSE) if swings else None
        f = record.sensitivity / record.sensitivity_curve if record.sensitivity_curve else 1.0
        S = swung.light().sensitivity if swung is not None else f * abs(slopes.z) if slopes.heard else 0.0
        at = np.array([[0.0], [shape.y], [shape.axis_height]])
        return replace(record, sensitivity=S, linkage=_linkage(slopes), bias=row.field.bias(at)[:, 0])

    def _row(self, progress: Progress) -> Solved:
        if self._found is None:
            self._found = self._solved.near(self._before, lambda stage: progress(stage, 0.2))
        return self._found

    _found: Solved | None = None


def _linkage(slopes: Slopes) -> float:
    return slopes.linkage if slopes.heard or slopes.linked else 0.0
