"""The row: poles that feel the coil and each other, azimuthal orders 0, 1, 2 …

Every pole answers to an external potential on its own axis; the answer leaves as charges of its rings,
whose potential at the other poles is split into orders there. All pairs are coupled and the round is
repeated until nothing moves by more than a tolerance (Gauss–Seidel: each pole uses the newest of the others).

Bias: all orders on the whole curves (:mod:`.section.bias`, :mod:`.bias_waves`). Magnets `charged
before` assembly have first settled alone; where the neighbours demagnetise them further they follow the
major curve, else their recoil line. Charged `after` assembly, they sit on the major curve in the row.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import SolveError
from stringflux.geometry.mesh.pole import Quality
from stringflux.geometry.shapes.row import PlacedPole

from ..materials.kinds import is_magnet
from ..section.bias import BiasCell, BiasState, Tangent
from ..section.space import bare
from ..stages import Keep, made_anew
from .bias_waves import PoleWaves, WaveSpace
from .numerics import SHIPPED, RowNumerics
from .rings import Rings
from .small_signal import SmallSignalCell

MAX_ROUNDS = 60
Beat = Callable[[], None]


@dataclass(frozen=True, kw_only=True, eq=False)
class RowPole:
    """A pole in the row with everything that is known of its shape alone."""

    place: PlacedPole
    bias: BiasCell
    alone: BiasState
    tangent: Tangent
    signal: SmallSignalCell
    far: Rings


@dataclass(frozen=True, kw_only=True, eq=False)
class RowCharges:
    """Charges of every pole by order, the result of a coupling.

    Attributes
    ----------
    charges : tuple of arrays (orders, k_i)
        ∫ M·∇w r dr dz at the unknowns of each pole, A·m.
    rounds : int
    states : tuple of BiasState
        The bias states in the row (empty for the small-signal coupling).
    coupling : float
        Largest relative change that the neighbours made to a pole's order-0 charges.
    outer : tuple of arrays (orders, k_i)
        Potentials of all else that they answer to, φ_ext / r^m at the unknowns of each pole, A.
    waves : tuple of (tuple of arrays or None)
        B_z of the orders m ≥ 1 at the points of each part, (orders − 1, elements, points), T; None where a pole is
        as straight as what a signal meets (empty for the small-signal coupling).
    """

    charges: tuple[Array, ...]
    rounds: int
    coupling: float
    outer: tuple[Array, ...]
    states: tuple[BiasState, ...] = ()
    waves: tuple[tuple[Array, ...] | None, ...] = ()


class Links:
    """What a ring's charge of one pole makes at the rings of another (:func:`ring_link`), each pair of places once.

    Parameters
    ----------
    numerics : RowNumerics
    keep : Keep
        Asked for each, as "link".
    quality : Quality or None
        Of the meshes; None where they are a caller's, for which nothing may be kept.
    """

    def __init__(self, numerics: RowNumerics = SHIPPED, keep: Keep = made_anew,
                 quality: Quality | None = None) -> None:
        self._numerics, self._quality = numerics, quality
        self._keep = made_anew if quality is None else keep
        self._known: dict[tuple[object, ...], Array] = {}

    def __call__(self, target: RowPole, source: RowPole) -> Array:
        a, b = target.place, source.place
        dy, dz = a.y - b.y, a.face - b.face
        key = (a.shape, b.shape, round(dy, 12), round(dz, 12))
        if key not in self._known:
            n = self._numerics
            self._known[key] = self._keep(
                "link", (bare(a.shape), bare(b.shape), dy, dz, self._quality, n),
                lambda: ring_link(target.far, source.far, dy, dz, n.orders, n.angles))
        return self._known[key]


def go_on() -> None:
    """Nobody asks whether to."""


def couple_bias(poles: Sequence[RowPole], history: str, numerics: RowNumerics = SHIPPED,
                links: Links | None = None, beat: Beat = go_on) -> RowCharges:
    """Bias of the whole row.

    Parameters
    ----------
    poles : sequence of RowPole
    history : {"before", "after"}
        Whether the magnets were charged before or after the row was assembled.
    numerics : RowNumerics
    links : Links, optional
        What is known of these poles' places already.
    beat : callable
        Called before each pole of each round; what it raises ends all.
    """
    orders = numerics.orders
    states = [p.alone for p in poles]
    memory = [p.alone if history == "before" else None for p in poles]
    tangents = {id(p.bias): p.bias.run(p.tangent) for p in poles}  # equal poles share theirs
    exact = [1.0 if all(is_magnet(m) for m in p.bias.materials) else numerics.steel for p in poles]

    shared: dict[int, WaveSpace] = {}
    waves = [PoleWaves(p.bias, p.signal, m, orders, shared) for p, m in zip(poles, memory, strict=True)]

    def answer(i: int, v: Array, change: float) -> Array:
        p = poles[i]
        beat()
        if np.any(v[0]):  # no more exactly than the neighbours are known by now
            tolerance = exact[i] * float(np.clip(0.03 * change, 1e-5, 1e-2))
            states[i] = p.bias.solve(v[0], start=states[i], history=memory[i], tolerance=tolerance,
                                     tangent=tangents[id(p.bias)], waves=waves[i].b)
        q = states[i].charges[p.bias.section.pole]
        if orders == 1:
            return q[None]
        settled = float(np.clip(0.3 * change, 1e-4, 5e-2))
        return np.stack([q, *waves[i].charges(v[1:], states[i], settled, change)])

    zero = [np.zeros((orders, p.bias.section.pole.size)) for p in poles]
    twins = mirror_images([p.place for p in poles])
    charges, outer, rounds, coupling = _iterate(poles, zero, answer, twins, numerics, links or Links(numerics))
    states = [states[twins[i]] if twins else s for i, s in enumerate(states)]
    turned = [_turned(waves[twins[i] if twins else i].b, bool(twins) and (twins or [])[i] != i)
              for i in range(len(poles))]
    return RowCharges(charges=charges, rounds=rounds, coupling=coupling, outer=outer, states=tuple(states),
                      waves=tuple(turned))


def _turned(waves: tuple[Array, ...] | None, mirrored: bool) -> tuple[Array, ...] | None:
    """The same seen in the mirror at y → −y."""
    if waves is None or not mirrored:
        return waves
    return tuple((-1.0) ** np.arange(1, 1 + len(b))[:, None, None] * b for b in waves)


def couple_signal(poles: Sequence[RowPole], drive: Sequence[Array], centre: float,
                  numerics: RowNumerics = SHIPPED, links: Links | None = None) -> RowCharges:
    """Small-signal answer of the row to an external drive.

    Parameters
    ----------
    drive : sequence of arrays (orders, k_i)
        φ_ext / r^m of the coil at each pole's unknowns, A.
    centre : float
        y about which the drive is symmetric, m.
    numerics : RowNumerics
    links : Links, optional
        As of :func:`couple_bias`.
    """

    def answer(i: int, v: Array, change: float) -> Array:
        return np.stack([poles[i].signal.order(m).charges(v[m]) for m in range(len(v))])

    twins = mirror_images([p.place for p in poles], centre)
    charges, outer, rounds, coupling = _iterate(poles, drive, answer, twins, numerics, links or Links(numerics))
    return RowCharges(charges=charges, rounds=rounds, coupling=coupling, outer=outer)


def mirror_images(places: Sequence[PlacedPole], centre: float | None = None) -> list[int] | None:
    """For each pole the first of it and its mirror image about the row's middle; None if the row has none."""
    middle = (places[0].y + places[-1].y) / 2
    if centre is not None and abs(middle - centre) > 1e-9:
        return None
    twins = []
    for i, p in enumerate(places):
        q = places[-1 - i]
        if p.shape != q.shape or abs(p.face - q.face) > 1e-12 or abs(p.y + q.y - 2 * middle) > 1e-9:
            return None
        twins.append(min(i, len(places) - 1 - i))
    return twins


def _iterate(poles: Sequence[RowPole], drive: Sequence[Array],
             answer: Callable[[int, Array, float], Array],
             twins: list[int] | None,
             numerics: RowNumerics, link: Links) -> tuple[tuple[Array, ...], tuple[Array, ...], int, float]:
    n, orders = len(poles), drive[0].shape[0]
    first = twins or list(range(n))
    flip = ((-1.0) ** np.arange(orders))[:, None]  # cos mα seen in the mirror at y → −y
    charges: list[Array] = []
    for i in range(n):
        charges.append(answer(i, drive[i], 1.0) if first[i] == i else flip * charges[first[i]])
    alone, outer = [c[0].copy() for c in charges], list(drive)
    if n == 1:
        return tuple(charges), tuple(outer), 1, 0.0
    links = {(i, j): link(poles[i], poles[j]) for i in range(n) for j in range(n) if i != j and first[i] == i}
    far = [collected(p, c) for p, c in zip(poles, charges, strict=True)]
    change = 1.0
    for rounds in range(2, MAX_ROUNDS + 2):
        last, change = change, 0.0
        for i in range(n):
            p = poles[i]
            if first[i] != i:
                charges[i], far[i], outer[i] = (flip * a[first[i]] for a in (charges, far, outer))
                continue
            at_rings = sum(np.einsum("mknl,nl->mk", links[i, j], far[j]) for j in range(n) if j != i)
            outer[i] = drive[i] + np.stack([p.far.spread[m] @ at_rings[m] for m in range(orders)])
            charges[i] = answer(i, outer[i], last)
            new = collected(p, charges[i])
            change = max(change, float(np.linalg.norm(new - far[i]) / (np.linalg.norm(new) + 1e-300)))
            far[i] = new
        if change < numerics.tolerance:
            moved = max(float(np.linalg.norm(c[0] - a) / (np.linalg.norm(c[0]) + 1e-300))
                        for c, a in zip(charges, alone, strict=True))
            return tuple(charges), tuple(outer), rounds, moved
    raise SolveError(
        f"the poles of the row did not settle against each other in {MAX_ROUNDS} rounds (last change "
        f"{change:.1e}); poles this close need a larger pitch"
    )


def collected(pole: RowPole, charges: Array) -> Array:
    """Charges of a pole (orders, k) on its far rings."""
    return np.stack([pole.far.spread[m].T @ c for m, c in enumerate(charges)])


def ring_link(t: Rings, s: Rings, dy: float, dz: float, orders: int, angles: int = SHIPPED.angles) -> Array:
    """Potential orders at rings t per ring charge order of s, dy and dz from there, (m, k, m', l).

    φ_m(k) = (1/c_m) ∮ cos mα [ (1/4π) Σ_l q_{m'l} ∮ cos m'β / |x_k(α) − x_l(β)| dβ ] dα, c_0 = 2π, c_m = π.
    """
    n = angles
    alpha = (np.arange(n // 2) + 0.5) * 2 * np.pi / n  # even in x: half the circle, counted twice
    beta = np.arange(n) * 2 * np.pi / n
    ty = t.r[:, None] * np.cos(alpha) + dy
    tx = t.r[:, None] * np.sin(alpha)
    sy = s.r[:, None] * np.cos(beta)
    sx = s.r[:, None] * np.sin(beta)
    distance2 = ((tx[:, :, None, None] - sx) ** 2 + (ty[:, :, None, None] - sy) ** 2
                 + (t.z[:, None, None, None] + dz - s.z[:, None]) ** 2)
    inverse = 1.0 / np.sqrt(distance2)  # (k, α, l, β)
    m = np.arange(orders)[:, None]
    take = np.cos(m * alpha) * (2 * 2 * np.pi / n) / np.where(m == 0, 2 * np.pi, np.pi)
    give = np.cos(m * beta) * (2 * np.pi / n) / (4 * np.pi)
    half: Array = np.einsum("kalb,pb->kalp", inverse, give)
    return np.asarray(np.einsum("kalp,ma->mkpl", half, take))
