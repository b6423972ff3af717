r"""Hum of pickups together: what a field of the mains that is the same at all of them makes at the amplifier.

A field B links A_i·B with pickup i (:mod:`..coil.hum`), which is an EMF, and H_i = V/E_i takes it to the amplifier
(:mod:`.network`), its sign that of the leads::

    v = 2πf Σ_i H_i A_i,     V_rms = |v·B_rms|

The worst direction is that of the largest singular value of the rows (Re v, Im v). Exchanged leads turn the sign of
one pickup, and so does a winding the other way round; with its magnets turned as well, the strings stay in phase.

References
----------
Derived here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from stringflux.geometry.arrays import Array

from ..coil.hum import MAINS
from .network import Mix

MICROTESLA = 1e-6  # T


@dataclass(frozen=True, kw_only=True)
class MixHum:
    """Hum with some of the pickups switched on.

    Attributes
    ----------
    pickups : tuple of int
        Which, from 0, among those of the mix.
    frequency : float
        Hz.
    voltage : float
        At the amplifier for one microtesla in the worst direction, rms, V.
    level : float
        dB over the loudest of them alone; −inf where nothing is left, nan where none alone hums.
    turned, turned_level : float
        The same with the last of them wound the other way round, or its leads exchanged; nan for one alone.
    """

    pickups: tuple[int, ...]
    frequency: float
    voltage: float
    level: float
    turned: float
    turned_level: float


def hum_voltage(mix: Mix, areas: Array, frequency: float, field: float = MICROTESLA) -> float:
    """At the amplifier, rms, V.

    Parameters
    ----------
    mix : Mix
    areas : array (inputs, 3)
        A of every input as it is wound, m²; leads are the mix's matter.
    frequency : float
        Hz.
    field : float
        Rms, T, in the worst direction.
    """
    v = 2 * np.pi * frequency * mix.transfer(np.array([frequency]))[:, 0] @ np.asarray(areas, dtype=float)
    return field * float(np.linalg.norm(np.stack([v.real, v.imag]), ord=2))


def every_hum(mix: Mix, areas: Array, frequency: float = MAINS[0]) -> tuple[MixHum, ...]:
    """Of every choice of pickups, the single ones first."""
    count = len(mix.inputs)
    alone = [hum_voltage(mix.only((i,)), areas[[i]], frequency) for i in range(count)]
    found = []
    for size in range(1, count + 1):
        for chosen in combinations(range(count), size):
            some, own = mix.only(chosen), areas[list(chosen)]
            loudest = max(alone[i] for i in chosen)
            voltage = hum_voltage(some, own, frequency)
            turned = math.nan if size == 1 else hum_voltage(some.with_reversed(size - 1), own, frequency)
            found.append(MixHum(pickups=chosen, frequency=frequency, voltage=voltage, level=_level(voltage, loudest),
                                turned=turned, turned_level=_level(turned, loudest)))
    return tuple(found)


def choice_name(names: Sequence[str], chosen: Sequence[int]) -> str:
    """What is switched on, in words.

    Examples
    --------
    >>> choice_name(["neck", "middle", "bridge"], (0, 2)), choice_name(["neck", "bridge"], (1,))
    ('neck and bridge', 'bridge alone')
    """
    said = [names[i] for i in chosen]
    return f"{said[0]} alone" if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"


def _level(voltage: float, over: float) -> float:
    if math.isnan(voltage) or over == 0.0:
        return math.nan
    return 20 * math.log10(voltage / over) if voltage > 1e-12 * over else -math.inf
