"""What scatters in a pickup, within which limits and why: the causes of a tolerance study.

What a cause makes of a number u, even on (0, 1), stands in :mod:`.cause`. Correlated remanence and coercivity (ρ):
the coercivity's u becomes Φ(ρ Φ⁻¹(u_r) + √(1 − ρ²) Φ⁻¹(u_c)), which leaves both with their own distribution.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from scipy.special import ndtr, ndtri

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case

from .cause import Cause
from .groups import TOGETHER, Group, groups_of
from .parts import batches_of, has_coercivity, held_strings, magnets_of, pole_count, refuse_heights_unsaid
from .usual import Usual, usual_limits

TITLES: Mapping[str, str] = {
    "remanence": "remanence, batch",
    "remanence_each": "remanence, each magnet",
    "coercivity": "coercivity, batch",
    "coercivity_each": "coercivity, each magnet",
    "charge": "charge, all magnets",
    "charge_each": "charge, each magnet",
    "height": "height of each pole",
    "gap": "gap, all strings",
    "gap_each": "gap, each string",
    "position": "place across, all strings",
    "position_each": "place across, each string",
    "turns": "turns",
    "wire": "diameter of the wire",
    "pinning": "pinning of the steel, all strings",
    "pinning_each": "pinning of the steel, each string",
}
LENGTHS = frozenset({"height", "gap", "gap_each", "position", "position_each"})
NO_ROW = "this case has no row of poles"
NO_MEMORY = "no string has a steel that remembers"
NO_MAGNET = "there is no magnet with it"
BODIES = "places and sizes of bodies, coils and rows"


@dataclass(frozen=True, kw_only=True)
class Causes:
    """All causes of a case, with their places in a row of numbers.

    Attributes
    ----------
    active : tuple of Cause
        Those with a limit above 0.
    correlation : float
        Of remanence and coercivity.
    off : mapping of str to str
        Causes that play no part, by title, and why.
    groups : tuple of Group
        Which designed runs serve which columns.
    build : bool
        Whether the case is no plain row of poles, so that every magnet or height is a 3-D solution.
    """

    active: tuple[Cause, ...]
    correlation: float = 0.0
    off: Mapping[str, str] = field(default_factory=dict)
    groups: tuple[Group, ...] = ()
    build: bool = False

    @property
    def size(self) -> int:
        """How many independent numbers a pickup takes."""
        return sum(len(c.items) for c in self.active)

    def places(self) -> dict[tuple[str, int], int]:
        """Which of them is whose: (name of the cause, number of the pole or string) → column."""
        return {key: column for column, key in enumerate((c.name, i) for c in self.active for i in c.items)}

    @property
    def rows_together(self) -> bool:
        """Whether parts of a row are off together in some runs."""
        return any(name.startswith("pole_") for g in self.groups for names in g.answers for name in names)

    def limits(self) -> Array:
        """The limit of every column, (size,)."""
        return np.array([c.limit_of(i) for c in self.active for i in c.items])

    def columns(self) -> dict[str, list[int]]:
        """The columns of every cause."""
        at = self.places()
        return {c.name: [at[c.name, i] for i in c.items] for c in self.active}

    def deviations(self, u: Array) -> Array:
        """t (…, size) of independent numbers u (…, size) even on (0, 1)."""
        u, at, rho = np.array(u, dtype=float), self.places(), self.correlation
        for (name, item), column in at.items():
            partner = at.get((name.replace("coercivity", "remanence"), item))
            if rho and name.startswith("coercivity") and partner is not None:
                z_r, z_c = ndtri(u[..., partner]), ndtri(u[..., column])
                u[..., column] = ndtr(rho * z_r + math.sqrt(1 - rho**2) * z_c)
        return np.stack([c.deviate(u[..., at[c.name, i]]) for c in self.active for i in c.items], axis=-1)


def causes_of(case: Case) -> Causes:
    """The causes of a case: its own limits, else the usual ones with their reasons."""
    poles, strings = _numbers(pole_count(case)), _numbers(len(case.string))
    coils = _numbers(len(case.coils())) if len(case.coils()) > 1 else (0,)
    magnets, batches = magnets_of(case), batches_of(case)
    each = tuple(m.number for m in magnets)
    hard = tuple(m.number for m in magnets if any(has_coercivity(case, name) for name in m.materials))
    items = {"remanence": tuple(batches.values()), "remanence_each": each,
             "coercivity": tuple(i for name, i in batches.items() if has_coercivity(case, name)),
             "coercivity_each": hard, "charge": (0,) if each else (), "charge_each": each,
             "height": poles, "gap_each": strings, "position_each": strings, "turns": coils, "wire": coils,
             "pinning": (0,) if held_strings(case) else (), "pinning_each": held_strings(case)}
    missing = {"height": NO_ROW, "pinning": NO_MEMORY, "pinning_each": NO_MEMORY}
    usual, off, active = usual_limits(case), dict[str, str](), []
    for name in TITLES:
        value, title = getattr(case.scatter, name), _title(name, case)
        given = value is not None
        used = Usual(limit=value, reason="the case file") if given else usual[name]
        parts = items.get(name, (0,))
        if not parts:
            off[title] = missing.get(name, NO_MAGNET)
        elif used.limit == 0:
            off[title] = "0 in the case file" if given else used.reason
        else:
            if name == "height":
                refuse_heights_unsaid(case)
            active.append(Cause(name=name, title=title, limit=used.limit, items=parts, even=name in case.scatter.even,
                                given=given, reason=used.reason, own=used.own, names=_names(name, case)))
    if not case.is_plain_row:
        off[BODIES] = "[scatter] has no limits for them"
    return Causes(active=tuple(active), correlation=case.scatter.correlation, off=off,
                  groups=groups_of(case, active), build=not case.is_plain_row)


def _title(name: str, case: Case) -> str:
    if name in ("turns", "wire") and len(case.coils()) > 1:
        return f"{TITLES[name]}, each coil"
    if name in ("remanence", "coercivity") and len(batches_of(case)) > 1:
        return f"{TITLES[name]} of each material"
    return TITLES[name]


def _names(name: str, case: Case) -> dict[int, str]:
    """What the parts of a cause are called, where that is not their number."""
    if name in ("turns", "wire") and len(case.coils()) > 1:
        return dict(enumerate(case.coil_names(), start=1))
    if name in ("remanence", "coercivity"):
        return {i: material for material, i in batches_of(case).items() if i}
    return {m.number: m.name for m in magnets_of(case)} if name.endswith("_each") and name not in TOGETHER else {}


def _numbers(count: int) -> tuple[int, ...]:
    return tuple(range(1, count + 1))
