"""What magnetises bars of finite length, and how they are then magnetised."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array

from .bar_charges import BarCharges

Outer = Callable[[Array], Array]
"""A source's H (3, n) in A/m at points (3, n), less what the endless section has of it."""

Sampled = Sequence[Array]
"""The same at the lines and samples of each part: :meth:`.LongBars.sampled`."""


@dataclass(frozen=True, kw_only=True, eq=False)
class State:
    """What magnetises bars, and how they take it.

    Attributes
    ----------
    chi : sequence of arrays (3, e, q)
        Susceptibility of each part across: xx, xz, zz.
    chi_along : sequence of arrays (e, q)
        Along the bars.
    own : sequence of arrays (2, e, q)
        M₀ of each part in the endless section, A/m.
    outer : sequence of arrays (3, lines, points), optional
        A source outside the bars.
    """

    chi: Sequence[Array]
    chi_along: Sequence[Array]
    own: Sequence[Array]
    outer: Sampled | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class Magnetised:
    """Magnetisation of the bars of finite length.

    Attributes
    ----------
    charges : tuple of BarCharges
        What makes their field, part by part.
    across : tuple of arrays
        Of each part, m (ways, 2, e, q) with the endless section's first, and their amplitudes (ways, hats).
    along : tuple of arrays
        Of each part, ∫ M_y w of its ways (n, ways) and their amplitudes (ways, hats), per m.
    own : tuple of arrays (n, ways)
        The charges of the ways across and then of those along, A: at every y with `amplitudes`.
    """

    charges: tuple[BarCharges, ...]
    across: tuple[tuple[Array, Array], ...]
    along: tuple[tuple[Array, Array], ...]
    own: tuple[Array, ...]

    @property
    def amplitudes(self) -> tuple[Array, ...]:
        """Of each part's `own`, (ways, hats)."""
        return tuple(np.concatenate([a, c]) for (_, a), (_, c) in zip(self.across, self.along, strict=True))
