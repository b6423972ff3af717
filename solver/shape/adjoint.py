r"""From weights on a row's results to the derivative with the places of a pole's nodes.

Given ∂J/∂g of the bias' and the signal's ring charges, of the answer S_m to strings and of the inductance:

1. the rounds of :mod:`.row` backwards, ḡ_i = ∂J/∂g_i + Σ_j L_jiᵀ ē_j with ē_j = P_jᵀ ḡ_j, P_j pole j's
   linearised answer at the solution (:class:`.cell.BiasAdjoint` for the bias of order 0; the small-signal
   answers are symmetric);
2. for every pole of the changing shape the derivative of λᵀR + Σ w̄ q with the nodes' places
   (:mod:`.pole_sum`) and that of its interpolation;
3. what depends on the pole alone (reversible permeability of steel, the lowest B of a magnet) as weights on
   its own bias state: one more back-substitution.

The cost does not depend on the number of shape parameters.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import SolveError

from ..constants import MU0
from ..row.coupling import mirror_images
from .cell import BiasAdjoint, ShapeCell
from .pole_sum import DriveOnPole, PoleSum
from .row import ROW_ORDERS, RowLinks, RowState, answers

_SETTLED = 1e-5  # of the largest: the gradient errs by less than that
_ROUNDS = 80
_KEEP = 1e-9  # of the largest: smaller eigenvalues of the weights on S are left out


@dataclass(frozen=True, kw_only=True, eq=False)
class RowWeights:
    """∂J/∂ of everything that a row hands on.

    Attributes
    ----------
    bias, signal : tuple of arrays (orders, K)
        With each pole's ring charges.
    inductance : float
        With what the poles add to the inductance of one turn, 1/H.
    response : tuple of arrays (n_m, n_m), or ()
        With the answer S_m of the changing shape to each basis of strings' potentials, symmetric.
    bases : tuple of arrays (K, n_m)
        These bases, on the rings.
    """

    bias: tuple[Array, ...]
    signal: tuple[Array, ...]
    inductance: float
    response: tuple[Array, ...]
    bases: tuple[Array, ...]


def inductance_of(state: RowState) -> float:
    """What the poles add to the inductance of one turn, H."""
    c = order_weights(ROW_ORDERS)
    total = 0.0
    for cell, q, v, e in zip(state.cells, state.driven, state.drive, state.signal_external, strict=True):
        for m in range(ROW_ORDERS):  # the answer is symmetric: that of the coil alone weighs the neighbours' part too
            total -= MU0 * c[m] * float(q[m] @ (v[m] + cell.between.matrices[m] @ e[m]))
    return total


def order_weights(orders: int) -> Array:
    """∫ cos² mα dα."""
    return np.where(np.arange(orders) == 0, 2 * np.pi, np.pi)


def node_derivative(row: RowLinks, state: RowState, weights: RowWeights, changing: Sequence[int],
                    drives: Sequence[DriveOnPole]) -> Array:
    """∂J/∂X of the mesh's nodes, (2, vertices).

    Parameters
    ----------
    changing : sequence of int
        The poles of the changing shape; they share one cell.
    drives : sequence of DriveOnPole
        One for each of them.
    """
    return _Sweep(row, state, weights).run(changing, drives)


def bias_adjoints(row: RowLinks, state: RowState) -> list[BiasAdjoint]:
    """Every pole's bias, ready for adjoints; poles that are mirror images share theirs."""
    made: dict[int, BiasAdjoint] = {}
    like: dict[ShapeCell, BiasAdjoint] = {}
    out = []
    for i, (cell, s) in enumerate(zip(state.cells, state.states, strict=True)):
        if id(s) not in made:
            external = np.zeros(cell.section.unknowns)
            external[cell.section.pole] = cell.between.matrices[0] @ state.bias_external[i][0]
            memory = state.alone[i] if row.history == "before" and len(state.cells) > 1 else None
            made[id(s)] = BiasAdjoint(cell=cell, state=s, external=external, memory=memory,
                                      like=cell.references.get(i, like.get(cell)))
            like.setdefault(cell, made[id(s)])
        out.append(made[id(s)])
    return out


class _Sweep:
    def __init__(self, row: RowLinks, state: RowState, weights: RowWeights) -> None:
        self.row, self.state, self.weights = row, state, weights
        # in a row that is its own mirror image only the symmetric part of the weights counts: half of the poles do
        twins = mirror_images(row.places, row.centre)
        self.mirrored = twins is not None
        self.first = twins or list(range(len(row.places)))
        self.bias = bias_adjoints(row, state)

    def run(self, changing: Sequence[int], drives: Sequence[DriveOnPole]) -> Array:
        self.drive_weight = -MU0 * self.weights.inductance * order_weights(ROW_ORDERS)
        signal = self._settle(self.weights.signal, self._signal_seeds, self._signal_back)
        bias = self._settle(self.weights.bias, self._bias_seeds, self._bias_back)
        cell = self.state.cells[changing[0]]
        pole = PoleSum(cell)
        count = {i: float(self.first.count(i)) for i in changing if self.first[i] == i}
        for i, drive in zip(changing, drives, strict=True):
            for m in range(ROW_ORDERS if i in count else 0):
                pole.pair(m, self.state.signal_external[i][m], count[i] * signal[i][m],
                          drive, count[i] * self.drive_weight[m])
                if m > 0:
                    pole.pair(m, self.state.bias_external[i][m], count[i] * bias[i][m])
        for m, (S, U) in enumerate(zip(self.weights.response, self.weights.bases, strict=True)):
            values, vectors = np.linalg.eigh((S + S.T) / 2)
            for k in np.flatnonzero(np.abs(values) > _KEEP * np.max(np.abs(values), initial=0.0)):
                e = U @ vectors[:, k]
                pole.pair(m, e, values[k] * e)
        pole.signal()
        single = len(self.state.cells) == 1
        for i, times in count.items():
            pole.bias(self.bias[i], self.state.bias_external[i][0], times * bias[i][0], own=single)
        if not single:
            pole.alone(self.state.alone[changing[0]], self.bias[changing[0]])
        return pole.total()

    def _signal_seeds(self, seeds: Sequence[Array]) -> list[Array]:
        cells = self.state.cells
        w = [np.stack([c.between.matrices[m] @ s[m] + self.drive_weight[m] * d[m] for m in range(ROW_ORDERS)])
             for c, s, d in zip(cells, seeds, self.state.drive, strict=True)]
        return [np.stack([c.gather(m, q) for m, q in enumerate(qs)])
                for c, qs in zip(cells, answers(cells, w), strict=True)]

    def _signal_back(self, i: int, g: Array) -> Array:
        return np.stack([self.state.cells[i].to_far(m, g[m]) for m in range(ROW_ORDERS)])

    def _bias_seeds(self, seeds: Sequence[Array]) -> list[Array]:
        return [self._bias(i, s, near=True) if np.any(s) else np.zeros_like(s) for i, s in enumerate(seeds)]

    def _bias_back(self, i: int, g: Array) -> Array:
        return self._bias(i, g, near=False)

    def _bias(self, i: int, g: Array, near: bool) -> Array:
        c = self.state.cells[i]
        e = [self.bias[i].answer(g[0][:, None])[:, 0] if near else self.bias[i].to_far(g[0])]
        for m in range(1, ROW_ORDERS):
            e.append(c.gather(m, c.answer(m, c.between.matrices[m] @ g[m])) if near else c.to_far(m, g[m]))
        return np.stack(e)

    def _settle(self, seeds: Sequence[Array], from_seeds: Callable[[Sequence[Array]], list[Array]],
                back: Callable[[int, Array], Array]) -> list[Array]:
        """ḡ of every pole."""
        n = len(seeds)
        flip = ((-1.0) ** np.arange(ROW_ORDERS))[:, None]
        if self.mirrored:
            seeds = [(s + flip * t) / 2 for s, t in zip(seeds, reversed(seeds), strict=True)]
        if n == 1:
            return list(seeds)
        own = from_seeds(seeds)
        e = list(own)
        for _ in range(_ROUNDS):
            change, size = 0.0, 0.0
            for i in range(n):
                new = own[i] + back(i, self.row.back(i, e)) if self.first[i] == i else flip * e[self.first[i]]
                change = max(change, float(np.linalg.norm(new - e[i])))
                size = max(size, float(np.linalg.norm(new)))
                e[i] = new
            if change <= _SETTLED * size:
                return [s + self.row.back(i, e) for i, s in enumerate(seeds)]
        raise SolveError(f"the derivative of the row did not settle in {_ROUNDS} rounds; poles this close need a "
                         "larger pitch")
