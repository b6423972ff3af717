"""The row around a pole of changing shape: its coupling, on rings that stay where they are.

What :mod:`.row.coupling` does, with three differences: potentials and charges are exchanged on the fixed rings of
:mod:`.grid`, so the links between poles are constants; the rounds go on until 1e-8, so that neither
differences nor derivatives of designs see where they stop; what neighbours make at a pole lives in a space of few
dimensions, so its small-signal answers are a small matrix; and a solution starts from that of the starting shape,
so a design's figures do not depend on what was computed before.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import SolveError
from stringflux.geometry.shapes.row import PlacedPole

from ..materials.signal import slope_with_bias
from ..row.bias_waves import PoleWaves, WaveSpace
from ..row.coupling import mirror_images, ring_link
from ..section.bias import BiasState
from .cell import TOLERANCE, ShapeCell

ROW_ORDERS = 3
SETTLED = 1e-8
_ROUNDS = 80
_BENT_SETTLED = 1e-6  # of what the whole curves add: a constant, seen by no difference of designs
_FAR_KEEP = 1e-7  # of the largest singular value of what neighbours make at a pole


@dataclass(frozen=True, kw_only=True, eq=False)
class RowState:
    """A coupled row, by pole.

    Attributes
    ----------
    cells : tuple of ShapeCell
    alone : tuple of BiasState
        Of each pole's shape by itself.
    states : tuple of BiasState
        In the row.
    drive : tuple of arrays (orders, k)
        The coil's potentials at the unknowns, A per ampere.
    bias, signal : tuple of arrays (orders, K)
        Charges on the rings, of the bias and per ampere in one turn.
    bias_external, signal_external : tuple of arrays (orders, K)
        Potentials of the other poles on the rings.
    driven : tuple of arrays (orders, k)
        Charges at the unknowns that answer to the coil alone, per ampere in one turn.
    """

    cells: tuple[ShapeCell, ...]
    alone: tuple[BiasState, ...]
    states: tuple[BiasState, ...]
    drive: tuple[Array, ...]
    bias: tuple[Array, ...]
    signal: tuple[Array, ...]
    bias_external: tuple[Array, ...]
    signal_external: tuple[Array, ...]
    driven: tuple[Array, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class RowLinks:
    """What couples the poles, whatever their shape.

    Attributes
    ----------
    places : tuple of PlacedPole
    links : dict of (i, j) to array (orders, K_i, orders, K_j)
        Potentials at pole i's rings per charge on pole j's.
    history : {"before", "after"}
    centre : float
        y of the coil's middle, m.
    bent : tuple of arrays (orders, K), or ()
        What :mod:`.row.bias_waves` adds to each pole's bias charges at the start (:func:`bent`), kept for all
        designs.
    """

    places: tuple[PlacedPole, ...]
    links: dict[tuple[int, int], Array]
    history: str
    centre: float
    bent: tuple[Array, ...] = ()

    def onto(self, i: int, charges: Sequence[Array]) -> Array:
        """Potentials (orders, K_i) of the charges of all others."""
        total = np.zeros_like(charges[i])
        for j, g in enumerate(charges):
            if j != i:
                link = self.links[i, j]
                total += (link.reshape(total.size, -1) @ g.ravel()).reshape(total.shape)
        return total

    def back(self, i: int, potentials: Sequence[Array]) -> Array:
        """The transposed of :meth:`onto`: (orders, K_i) from (orders, K_j) of all others."""
        total = np.zeros_like(potentials[i])
        for j, e in enumerate(potentials):
            if j != i:
                link = self.links[j, i]
                total += (e.ravel() @ link.reshape(e.size, -1)).reshape(total.shape)
        return total


def row_links(places: tuple[PlacedPole, ...], cells: Sequence[ShapeCell], history: str, centre: float) -> RowLinks:
    """Compute the links; poles a like distance apart share theirs."""
    known: dict[tuple[object, ...], Array] = {}
    links = {}
    for i, a in enumerate(places):
        for j, b in enumerate(places):
            if i == j:
                continue
            key = (a.shape, b.shape, round(a.y - b.y, 12), round(a.face - b.face, 12))
            if key not in known:
                known[key] = ring_link(cells[i].grid.rings(), cells[j].grid.rings(), a.y - b.y, a.face - b.face,
                                       ROW_ORDERS)
            links[i, j] = known[key]
    for cell in set(cells):
        cell.far = _far_bases([links[i, j] for i, c in enumerate(cells) if c is cell
                               for j in range(len(cells)) if j != i])
    return RowLinks(places=places, links=links, history=history, centre=centre)


def _far_bases(links: Sequence[Array]) -> tuple[Array, ...]:
    """For each order an orthonormal basis (K, n) of what the links make at the rings."""
    if not links:
        return ()
    bases = []
    for m in range(ROW_ORDERS):
        made = np.concatenate([link[m].reshape(link.shape[1], -1) for link in links], axis=1)
        square, vectors = np.linalg.eigh(made @ made.T)
        bases.append(vectors[:, square > _FAR_KEEP**2 * square[-1]])
    return tuple(bases)


def solve_alone(cell: ShapeCell, start: BiasState | None, needed: bool) -> BiasState:
    """Bias of the pole by itself, and with it the permeabilities for small signals.

    A magnet answers to signals by constants: where nothing else asks, the starting shape's state serves.
    """
    soft = any(slope_with_bias(m, b) is not None for m, b in
               zip(cell.materials, start.b if start else (np.zeros((2, 1, 1)),) * len(cell.materials), strict=True))
    alone = cell.solve(None, start, None) if start is None or needed or soft else start
    cell.start_signal(alone)
    return alone


def couple(row: RowLinks, cells: Sequence[ShapeCell], alone: Sequence[BiasState], drive: Sequence[Array],
           start: RowState | None) -> RowState:
    """Settle the row.

    Parameters
    ----------
    cells, alone : by pole
    drive : arrays (orders, k_i)
        The coil's potentials at each pole's unknowns.
    start : RowState, optional
        Where to begin.

    Raises
    ------
    SolveError
    """
    n = len(cells)
    states = list(alone if start is None or n == 1 else start.states)
    memory = [a if row.history == "before" else None for a in alone]
    charges = answers(cells, drive)
    own = [np.stack([c.gather(m, q) for m, q in enumerate(qs)]) for c, qs in zip(cells, charges, strict=True)]

    def biased(i: int, e: Array, change: float) -> Array:
        c = cells[i]
        if n > 1:
            tolerance = float(np.clip(0.01 * change, TOLERANCE, 1e-3))
            states[i] = c.solve(e[0], states[i], memory[i], tolerance)
        out = [c.gather(0, states[i].charges[c.section.pole])]
        out += [c.to_far(m, e[m]) for m in range(1, ROW_ORDERS)]
        return np.stack(out) + (row.bent[i] if row.bent else 0.0)

    def driven(i: int, e: Array, change: float) -> Array:
        return own[i] + np.stack([cells[i].to_far(m, e[m]) for m in range(ROW_ORDERS)])

    twins = mirror_images(row.places)
    bias = _settle(row, cells, biased, twins, None if start is None else start.bias)
    states = [states[twins[i]] if twins else s for i, s in enumerate(states)]
    twins = mirror_images(row.places, row.centre)
    signal = _settle(row, cells, driven, twins, None if start is None else start.signal)
    return RowState(
        cells=tuple(cells), alone=tuple(alone), states=tuple(states), drive=tuple(drive), bias=tuple(bias),
        signal=tuple(signal), bias_external=tuple(row.onto(i, bias) for i in range(n)),
        signal_external=tuple(row.onto(i, signal) for i in range(n)), driven=tuple(charges),
    )


def bent(row: RowLinks, cells: Sequence[ShapeCell], alone: Sequence[BiasState]) -> tuple[Array, ...]:
    """What the whole curves make of neighbours' orders m ≥ 1, beyond the recoil slopes of :func:`couple`.

    Returns
    -------
    tuple of arrays (orders, K)
        With them :func:`couple` finds what :func:`.row.coupling.couple_bias` finds; () where magnets are straight.
    """
    if len(cells) == 1:
        return ()
    memory = [a if row.history == "before" else None for a in alone]
    shared: dict[int, WaveSpace] = {}
    waves = [PoleWaves(c.bias, c.signal, low, ROW_ORDERS, shared) for c, low in zip(cells, memory, strict=True)]
    states = list(alone)

    def answer(i: int, e: Array, change: float) -> Array:
        c = cells[i]
        v = np.stack([c.between.matrices[m] @ e[m] for m in range(ROW_ORDERS)])
        if np.any(v[0]):
            states[i] = c.bias.solve(v[0], start=states[i], history=memory[i], waves=waves[i].b,
                                     tolerance=float(np.clip(0.01 * change, TOLERANCE, 1e-3)))
        settled = float(np.clip(0.1 * change, 0.1 * _BENT_SETTLED, 5e-2))
        q = np.stack([states[i].charges[c.section.pole], *waves[i].charges(v[1:], states[i], settled, change)])
        return np.stack([c.gather(m, part) for m, part in enumerate(q)])

    charges = _settle(row, cells, answer, mirror_images(row.places), None, _BENT_SETTLED)
    if all(w.b is None for w in waves):
        return ()
    out = []
    for i, (c, g, low) in enumerate(zip(cells, charges, memory, strict=True)):
        e = row.onto(i, charges)
        straight = c.bias.solve(c.between.matrices[0] @ e[0], start=alone[i], history=low, tolerance=TOLERANCE)
        out.append(g - np.stack([c.gather(0, straight.charges[c.section.pole]),
                                 *(c.to_far(m, e[m]) for m in range(1, ROW_ORDERS))]))
    return tuple(out)


def answers(cells: Sequence[ShapeCell], potentials: Sequence[Array]) -> list[Array]:
    """Small-signal charges (orders, k_i) of each pole's answer to potentials (orders, k_i) at its unknowns."""
    out = [np.empty_like(v) for v in potentials]
    for cell in dict.fromkeys(cells):
        mine = [i for i, c in enumerate(cells) if c is cell]
        for m in range(ROW_ORDERS):
            columns = cell.answer(m, np.stack([potentials[i][m] for i in mine], axis=1))
            for i, q in zip(mine, columns.T, strict=True):
                out[i][m] = q
    return out


def _settle(row: RowLinks, cells: Sequence[ShapeCell], answer: Callable[[int, Array, float], Array],
            twins: list[int] | None, start: Sequence[Array] | None, settled: float = SETTLED) -> list[Array]:
    n = len(cells)
    first = twins or list(range(n))
    flip = ((-1.0) ** np.arange(ROW_ORDERS))[:, None]
    g = list(start) if start is not None else [np.zeros((ROW_ORDERS, c.grid.r.size)) for c in cells]
    change = 1.0 if start is None else 1e-2
    for _ in range(_ROUNDS):
        last, change = change, 0.0
        for i in range(n):
            new = answer(i, row.onto(i, g), last) if first[i] == i else flip * g[first[i]]
            change = max(change, float(np.linalg.norm(new - g[i]) / (np.linalg.norm(new) + 1e-300)))
            g[i] = new
        if change < settled or n == 1:
            return g
    raise SolveError(
        f"the poles of the row did not settle against each other in {_ROUNDS} rounds (last change {change:.1e}); "
        "poles this close need a larger pitch"
    )
