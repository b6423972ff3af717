"""A changing pole's answer to strings: their modes, found once, and what it makes of them in each design."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import PlacedPole, StringShape
from stringflux.solver.row.numerics import RowNumerics
from stringflux.solver.row.ring_table import field_table
from stringflux.solver.row.string_answer import StringAnswer, string_modes
from stringflux.solver.shape.cell import ShapeCell

from ..string.linkage import STEP


@dataclass(frozen=True, kw_only=True, eq=False)
class PoleAnswer:
    """Strings' modes of one pole shape: the spline and each order's basis on the rings."""

    answer: StringAnswer
    bases: tuple[Array, ...]

    def responses(self, cell: ShapeCell) -> tuple[Array, ...]:
        """S_m of the cell."""
        out = []
        for m, U in enumerate(self.bases):
            spread = cell.between.matrices[m] @ U
            S = spread.T @ cell.answer(m, spread)
            out.append((S + S.T) / 2)
        return tuple(out)


def pole_answer(cell: ShapeCell, strings: Sequence[tuple[StringShape, PlacedPole]], up: float, row: RowNumerics,
                reach: float) -> PoleAnswer:
    """Modes over the heights of the strings, `reach` m long either way, over such poles."""
    low = min(s.axis_height - s.outer_radius - p.face for s, p in strings) - 3 * STEP
    low = max(low, up + 0.25e-3)
    high = max(s.axis_height + s.outer_radius - p.face for s, p in strings) + 2e-3
    rings = cell.grid.rings()
    table = field_table(rings, cell.section.shape.parts[0].radius, low, high, 1.1 * reach, row.answer_orders,
                        numerics=row)
    modes, bases = string_modes(table, row.answer_orders, low, row)
    blank = tuple(np.zeros((U.shape[1],) * 2) for U in bases)
    return PoleAnswer(answer=StringAnswer(modes=modes, response=blank), bases=tuple(bases))


def by_order(total: Array, answer: StringAnswer, mirrored: bool) -> list[Array]:
    """∂J/∂S_m from ∂J/∂S of :meth:`StringAnswer.matrix`, block by block as it is put together."""
    out, first = [], 0
    for m, s in enumerate(answer.response):
        weight = (2 * np.pi if m == 0 else np.pi) * (2.0 if mirrored else 1.0)
        block = np.zeros_like(s)
        for _ in range(1 if m == 0 or mirrored else 2):
            mine = slice(first, first + len(s))
            block += weight * total[mine, mine]
            first += len(s)
        out.append(block)
    return out
