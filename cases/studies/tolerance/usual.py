"""Limits of scatter where the case gives none, with the reason for each."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from stringflux.geometry.case.coil import Coil
from stringflux.geometry.case.model import Case
from stringflux.postprocess.coil.winding import resistance_per_length, resistance_per_length_range
from stringflux.solver.materials import Material, is_magnet

from ...solved.materials import case_materials
from .parts import batches_of, magnets_of, string_metals

SOFT_LOOP = 160e3  # A/m; alnico has less coercivity, ferrite and rare earths more
MOST_PINNING = 0.5  # as [scatter] takes
_EACH = "assumed, less than half of what batches differ by; no source"


@dataclass(frozen=True, kw_only=True)
class Usual:
    """A usual limit.

    Attributes
    ----------
    limit : float
        The largest, where the parts have different ones.
    reason : str
    own : mapping of int to float
        Limits of the parts that have another one.
    """

    limit: float
    reason: str
    own: Mapping[int, float] = field(default_factory=dict)


def usual_limits(case: Case) -> dict[str, Usual]:
    """By the key of [scatter]."""
    materials = case_materials(case)
    soft = {name: _is_soft(materials[name]) for name in batches_of(case)}
    grade = "; ".join(dict.fromkeys(
        "alnico grades scatter by 5 to 10 % in Br and Hc (the trade's experience, no source)" if is_soft
        else "assumed for ferrite and rare earths; no source" for is_soft in soft.values()))
    batches = {item: soft[name] for name, item in batches_of(case).items()}
    magnets = {m.number: all(soft[name] for name in m.materials) for m in magnets_of(case)}
    alone = Usual(limit=0.0, reason="the magnets were charged together")
    return {
        "remanence": _by_softness(0.05, 0.03, batches, grade),
        "coercivity": Usual(limit=0.10, reason=grade),
        "remanence_each": _by_softness(0.02, 0.01, magnets, _EACH),
        "coercivity_each": Usual(limit=0.04, reason=_EACH),
        "charge": Usual(limit=0.05, reason="a weak charger, or an old magnet; assumed, no source"),
        "charge_each": alone if case.history == "after" else Usual(
            limit=0.05, reason="the magnets were charged one by one; assumed, no source"),
        "height": Usual(limit=0.1e-3, reason="set by hand to a rule; common practice, no source"),
        "gap": Usual(limit=0.2e-3, reason="set by screws to a rule; common practice, no source"),
        "gap_each": Usual(limit=0.1e-3, reason="saddles, nut and the string's own bow; common practice, no source"),
        "position": Usual(limit=0.3e-3, reason="how the pickup sits under the strings; common practice, no source"),
        "position_each": Usual(limit=0.2e-3, reason="slots of nut and saddles; common practice, no source"),
        "turns": Usual(limit=0.01, reason="a counter missed at start and end; common practice, no source"),
        "wire": _wires(case),
        "pinning": _pinning(case),
        "pinning_each": Usual(limit=0.10, reason="wires of a set are drawn by different amounts; assumed, no source"),
    }


def _is_soft(material: Material) -> bool:
    """Linear magnets are not asked: what has no coercivity is taken as alnico is."""
    return not is_magnet(material) or material.coercivity < SOFT_LOOP


def _by_softness(soft: float, hard: float, parts: Mapping[int, bool], reason: str) -> Usual:
    limits = {number: soft if is_soft else hard for number, is_soft in parts.items()}
    return _of_parts(limits or {0: soft}, reason)


def _of_parts(limits: Mapping[int, float], reason: str) -> Usual:
    largest = max(limits.values())
    return Usual(limit=largest, reason=reason, own={n: v for n, v in limits.items() if v != largest})


def _pinning(case: Case) -> Usual:
    """As far to either side as the ranges of all metals go."""
    metals = {m.name: m for metals in string_metals(case) for m in metals}.values()
    least = min((min(m.pinning - m.pinning_range[0], m.pinning_range[1] - m.pinning) / m.pinning for m in metals),
                default=0.0)
    if least <= 0:
        return Usual(limit=0.0, reason="the case says how strongly its strings' steel is held")
    names = " and ".join(m.name for m in metals)
    return Usual(limit=min(least, MOST_PINNING),
                 reason=f"from maker to maker: what the table leaves open of {names}; no loop of string wire at hand")


def _wires(case: Case) -> Usual:
    coils = case.coils()
    found = [_wire(coil) for coil in coils]
    reason = " and ".join(dict.fromkeys(standard for _, standard in found))
    numbers = range(1, len(coils) + 1) if len(coils) > 1 else (0,)
    return _of_parts(dict(zip(numbers, (share for share, _ in found), strict=True)),
                     f"limits of its standard, {reason}")


def _wire(coil: Coil) -> tuple[float, str]:
    wire = coil.winding_wire()
    nominal = resistance_per_length(wire.bare)
    low, high = resistance_per_length_range(wire)
    share = max(1 - math.sqrt(nominal / high), math.sqrt(nominal / low) - 1)
    return share, "NEMA MW 1000" if "awg" in wire.name.lower() else "IEC 60317-0-1"
