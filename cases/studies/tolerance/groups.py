"""Which designed runs serve which deviations: one part at a time, or many that answer each for its own.

A string's own gap, place and steel move no other string: one run moves all strings, each answers for its own, and
where the gaps, places or steels of all strings together scatter too, those runs serve both.

In a build every run of magnets or heights is a 3-D solution, and moving one part of many takes its symmetry from the
mesh. So there the poles of a row rise together, and the magnets of a row are off together: string and face answer for
the pole that is theirs, what is of the whole pickup (L) is shared out evenly. Where the row's magnets are the whole
batch, its runs are those of the batch. What a pole does to its neighbours' strings counts as done by their own poles;
pickups that are computed in full have every part off by itself, and tell what that costs. A row whose poles do not
stand one under each string has runs for each of them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import string_places
from stringflux.geometry.case.rows import PoleRow

from .cause import Cause
from .parts import Magnet, batches_of, has_coercivity, magnets_of

TOGETHER = {"gap_each": "gap", "position_each": "position", "pinning_each": "pinning"}
UNDER = 0.25  # a pole stands under a string that is nearer to it than this part of the way to the next pole
_MAGNETS = {"remanence_each": "remanence", "coercivity_each": "coercivity", "charge_each": "charge"}
_Answers: TypeAlias = dict[int, tuple[str, ...]]
_Part: TypeAlias = tuple[tuple[int, ...], int | None, _Answers]
"""Items, the column that serves them, and what answers for each."""


@dataclass(frozen=True, kw_only=True)
class Group:
    """Deviations that are off together in one pair of runs.

    Attributes
    ----------
    columns : tuple of int
    like : int or None
        The column whose runs serve them; None for runs of their own.
    answers : tuple of tuple of str
        How the names of the responses begin that answer for each column; empty if all do.
    """

    columns: tuple[int, ...]
    like: int | None = None
    answers: tuple[tuple[str, ...], ...] = ()

    def shares(self, names: Sequence[str]) -> Array:
        """How much of what the runs do to each response is each column's, (columns, responses)."""
        if not self.answers:
            return np.ones((len(self.columns), len(names)))
        single = [name.startswith(("string_", "pole_")) for name in names]
        return np.array([[float(name.startswith(own)) if alone else 1 / len(self.columns)
                          for name, alone in zip(names, single, strict=True)] for own in self.answers])


def groups_of(case: Case, active: Sequence[Cause]) -> tuple[Group, ...]:
    """Of all columns, in their order."""
    at = {key: column for column, key in enumerate((c.name, i) for c in active for i in c.items)}
    out: list[Group] = []
    for cause in active:
        parts: list[_Part]
        if cause.name in TOGETHER:
            parts = [(cause.items, at.get((TOGETHER[cause.name], 0)), {i: (f"string_{i}_",) for i in cause.items})]
        elif case.is_plain_row or cause.name not in ("height", *_MAGNETS):
            parts = [((i,), None, {}) for i in cause.items]
        else:
            parts = _of_build(case, cause, at)
        out += [Group(columns=tuple(at[cause.name, i] for i in items), like=like,
                      answers=tuple(own[i] for i in items) if len(items) > 1 else ())
                for items, like, own in parts]
    return tuple(out)


def _of_build(case: Case, cause: Cause, at: Mapping[tuple[str, int], int]) -> list[_Part]:
    """Heights and magnets: row by row where that tells strings apart, else one by one."""
    own: _Answers = {}
    sets: list[tuple[int, ...]] = []
    for row in case.rows():
        numbers = range(row.before + 1, row.before + 1 + len(row.row.places()))
        items = tuple(n for n in numbers if n in cause.items)
        strings = one_under_each(case, row)
        if strings is None:
            sets += [(n,) for n in items]
        elif items:
            own |= {n: (f"pole_{n}_", *strings.get(n, ())) for n in items}
            sets.append(items)
    rest = [n for n in cause.items if not any(n in items for items in sets)]
    sets += [(n,) for n in rest]  # bodies
    magnets = {m.number: m for m in magnets_of(case)}
    return [(items, _batch(case, cause, [magnets[n] for n in items], at) if cause.name in _MAGNETS else None, own)
            for items in sets]


def one_under_each(case: Case, row: PoleRow) -> dict[int, tuple[str, ...]] | None:
    """For each pole's number how the names of its string's responses begin; None unless every string has a pole of
    this row to itself, right under it.
    """
    places = row.row.places()
    apart = min((abs(a - b) for i, a in enumerate(places) for b in places[:i]), default=np.inf)
    found: dict[int, tuple[str, ...]] = {}
    for i, y in enumerate(string_places(case), start=1):
        pole = row.nearest(y)
        if abs(places[pole] - y) > UNDER * apart or row.before + pole + 1 in found:
            return None
        found[row.before + pole + 1] = (f"string_{i}_",)
    return found


def _batch(case: Case, cause: Cause, group: Sequence[Magnet], at: Mapping[tuple[str, int], int]) -> int | None:
    """The column of the batch that these magnets are the whole of, if there is one."""
    base, members = _MAGNETS[cause.name], {m.number for m in group}
    if base == "charge":
        return at.get((base, 0)) if members == set(cause.items) else None
    loops = [name for name in batches_of(case) if base != "coercivity" or has_coercivity(case, name)]
    used = {name for m in group for name in m.materials if name in loops}
    whole = {m.number for m in magnets_of(case) if used & set(m.materials)}
    return at.get((base, batches_of(case)[used.pop()])) if len(used) == 1 and whole == members else None
