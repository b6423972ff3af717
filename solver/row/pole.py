"""Everything that belongs to one distinct pole shape, as stages that can be kept.

What depends on what:

    mesh, rings          outlines, quality
    field table          the same, and the heights and reach to cover
    bias alone           shape (polarity, charge, …), materials, quality
    small-signal cell    outlines, quality, permeabilities for the signal
    answer to a string   the last two together

Rings, table and answer depend on the numerical settings too.

So another grade of magnet with the same recoil solves its bias and nothing else.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.mesh.pole import Quality
from stringflux.geometry.shapes.row import PoleShape

from ..materials.kinds import Materials, body_material
from ..materials.signal import of_parts
from ..section.bias import BiasCell, BiasState, Tangent
from ..section.space import Section, bare, section
from ..stages import Keep, made_anew
from .numerics import SHIPPED, RowNumerics
from .ring_table import FieldTable, field_table
from .rings import Rings, far_rings, near_rings
from .small_signal import SmallSignalCell
from .string_answer import StringAnswer, string_answer

WIDE_ORDERS = 4.2e3  # of the answer to a string close over the face, a metre of the face's radius
_CLOSE_LOW = 0.3e-3  # m: tables that begin lower serve such strings


@dataclass(frozen=True, kw_only=True, eq=False)
class PoleCells:
    """Cells of a pole shape; `tangent` is that of the bias alone."""

    section: Section
    bias: BiasCell
    alone: BiasState
    tangent: Tangent
    signal: SmallSignalCell
    near: Rings
    far: Rings
    table: FieldTable
    answer: StringAnswer


@dataclass(frozen=True, kw_only=True)
class TableReach:
    """Where the field table has to reach, m: heights `low` … `high` over the face above the pole itself, from
    `bottom` beside it, out to `reach` from the axis."""

    low: float
    high: float
    bottom: float
    reach: float


def covering(low: float, high: float, bottom: float, reach: float) -> TableReach:
    """A cover of at least this in coarse steps, so that poles a little higher or lower find the same table."""
    low, bottom = round(low, 9), round(bottom, 9)
    return TableReach(low=low, high=math.ceil(round(high / 1e-3, 6)) * 1e-3, reach=reach,
                      bottom=low if bottom >= low else math.floor(round(bottom / 0.5e-3, 6)) * 0.5e-3)


def answer_orders(cover: TableReach, radius: float, numerics: RowNumerics = SHIPPED) -> int:
    """Azimuthal orders of the answer: what a string makes at the radius r falls as exp(−2 m height/r)."""
    if cover.low >= _CLOSE_LOW - 1e-9:
        return numerics.answer_orders
    return int(np.clip(math.ceil(WIDE_ORDERS * radius), *numerics.close_orders))


def pole_cells(shape: PoleShape, materials: Materials, quality: Quality, cover: TableReach,
               progress: Callable[[str], None], keep: Keep = made_anew, meshed: Section | None = None,
               numerics: RowNumerics = SHIPPED) -> PoleCells:
    """Solve a pole shape alone.

    Parameters
    ----------
    keep : Keep
        Asked for each stage.
    meshed : Section, optional
        The space on a mesh of the caller's, for which nothing may be kept.
    numerics : RowNumerics
    """
    own = tuple(body_material(materials, p.material) for p in shape.parts)
    form = (bare(shape), quality)
    progress("mesh")
    s = meshed or section(shape, quality, keep)
    progress("magnet field")
    bias = BiasCell(section=s, materials=own)
    alone, tangent = keep("bias", (shape, own, quality), lambda: _alone(bias))
    progress("signal field")
    mu = of_parts(own, alone.b)
    signal = keep("small signal", (form, mu), lambda: SmallSignalCell(section=s, mu=mu))
    orders = answer_orders(cover, shape.parts[0].radius, numerics)
    of_fields = max(numerics.orders, numerics.answer_orders)
    near, far = keep("rings", (form, orders, numerics), lambda: (
        near_rings(s, max(orders, of_fields), numerics), far_rings(s, numerics.orders, numerics)))
    table = keep("table", (form, cover, numerics), lambda: field_table(
        near, shape.parts[0].radius, cover.low, cover.high, cover.reach, of_fields, cover.bottom, numerics))
    answer = keep("answer", (form, cover, mu, numerics),
                  lambda: string_answer(signal, near, table, orders, cover.low, numerics))
    return PoleCells(section=s, bias=bias, alone=alone, tangent=tangent, signal=signal, near=near, far=far,
                     table=table, answer=answer)


def _alone(bias: BiasCell) -> tuple[BiasState, Tangent]:
    tangent = Tangent()
    return bias.solve(tangent=tangent), tangent
