r"""The bias of a row by that of a row that differs little: where poles stand, or what their magnets are.

A pole takes its magnetisation along, for what its neighbours make of it is small beside it and changes less. From the
charges of the other row, moved to where the poles are now, each pole whose surroundings changed answers once::

    φ_ext = what the others' charges make at it now
    order 0:  the whole curve, from the state before             m ≥ 1:  q = q_before + (signal's answer) Δφ_ext

Poles of another magnet begin with what they are alone, and go round twice. The small signal is linear, and is solved.

Over a row of six alike, one pole moved by 1 mm, B₀ at the strings is within 0.3 % of the settled row, S within 0.3 %
(`tests/cases/jobs/test_estimate.py`). It is for a first look while the settled row is computed.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import PlacedPole, PoleShape

from ..materials.kinds import is_magnet
from .coupling import Beat, Links, RowCharges, RowPole, collected, go_on, mirror_images
from .numerics import SHIPPED, RowNumerics
from .pole import PoleCells
from .ring_table import PoleField

_MOVED = 3e-3  # of what a pole answers to: surroundings that changed less are as they were
_TOLERANCE = 1e-3  # of the order 0
_SAME = 1e-3  # of a pole's charges: those that changed less are left where they are


@dataclass(frozen=True, kw_only=True)
class Nearby:
    """A solved row that differs little.

    Attributes
    ----------
    places : sequence of PlacedPole
    cells : mapping
        Cells by pole shape.
    poles : sequence of PoleField
    bias, signal : RowCharges
    low, high : float
        Between which heights over the top plate fields are asked for, m.
    """

    places: Sequence[PlacedPole]
    cells: Mapping[PoleShape, PoleCells]
    poles: Sequence[PoleField]
    bias: RowCharges
    signal: RowCharges
    low: float
    high: float

    def cells_of(self, shape: PoleShape, faces: Sequence[float]) -> PoleCells | None:
        """Its cells of a pole shape, where their table serves such poles with these faces, m; else None."""
        found = self.cells.get(shape)
        if found is None or self.low - max(faces) < found.table.z[0] or self.high - min(faces) > found.table.z[-1]:
            return None
        return found

    def field_of(self, i: int, shape: PoleShape, bias: Array, signal: Array) -> PoleField | None:
        """The field of its pole i, where that is of the same shape, with nearly the same charges; else None."""
        if self.places[i].shape != shape:
            return None
        there = _near(bias, self.bias.charges[i]) and _near(signal, self.signal.charges[i])
        return self.poles[i] if there else None


def _near(a: Array, b: Array) -> bool:
    return bool(np.linalg.norm(a - b) <= _SAME * np.linalg.norm(a))


def bias_near(poles: Sequence[RowPole], places: Sequence[PlacedPole], before: RowCharges, history: str,
              numerics: RowNumerics = SHIPPED, links: Links | None = None, beat: Beat = go_on) -> RowCharges:
    """The bias of `poles`, by that of as many poles at `places` before.

    Parameters
    ----------
    poles : sequence of RowPole
    places : sequence of PlacedPole
    before : RowCharges
        Of :func:`.coupling.couple_bias`.
    history : {"before", "after"}
    numerics : RowNumerics
    links : Links, optional
    beat : callable
        As of :func:`.coupling.couple_bias`.
    """
    link, orders = links or Links(numerics), numerics.orders
    same = [p.place.shape == q.shape for p, q in zip(poles, places, strict=True)]
    nothing = [np.zeros((orders, p.bias.section.pole.size)) for p in poles]
    charges = [before.charges[i] if same[i] else _alone(p, orders) for i, p in enumerate(poles)]
    states = [before.states[i] if same[i] else p.alone for i, p in enumerate(poles)]
    outer = [before.outer[i] if same[i] else nothing[i] for i in range(len(poles))]
    waves = [before.waves[i] if same[i] else None for i in range(len(poles))]
    tangents = {id(p.bias): p.bias.run(p.tangent) for p in poles}
    first = mirror_images([p.place for p in poles]) or list(range(len(poles)))
    flip = ((-1.0) ** np.arange(orders))[:, None]
    far = [collected(p, q) for p, q in zip(poles, charges, strict=True)]
    for _ in range(1 if all(same) else 2):
        for i, p in enumerate(poles):
            beat()
            if first[i] != i:
                charges[i], far[i], outer[i] = (flip * a[first[i]] for a in (charges, far, outer))
                states[i] = states[first[i]]
                continue
            at_rings = sum(np.einsum("mknl,nl->mk", link(p, poles[j]), far[j]) for j in range(len(poles)) if j != i)
            now = np.stack([p.far.spread[m] @ at_rings[m] for m in range(orders)]) if len(poles) > 1 else nothing[i]
            if same[i] and np.linalg.norm(now - outer[i]) <= _MOVED * np.linalg.norm(now):
                continue
            exact = 1.0 if all(is_magnet(m) for m in p.bias.materials) else numerics.steel
            states[i] = p.bias.solve(now[0], start=states[i], history=p.alone if history == "before" else None,
                                     tolerance=exact * _TOLERANCE, tangent=tangents[id(p.bias)], waves=waves[i])
            change = now - outer[i]
            charges[i] = np.stack([states[i].charges[p.bias.section.pole], *(
                charges[i][m] + p.signal.order(m).charges(change[m]) for m in range(1, orders))])
            outer[i], far[i] = now, collected(p, charges[i])
    return RowCharges(charges=tuple(charges), rounds=1, coupling=0.0, outer=tuple(outer), states=tuple(states),
                      waves=tuple(waves))


def _alone(pole: RowPole, orders: int) -> Array:
    charges = np.zeros((orders, pole.bias.section.pole.size))
    charges[0] = pole.alone.charges[pole.bias.section.pole]
    return charges
