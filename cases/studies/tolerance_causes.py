"""What scatters in a pickup, within which limits and why: the causes of a tolerance study.

A cause deviates by limit · t. Independent numbers u, even on (0, 1), give the t of every cause:

    normal       t = Φ⁻¹(Φ(−3) + u (1 − 2 Φ(−3)))/3: the limits lie at three standard deviations, where it is cut off
    even         t = 2u − 1
    one-sided    (charge) the half of that below 0, so t in (−1, 0)

Correlated remanence and coercivity (ρ): the coercivity's u becomes Φ(ρ Φ⁻¹(u_r) + √(1 − ρ²) Φ⁻¹(u_c)), which leaves
both with their own distribution.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from scipy.special import ndtr, ndtri

from stringflux.geometry.arrays import Array
from stringflux.geometry.case import Case
from stringflux.geometry.own_materials import LinearMagnet
from stringflux.postprocess.winding import resistance_per_length, resistance_per_length_range
from stringflux.solver.materials import MagnetCurve

from ..case_materials import case_materials

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
}
LENGTHS = frozenset({"height", "gap", "gap_each", "position", "position_each"})
ONE_SIDED = frozenset({"charge", "charge_each"})
SOFT_LOOP = 160e3  # A/m; alnico has less coercivity, ferrite and rare earths more


@dataclass(frozen=True, kw_only=True)
class Cause:
    """One kind of scatter.

    Attributes
    ----------
    name : str
        Its key under [scatter].
    title : str
    limit : float
        To either side (below only, if one-sided); a share, or a length in m.
    items : tuple of int
        Numbers (from 1) of the poles or strings that have a deviation of their own; (0,) if all share one.
    even : bool
        Spread evenly; else normal.
    given : bool
        Whether the case file says the limit.
    reason : str
        Why this limit.
    """

    name: str
    title: str
    limit: float
    items: tuple[int, ...]
    even: bool = False
    given: bool = False
    reason: str = ""

    @property
    def one_sided(self) -> bool:
        return self.name in ONE_SIDED

    def deviate(self, u: Array) -> Array:
        """t of numbers that are even on (0, 1)."""
        if self.even:
            return u - 1.0 if self.one_sided else 2.0 * u - 1.0
        below = ndtr(-3.0)
        u = u / 2 if self.one_sided else u
        return np.asarray(ndtri(below + u * (1.0 - 2.0 * below))) / 3.0


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
    """

    active: tuple[Cause, ...]
    correlation: float = 0.0
    off: Mapping[str, str] = field(default_factory=dict)

    @property
    def size(self) -> int:
        """How many independent numbers a pickup takes."""
        return sum(len(c.items) for c in self.active)

    def places(self) -> dict[tuple[str, int], int]:
        """Which of them is whose: (name of the cause, number of the pole or string) → column."""
        return {key: column for column, key in enumerate((c.name, i) for c in self.active for i in c.items)}

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
    poles, strings = _numbers(len(case.row.places())), _numbers(len(case.string))
    magnets = _magnet_poles(case)
    hard = _magnet_poles(case, without_linear=True)
    items = {"remanence": (0,), "remanence_each": magnets, "coercivity": (0,), "coercivity_each": hard,
             "charge": (0,), "charge_each": magnets, "height": poles, "gap_each": strings, "position_each": strings}
    usual, off, active = usual_limits(case), dict[str, str](), []
    for name, title in TITLES.items():
        value, given = getattr(case.scatter, name), True
        reason = "the case file"
        if value is None:
            given = False
            value, reason = usual[name]
        if not (hard if name.startswith("coercivity") else magnets) and name.split("_")[0] in (
                "remanence", "coercivity", "charge"):
            off[title] = "there is no magnet with it"
        elif value == 0:
            off[title] = reason if not given else "0 in the case file"
        else:
            active.append(Cause(name=name, title=title, limit=value, items=items.get(name, (0,)),
                                even=name in case.scatter.even, given=given, reason=reason))
    return Causes(active=tuple(active), correlation=case.scatter.correlation, off=off)


def usual_limits(case: Case) -> dict[str, tuple[float, str]]:
    """Limits where the case gives none, with the reason for each."""
    materials = case_materials(case)
    used = [m for m in materials.values() if isinstance(m, MagnetCurve)]
    soft = all(m.coercivity < SOFT_LOOP for m in used)
    grade = ("alnico grades scatter by 5 to 10 % in Br and Hc (the trade's experience, no source)" if soft
             else "assumed for ferrite and rare earths; no source")
    each = "assumed, less than half of what batches differ by; no source"
    together = case.history == "after"
    wire, wire_reason = _wire(case)
    return {
        "remanence": (0.05 if soft else 0.03, grade),
        "coercivity": (0.10, grade),
        "remanence_each": (0.02 if soft else 0.01, each),
        "coercivity_each": (0.04, each),
        "charge": (0.05, "a weak charger, or an old magnet; assumed, no source"),
        "charge_each": (0.0, "the magnets were charged together") if together
        else (0.05, "the magnets were charged one by one; assumed, no source"),
        "height": (0.1e-3, "set by hand to a rule; common practice, no source"),
        "gap": (0.2e-3, "set by screws to a rule; common practice, no source"),
        "gap_each": (0.1e-3, "saddles, nut and the string's own bow; common practice, no source"),
        "position": (0.3e-3, "how the pickup sits under the strings; common practice, no source"),
        "position_each": (0.2e-3, "slots of nut and saddles; common practice, no source"),
        "turns": (0.01, "a counter missed at start and end; common practice, no source"),
        "wire": (wire, wire_reason),
    }


def _wire(case: Case) -> tuple[float, str]:
    wire = case.coil.winding_wire()
    nominal = resistance_per_length(wire.bare)
    low, high = resistance_per_length_range(wire)
    share = max(1 - math.sqrt(nominal / high), math.sqrt(nominal / low) - 1)
    standard = "NEMA MW 1000" if "awg" in wire.name.lower() else "IEC 60317-0-1"
    return share, f"limits of its standard, {standard}"


def _magnet_poles(case: Case, *, without_linear: bool = False) -> tuple[int, ...]:
    """Numbers of the poles that hold a magnet."""
    out: list[int] = []
    for entry, pole in enumerate(case.pole):
        parts = [p for p in pole.part if p.polarity is not None and not (
            without_linear and isinstance(case.materials.get(p.material), LinearMagnet))]
        out += case.pole_numbers(entry) if parts else ()
    return tuple(sorted(out))


def _numbers(count: int) -> tuple[int, ...]:
    return tuple(range(1, count + 1))

