r"""Hum of several coils together, and what spoils the cancellation of a pair.

In a field that is uniform over all coils the areas add with the coils' shares w (:mod:`.shares`)::

    A = Σ w_i A_i,      V = 2π f |A·B|,      residue in dB = 20 log₁₀ |A|/|A_1|

Two alike in series, wound or connected against each other, have A_1 = −A_2 and hear nothing. What is left comes from
turns (A_i ∝ N_i), from unlike poles or windows (A_i per turn), and from coils that are not parallel to each other.
By turns alone of coil i the part along its own area can be taken away; one turn changes V by ::

    ∂V/∂N_i = 2π f B (A·a_i)/|A|,   a_i = w_i A_i/N_i;      least |A| at  ΔN_i = −(A·a_i)/|a_i|²

A field that falls off across the pickup (a transformer or lamp near by) is not uniform: it makes one coil hear more
than the other, and no number of turns cures that for more than one place. That is not computed here. m², T, Hz, V.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.solver.coil.air import mean_area
from stringflux.solver.solid.solve import SolvedSolid

from .hum import HumArea

REFERENCE_FIELD = 1e-6
"""Field that residues are told for, T rms."""


def combined_area(areas: Sequence[HumArea], weights: Array) -> HumArea:
    """Area of coils in series, in parallel or alone.

    Parameters
    ----------
    areas : sequence of HumArea
        Of each coil as it is wound.
    weights : array (k,)
        Shares of the coils: signs in series.

    Examples
    --------
    >>> up = HumArea(turns=np.array([0.0, 0.0, 0.9]), poles=np.array([0.0, 0.0, 0.2]))
    >>> down = HumArea(turns=-up.turns, poles=-up.poles)
    >>> combined_area((up, down), np.array([1.0, 1.0])).voltage(1e-6, 50.0)
    0.0
    """
    if len(areas) != len(weights):
        raise ValueError(f"received {len(areas)} areas and {len(weights)} weights; write one of each for every coil")
    return HumArea(turns=np.sum([w * a.turns for w, a in zip(weights, areas, strict=True)], axis=0),
                   poles=np.sum([w * a.poles for w, a in zip(weights, areas, strict=True)], axis=0))


@dataclass(frozen=True, kw_only=True, eq=False)
class HumResidue:
    """What coils together hear, and how one of them is trimmed.

    Attributes
    ----------
    area : HumArea
        Of all together.
    alone : HumArea
        Of the loudest coil alone.
    frequency : float
        Of the mains, Hz.
    voltage, voltage_alone : float
        V rms in 1 µT rms, each in the direction it hears best.
    level : float
        The first over the second, dB; −inf where nothing is left.
    per_turn : array (k,)
        How much V changes with one more turn on each coil, V in that field; from nothing it grows by as much.
    trim : array (k,)
        Turns to put on (or, negative, to take off) for the least hum, if only that coil is changed; nan for
        one that is not connected.
    trimmed_level : array (k,)
        What is then left against the loudest coil alone, dB.
    """

    area: HumArea
    alone: HumArea
    frequency: float
    voltage: float
    voltage_alone: float
    level: float
    per_turn: Array
    trim: Array
    trimmed_level: Array


def solid_areas(solved: SolvedSolid, turns: Sequence[float]) -> tuple[HumArea, ...]:
    """Area of every coil of a 3-D solution; `turns` are signed by the sense they are wound in."""
    up = np.array([0.0, 0.0, 1.0])
    return tuple(HumArea(turns=n * mean_area(coil) * up, poles=n * moment)
                 for n, coil, moment in zip(turns, solved.coils, solved.signal.moment, strict=True))


def hum_residue(areas: Sequence[HumArea], turns: Sequence[float], weights: Array, frequency: float) -> HumResidue:
    """Residue of coils that should cancel each other's hum.

    Parameters
    ----------
    areas : sequence of HumArea
        Of each coil as it is wound.
    turns : sequence of float
        Of each coil, above 0.
    weights : array (k,)
        Shares of the coils; those of parallel coils move a little with the turns, which is left out.
    frequency : float
        Of the mains, Hz.

    Examples
    --------
    One turn in five thousand too many:

    >>> def coil(turns):
    ...     return HumArea(turns=np.array([0.0, 0.0, 2e-4 * turns]), poles=np.zeros(3))
    >>> found = hum_residue((coil(5001.0), coil(-5000.0)), (5001.0, 5000.0), np.ones(2), 50.0)
    >>> round(found.level, 1), found.trim.round(6).tolist(), (found.per_turn * 1e9).round(1).tolist()
    (-74.0, [-1.0, 1.0], [62.8, -62.8])
    """
    whole = combined_area(areas, weights)
    each = np.array([w * a.total for w, a in zip(weights, areas, strict=True)])
    loudest = int(np.argmax(np.linalg.norm(each, axis=1)))
    per_turn = each / np.asarray(turns, dtype=float)[:, None]
    A, size = whole.total, np.linalg.norm(per_turn, axis=1)
    left = float(np.linalg.norm(A))
    used = size > 0
    trim = np.full(len(areas), np.nan)
    trim[used] = -(per_turn[used] @ A) / size[used] ** 2
    after = A + np.where(used, trim, 0.0)[:, None] * per_turn
    alone = areas[loudest]
    reference = float(np.linalg.norm(alone.total))
    to_volt = 2 * np.pi * frequency * REFERENCE_FIELD
    slope = size if left <= _ROUNDING * reference else per_turn @ A / left
    return HumResidue(
        area=whole, alone=alone, frequency=frequency, voltage=whole.voltage(REFERENCE_FIELD, frequency),
        voltage_alone=alone.voltage(REFERENCE_FIELD, frequency), level=_decibel(left / reference),
        per_turn=to_volt * slope, trim=trim,
        trimmed_level=np.array([_decibel(float(np.linalg.norm(a)) / reference) for a in after]),
    )


_ROUNDING = 1e-12  # of a coil's area: less is nothing


def _decibel(ratio: float) -> float:
    return 20 * float(np.log10(ratio)) if ratio > _ROUNDING else -np.inf
