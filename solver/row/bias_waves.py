r"""What of a pole's bias goes as cos mα, m ≥ 1, magnets on their whole curves.

Neighbours magnetise one side of a pole more than the other. Where a curve bends that is no small matter: its slope
dB/dH is many times the recoil slope there, and not the same on both sides. With α from +y round the axis ::

    B_z = B₀ + Σ B_m cos mα     H_z = Σ H_m cos mα     H_0 = ⟨h(B_z)⟩     H_m = 2⟨h(B_z) cos mα⟩

h a magnet's curve, read at a few angles (:func:`.section.bias.round_the_axis`). B₀ is the bias cell's unknown, which
takes the B_m as given; H_m = −∂φ_m/∂z is that of the potential of order m, φ = r^m (v_ext + v) cos mα. The two are
solved in turn, round by round of the row. For given B₀ the potentials make a convex energy least, its derivative ::

    R_m = K v + D v_ext − ∫ B_m(H) r^m ∂w/∂z r dr dz

K and D those of order m (:mod:`.small_signal`) without what the magnets give along the axis. Newton's method, the
orders together, with a line search; the B_m(H) at every point by Newton's method too. Both take the curve as it is,
kinks where a recoil line leaves it included. Across its axis a magnet is linear. As long as a pole's magnets are on
a straight part of their curves, as steep as what a signal meets, the small-signal cell answers; soft parts keep its
permeability in both.

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.sparse import bmat, diags

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import SolveError

from ..constants import MU0
from ..factor import Factor, factor
from ..materials.h_of_b import round_the_axis
from ..materials.kinds import is_magnet
from ..materials.magnet import MagnetCurve
from ..section.bias import BiasCell, BiasState
from .small_signal import SmallSignalCell

STRAIGHT = 0.02  # mean difference of a slope from what a signal meets, up to which a magnet counts as straight
_VAGUE, _KNOWN = 0.5, 0.01  # changes of a round, from which and down to which that is looked at
_STEPS, _HALVINGS = 60, 8
_ENOUGH = 0.5  # of the slope of the energy along a step: so much may be left at its end
_SLOW = 0.35  # of the last step's change: with less gain slopes are taken anew
_LOCAL_STEPS, _PLAIN = 40, 10  # Newton's method at the points: steps, those left whole
_LOCAL, _NOTHING = 1e-3, 1e-9  # where it ends: of the B there; T, so that rounding is not sought where there is no B


class WaveSpace:
    """What equal poles share: matrices, the points of their bent magnets, the last factor.

    Parameters
    ----------
    cell : BiasCell
    signal : SmallSignalCell
    orders : int
        Of the row: m = 1 … orders − 1.
    """

    def __init__(self, cell: BiasCell, signal: SmallSignalCell, orders: int) -> None:
        self.cell, self.orders = cell, range(1, orders)
        self.bent = _bent(cell)
        mu = tuple(replace(mu, along=0.0) if i in self.bent else mu for i, mu in enumerate(signal.mu))
        rest = SmallSignalCell(section=cell.section, mu=mu)
        self.K, self.D = zip(*((rest.order(m).K, rest.order(m).D) for m in self.orders), strict=True)
        self.up, self.powers = {}, {}  # ∂/∂z at the points, r^m (orders − 1, points)
        for i in self.bent:
            p = cell._points[i]
            self.up[i] = p.gradient[p.weight.size:]
            self.powers[i] = np.stack([np.asarray(p.basis.global_coordinates())[0].ravel() ** m for m in self.orders])
        self.lu: Factor | None = None

    def h(self, i: int, v: Array) -> Array:
        """H_m at the points of a part (orders − 1, points) of whole potentials (orders − 1, n)."""
        return np.asarray(-self.powers[i] * (self.up[i] @ v.T).T)

    def load(self, i: int, b: Array) -> Array:
        """∫ B_m r^m ∂w/∂z r dr dz, (orders − 1, n)."""
        return np.asarray(self.up[i].T @ (self.cell._points[i].weight * self.powers[i] * b).T).T

    def tangent(self, slopes: dict[int, Array]) -> Any:
        """∂R_m/∂v_n for ∂B_m/∂H_n (orders − 1, orders − 1, points) of every bent part."""
        blocks: list[list[Any]] = [[k if a == b else None for b in range(len(self.orders))]
                                   for a, k in enumerate(self.K)]
        for i, slope in slopes.items():
            r, up, weight = self.powers[i], self.up[i], self.cell._points[i].weight
            for a, row in enumerate(blocks):
                for b in range(len(row)):
                    part = up.T @ diags(weight * r[a] * r[b] * slope[a, b]) @ up
                    row[b] = part if row[b] is None else row[b] + part
        return bmat(blocks, format="csc")


@dataclass(frozen=True, kw_only=True, eq=False)
class _Point:
    """Where a descent is: potentials v (orders − 1, n), R likewise, and of every bent part B_m (orders − 1, points),
    ∂B_m/∂H_n."""

    v: Array
    residual: Array
    b: dict[int, Array]
    slopes: dict[int, Array]


class PoleWaves:
    """Orders m ≥ 1 of one pole's bias through the rounds of a row.

    Parameters
    ----------
    cell : BiasCell
    signal : SmallSignalCell
    low : BiasState or None
        What the magnets have been at before.
    orders : int
        Of the row: m = 1 … orders − 1.
    shared : dict
        For all poles of a row: what equal ones share.
    """

    def __init__(self, cell: BiasCell, signal: SmallSignalCell, low: BiasState | None, orders: int,
                 shared: dict[int, WaveSpace]) -> None:
        self.cell, self.signal, self.orders, self._shared = cell, signal, orders, shared
        self.b: tuple[Array, ...] | None = None  # (orders − 1, elements, points) of each part, T; None: straight
        self._low = [None] * len(cell.materials) if low is None else [b.reshape(2, -1) for b in low.b]
        self._v = np.zeros((orders - 1, cell.section.unknowns))
        self._may_bend, self._looked = bool(_bent(cell)), False

    def charges(self, v_ext: Array, state: BiasState, tolerance: float, change: float) -> Array:
        """Answer to external potentials.

        Parameters
        ----------
        v_ext : array (orders − 1, k)
            φ_ext / r^m at the pole's unknowns, A.
        state : BiasState
            Order 0, solved with these waves as they were.
        tolerance : float
            Of the charges.
        change : float
            Of the row's last round.

        Returns
        -------
        array (orders − 1, k)
            A·m.

        Raises
        ------
        SolveError
            When the waves do not settle.
        """
        known = _VAGUE > change > _KNOWN or (change <= _KNOWN and not self._looked)
        if self.b is None and self._may_bend and known and np.any(v_ext):
            self._look(v_ext, state)
        if self.b is None:
            return np.stack([self.signal.order(m).charges(v) for m, v in enumerate(v_ext, start=1)])
        outer = self._everywhere(v_ext)
        at = self._descend(outer, state, tolerance)
        self._v, self.b = at.v, self._by_part(at.b)
        return self._charges(at.v + outer, at.b)

    def _descend(self, outer: Array, state: BiasState, tolerance: float) -> _Point:
        """Newton's method on the energy. While the last factor serves the points follow by one step at a time."""
        space, passes = self._space, 1
        begin = {i: (self.b or ())[i].reshape(self.orders - 1, -1) for i in space.bent}
        at, last = self._at(self._v, outer, state, begin, passes), np.inf
        for _ in range(_STEPS):
            if space.lu is None:
                if passes == 1:
                    passes = _LOCAL_STEPS
                    at = self._at(at.v, outer, state, at.b, passes)
                space.lu, fresh = factor(space.tangent(at.slopes)), True
            else:
                fresh = False
            step = -space.lu.solve(at.residual.ravel()).reshape(at.v.shape)
            b = {i: at.b[i] + np.einsum("mnk,nk->mk", at.slopes[i], space.h(i, step)) for i in space.bent}
            new = self._charges(at.v + step + outer, b)
            moved = float(np.linalg.norm(new - self._charges(at.v + outer, at.b)) / (np.linalg.norm(new) + 1e-300))
            if moved <= tolerance:
                return _Point(v=at.v + step, residual=at.residual, b=b, slopes=at.slopes)
            if not fresh and moved > _SLOW * last:
                space.lu = None
                continue
            length, fall = 1.0, -float(np.sum(step * at.residual))
            for _ in range(_HALVINGS if fresh else 1):
                trial = self._at(at.v + length * step, outer, state, b if length == 1.0 else at.b, passes)
                rise = float(np.sum(step * trial.residual))
                if rise <= _ENOUGH * fall:
                    break
                length *= float(np.clip(fall / (fall + rise), 0.1, 0.7))  # where the energy along the step is least
            if not fresh and rise > _ENOUGH * fall:
                space.lu = None
                continue
            if moved > _SLOW * last:
                space.lu = None
            at, last = trial, moved
        raise SolveError(
            f"the bias field of {', '.join(p.material for p in self.cell.section.shape.parts)} did not settle round "
            f"the axis of its pole (last change {moved:.1e}); poles this close need a larger pitch"
        )

    def _at(self, v: Array, outer: Array, state: BiasState, begin: dict[int, Array], passes: int) -> _Point:
        space, b, slopes = self._space, {}, {}
        residual = np.stack([K @ a + D @ e for K, D, a, e in zip(space.K, space.D, v, outer, strict=True)])
        for i in space.bent:
            b[i], slopes[i] = self._inverse(i, state, space.h(i, v + outer), begin[i], passes)
            residual -= space.load(i, b[i])
        return _Point(v=v, residual=residual, b=b, slopes=slopes)

    def _charges(self, whole: Array, b: dict[int, Array]) -> Array:
        """∫ M·∇w of whole potentials (orders − 1, n), (orders − 1, k)."""
        total = sum(self._space.load(i, b[i]) for i in b) - np.stack(
            [D @ a for D, a in zip(self._space.D, whole, strict=True)])
        return np.asarray(total[:, self.cell.section.pole]) / MU0

    def _inverse(self, i: int, state: BiasState, h: Array, b: Array, passes: int) -> tuple[Array, Array]:
        """B_m (orders − 1, points) for H_m and ∂B_m/∂H_n: Newton's method from b, steps that go too far shortened.

        Few points sit on a kink, between the major curve and a recoil line: only they are looked at again.
        """
        if passes == 1:
            found, slope = self._law(i, state, b, slice(None))
            slopes = _inverted(slope[1:, 1:])
            return b + np.einsum("mnk,nk->mk", slopes, h - found[1:]), slopes
        b, slopes = b.copy(), np.empty((len(b), *b.shape))
        limit = max(_LOCAL * float(np.sqrt(np.mean(np.sum(b * b, axis=0)))), _NOTHING)
        left = np.arange(b.shape[1])
        step, fall = np.zeros(b.shape), np.zeros(left.size)
        for k in range(passes):
            found, slope = self._law(i, state, b[:, left] + step, left)
            miss = h[:, left] - found[1:]
            rise = -np.sum(step * miss, axis=0)
            far = (rise > _ENOUGH * fall) & (k > _PLAIN)
            near = left[~far]
            b[:, near] += step[:, ~far]
            slopes[:, :, near] = _inverted(slope[1:, 1:, ~far])
            length = np.clip(fall / np.where(far, fall + rise, 1.0), 0.1, 0.7)
            step, fall = length * step, length * fall
            step[:, ~far] = np.einsum("mnk,nk->mk", slopes[:, :, near], miss[:, ~far])
            fall[~far] = np.sum(step * miss, axis=0)[~far]
            going = far | (np.linalg.norm(step, axis=0) > limit)
            b[:, left[~going]] += step[:, ~going]
            left, step, fall = left[going], step[:, going], fall[going]
            if not left.size:
                break
        b[:, left] += step
        return b, slopes

    def _look(self, v_ext: Array, state: BiasState) -> None:
        """Go over to the whole curves if the slope of signals does not hold for what that cell answers."""
        self._looked = True
        space = self._space
        outer = self._everywhere(v_ext)
        orders = [self.signal.order(m) for m in range(1, self.orders)]
        v = np.stack([o.lu.solve(-(o.D @ e)) for o, e in zip(orders, outer, strict=True)])
        waves = {}
        bent = False
        for i in space.bent:
            waves[i] = MU0 * np.asarray(self.signal.mu[i].along).ravel() * space.h(i, v + outer)
            slope = self._law(i, state, waves[i], slice(None))[1][0, 0] * MU0 * space.bent[i].mu_signal
            weight = self.cell._points[i].weight
            bent |= bool(np.sum(weight * np.abs(slope - 1.0)) > STRAIGHT * np.sum(weight))
        if bent:
            self.b, self._v = self._by_part({}), -outer

    def _law(self, i: int, state: BiasState, waves: Array, points: Any) -> tuple[Array, Array]:
        low = self._low[i]
        return round_the_axis(self._space.bent[i], self.cell.section.shape.parts[i],
                              state.b[i].reshape(2, -1)[:, points], None if low is None else low[:, points], waves)

    def _by_part(self, b: dict[int, Array]) -> tuple[Array, ...]:
        nothing = np.zeros(1)
        return tuple(np.resize(b.get(i, nothing), (self.orders - 1, *p.shape))
                     for i, p in enumerate(self.cell._points))

    def _everywhere(self, v_ext: Array) -> Array:
        full = np.zeros((self.orders - 1, self.cell.section.unknowns))
        full[:, self.cell.section.pole] = v_ext
        return full

    @property
    def _space(self) -> WaveSpace:
        if id(self.cell) not in self._shared:
            self._shared[id(self.cell)] = WaveSpace(self.cell, self.signal, self.orders)
        return self._shared[id(self.cell)]


def _bent(cell: BiasCell) -> dict[int, MagnetCurve]:
    """The magnets of another curve than the straight line that a signal meets, by the number of their part."""
    return {i: m for i, m in enumerate(cell.materials)
            if is_magnet(m) and not (m.straight and m.mu_signal == m.mu_recoil)}


def _inverted(a: Array) -> Array:
    """a⁻¹ point by point, a (n, n, k)."""
    if len(a) != 2:
        return np.asarray(np.moveaxis(np.linalg.inv(np.moveaxis(a, -1, 0)), 0, -1))
    (p, q), (r, s) = a
    return np.asarray(np.array([[s, -q], [-r, p]]) / (p * s - q * r))
