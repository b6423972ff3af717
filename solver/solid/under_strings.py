"""What lies under each string of a build, and what it does to the string's own field.

Over poles alone: the nearest pole of every row, each by its axisymmetric cell (:mod:`.row.string_answer`) with the
permeability that the build's bias gives its parts. Elsewhere, over a blade, a bar or a pole of another form, and
where such a body comes as near to the string as poles do: the 3-D answer of all bodies (:mod:`.string_answer`),
made once for all such strings over one height that see the bodies that y = 0 sees. A string beyond the end of a
blade, or beside what stands at y = 0, has an answer of its own, made where it is.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from stringflux.geometry.kernel.views import alike_across
from stringflux.geometry.mesh.pole import Quality
from stringflux.geometry.shapes.bodies import SolidBody
from stringflux.geometry.shapes.pieces import Shaped
from stringflux.geometry.shapes.row import PoleShape
from stringflux.geometry.shapes.standing import StandingPole, standing_poles

from ..line_answer import LineAnswer
from ..materials.kinds import Materials, body_material
from ..materials.signal import permeability, shared_along_and_across
from ..row.numerics import SHIPPED, RowNumerics
from ..row.pole import TableReach, answer_orders, covering
from ..row.ring_table import field_table
from ..row.rings import near_rings
from ..row.small_signal import SmallSignalCell
from ..row.string_answer import StringAnswer, string_answer
from ..seam import AnsweredPlace, Over, Place, heights_covered, lowest_looked_at
from ..section.space import section
from .bias import SolidState
from .field import SeveralAnswers
from .space import SolidSpace
from .string_answer import line_answer

_STEP = 1e-3  # m, between the heights at which answers of long bodies end
_CELLS = 24  # answers of poles, by form, material and heights, that a build remembers

_END = 3e-3
"""A body that ends nearer to a string than this, across, is not taken to go on there, m."""

BESIDE = 8e-3
"""Poles farther than this across from a string are not under it, m."""

_AS_NEAR = 3.0  # in the string's distance from its pole at rest: what is farther off answers next to nothing


@dataclass(frozen=True, kw_only=True)
class AllBodies:
    """All bodies: the answer is made for a string at y and for heights over a face, m."""

    face: float
    low: float
    high: float
    y: float


def what_answers(bodies: Sequence[SolidBody], strings: Sequence[Over], *, halved: bool,
                 apart: bool = False) -> list[list[StandingPole] | AllBodies]:
    """What answers each string: the poles under it, or all bodies; strings with equal ones share the answer.

    Parameters
    ----------
    halved : bool
        Whether the mesh is that of y > 0 alone: strings at y and −y share an answer then.
    apart : bool
        As of :func:`answers_under`.
    """
    poles = standing_poles(bodies)
    others = [b.form.bounds for i, b in enumerate(bodies)
              if b.stands_on is None and not any(i in p.bodies for p in poles)]
    under = [[] if _over_another_form(bodies, s) else _nearest(poles, s) for s in strings]
    under = [[] if own and _as_near(others, s, own[0]) else own for s, own in zip(strings, under, strict=True)]
    found: list[list[StandingPole] | AllBodies] = []
    for s, own in zip(strings, under, strict=True):
        if own:
            found.append(own)
            continue
        low, high = heights_covered([o for o, below in zip(strings, under, strict=True)
                                     if not below and o.face == s.face], _STEP)
        place, y = s, 0.0
        if apart or not goes_on([b.form.bounds for b in bodies], s.y) or _uneven(bodies, s.y):
            place = s.counted_from(np.inf if apart else max(b.form.bounds[1][2] for b in bodies))
            low, high = heights_covered([place], _STEP)
            y = abs(s.y) if halved else s.y
        found.append(AllBodies(face=place.face, low=low, high=high, y=y))
    return found


def answers_under(space: SolidSpace, bodies: Sequence[SolidBody], materials: Materials, bias: SolidState,
                  strings: Sequence[Over], quality: Quality, reach: float,
                  kept: dict[object, Any], numerics: RowNumerics = SHIPPED, *,
                  apart: bool = False) -> tuple[list[Place], list[SeveralAnswers | LineAnswer]]:
    """A place and an answer for every string.

    Parameters
    ----------
    bodies : sequence of SolidBody
        Of the space.
    quality : Quality
        Of the poles' sections.
    reach : float
        Half the length of string, m.
    kept : dict
        Where answers are left; those of long bodies take as long as the fields do.
    numerics : RowNumerics
        Of the poles' cells.
    apart : bool
        Whether every string over a long body has an answer of its own, at heights that are the string's alone, so
        that nothing jumps when the body changes.
    """
    under = what_answers(bodies, strings, halved=space.mesh.symmetry.y, apart=apart)
    means = _means(space, bodies, bias)
    covers = _covers(strings, [() if isinstance(own, AllBodies) else own for own in under], reach)
    cells: OrderedDict[object, StringAnswer] = kept.setdefault("cells", OrderedDict())
    places: list[Place] = []
    answers: list[SeveralAnswers | LineAnswer] = []
    for s, own in zip(strings, under, strict=True):
        if isinstance(own, AllBodies):
            key = (own.face, own.low, own.high, reach, own.y)
            if key not in kept:
                mu = [permeability(body_material(materials, b.material), b.axis, f)
                      for b, f in zip(bodies, bias.b, strict=True)]
                kept[key] = line_answer(space, mu, own.face, own.low, own.high, reach, own.y)
            places.append(AnsweredPlace(y=s.y, face=own.face))
            answers.append(kept[key].imaged() if own.y == -s.y and own.y else kept[key])
            continue
        first = own[0]
        each = [_answer(p, materials, [means[i] for i in p.bodies], quality, covers[p.shape], cells, numerics)
                for p in own]
        places.append(AnsweredPlace(y=first.y, face=first.face, radius=first.shape.parts[0].radius))
        answers.append(SeveralAnswers(answers=tuple(each), offsets=tuple(
            (p.x, p.y - first.y, p.face - first.face) for p in own)))
    return places, answers


def goes_on(bounds: Sequence[tuple[Sequence[float], Sequence[float]]], y: float) -> bool:
    """Whether a string at y sees the bodies, each in its bounds, that one at y = 0 sees, and none ends near it."""
    def beside(low: float, high: float) -> bool:
        return high < y - _END or low > y + _END

    return all((low[1] <= 0 <= high[1] and low[1] <= y - _END and y + _END <= high[1])
               or ((low[1] > 0 or high[1] < 0) and beside(low[1], high[1])) for low, high in bounds)


def _uneven(bodies: Sequence[SolidBody], y: float) -> bool:
    """Whether what planes at y and beside it cut of a body is not what those at 0 and beside it do."""
    places = [at + off for at in (0.0, y) for off in (-_END, 0.0, _END)]
    return any(isinstance(b.form, Shaped) and not alike_across(b.form, places) for b in bodies)


def _means(space: SolidSpace, bodies: Sequence[SolidBody], bias: SolidState) -> list[float]:
    """|mean B| of every body, T; one beyond a plane of symmetry is not meshed and has its image's."""
    found: dict[tuple[float, ...], float] = {}
    keys = []
    for body, b, e in zip(bodies, bias.b, space.bodies, strict=True):
        low, high = np.round(np.array(body.form.bounds), 9)
        middle = (low + high) / 2
        folded = [abs(m) if axis in space.mesh.symmetry.axes else m for axis, m in enumerate(middle)]
        keys.append((*folded, *(high - low)))
        if e.weight.size:
            found[keys[-1]] = float(np.linalg.norm(np.einsum("ceq,eq->c", b, e.weight) / e.weight.sum()))
    return [found[key] for key in keys]


def _over_another_form(bodies: Sequence[SolidBody], string: Over) -> bool:
    """Whether the nearest pole of some row is under the string and no body of revolution about its axis."""
    rows: dict[float, list[tuple[float, bool]]] = {}
    for body in bodies:
        if body.stands_on is not None:
            (x, y), low, high = body.stands_on, body.form.bounds[0][1], body.form.bounds[1][1]
            formed = body.axis_at is not None
            away = max(low - string.y, string.y - high, 0.0) if formed else abs(y - string.y)
            rows.setdefault(round(x, 9), []).append((away, not formed))
    return any(away < BESIDE and not is_round for away, is_round in map(min, rows.values()))


def _as_near(bounds: Sequence[tuple[Sequence[float], Sequence[float]]], string: Over, pole: StandingPole) -> bool:
    """Whether a body in its bounds, of no pole, comes as near to the string as to answer it beside its pole."""
    height = string.face + (string.low + string.high) / 2
    return any(np.hypot(max(low[1] - string.y, string.y - high[1], 0.0), height - high[2])
               < _AS_NEAR * (height - pole.face) for low, high in bounds)


def _nearest(poles: Sequence[StandingPole], string: Over) -> list[StandingPole]:
    """The nearest pole of every row (poles of one x), if it is under the string."""
    rows: dict[float, list[StandingPole]] = {}
    for p in poles:
        rows.setdefault(p.x, []).append(p)
    found = [min(row, key=lambda p: abs(p.y - string.y)) for row in rows.values()]
    return sorted((p for p in found if abs(p.y - string.y) < BESIDE), key=lambda p: abs(p.face - string.face))


def _covers(strings: Sequence[Over], under: Sequence[Sequence[StandingPole]],
            reach: float) -> dict[PoleShape, TableReach]:
    """The heights that the table of each shape has to reach."""
    spans: dict[PoleShape, list[tuple[float, float, float]]] = {}
    for s, own in zip(strings, under, strict=True):
        for p in own:
            # a pole of another row may reach above the lowest place that the string is looked at over its own face
            lowest, up = s.face + s.low - p.face, s.face + s.high - p.face
            spans.setdefault(p.shape, []).append((max(lowest, lowest_looked_at(s.low)), up, lowest))
    far = float(np.hypot(1.1 * reach, 2 * BESIDE + 30e-3))
    covers = {}
    for shape, each in spans.items():
        low, high, bottom = zip(*each, strict=True)
        covers[shape] = covering(min(low), max(high), min(bottom), far)
    return covers


def _answer(pole: StandingPole, materials: Materials, means: Sequence[float], quality: Quality, cover: TableReach,
            kept: OrderedDict[object, StringAnswer], numerics: RowNumerics) -> StringAnswer:
    mu = tuple(shared_along_and_across(body_material(materials, part.material), b)
               for part, b in zip(pole.shape.parts, means, strict=True))
    key = (pole.shape, mu, quality, cover, numerics)
    if key not in kept:
        s = section(pole.shape, quality)
        radius = pole.shape.parts[0].radius
        orders = answer_orders(cover, radius, numerics)
        near = near_rings(s, orders, numerics)
        table = field_table(near, radius, cover.low, cover.high, cover.reach, numerics.answer_orders, cover.bottom,
                            numerics)
        cell = SmallSignalCell(section=s, mu=mu)
        kept[key] = string_answer(cell, near, table, orders, cover.low, numerics)
        while len(kept) > _CELLS:
            kept.popitem(last=False)
    kept.move_to_end(key)
    return kept[key]
