r"""Bars of finite length: what their ends change of the magnetisation that an endless section has.

The endless section has M₀(x, z). Cut to length and in the field of a true race-track it has M = M₀ + δ, and the
energy says δ: with the susceptibility χ of each part (of steel B/H, of a magnet its slope, or what a signal meets)

    ∫ w·χ⁻¹δ − ∫ w·H[δ] = ∫ w·(H_coil − H_sides) + ∫ w·(H[M₀ cut] − H[M₀ endless])        for all w

δ is sought among w = m_i(x, z) a(y) across and n_j(x, z) c(y) along the bars: ways of a section
(:mod:`.ways`) times hats along y, so that flux may run along a bar and leave it elsewhere and through its end
faces. Of the interactions −∫ w·H[w'] the section's logarithm is solved on its own mesh and the rest is closed form in
y (:mod:`.bar_coupling`). Far from the ends δ → 0: the section is the limit.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from scipy.linalg import solve

from stringflux.geometry.arrays import Array

from ..interpolation import gauss
from .along_y import Along, hats, hats_at, knots, overlap, rising, rising_at, whole
from .bar_charges import BarCharges, Lines, lines_in
from .bar_coupling import Channel, Distances, products
from .potential import PotentialPlane
from .states import Magnetised, Outer, Sampled, State
from .ways import Ways, section_ways

_NONE = 1e-12  # a susceptibility, and its square, that is none


@dataclass(frozen=True, kw_only=True, eq=False)
class LongBars:
    """The bars of a section with their lengths.

    Attributes
    ----------
    plane : PotentialPlane
    halves : tuple of float
        Half the length of each part, m.
    """

    plane: PotentialPlane
    halves: tuple[float, ...]

    @cached_property
    def lines(self) -> tuple[Lines, ...]:
        out = []
        for b in self.plane.section.parts:
            x, z = self.plane.section.nodes[:, b.element_dofs.ravel()]
            out.append(lines_in((float(x.min()), float(z.min())), (float(x.max()), float(z.max())),
                                self.plane.section.shape.top - float(z.max())))
        return tuple(out)

    @cached_property
    def _gathers(self) -> tuple[tuple[Array, Array], ...]:
        """Unknowns of each part, and what its lines take of them."""
        out = []
        for b, lines in zip(self.plane.section.parts, self.lines, strict=True):
            own = np.unique(b.element_dofs)
            out.append((own, lines.weights(self.plane.section.nodes[:, own])))
        return tuple(out)

    @cached_property
    def points_on_lines(self) -> tuple[Array, ...]:
        """What each line takes of a value at the quadrature points of its part, (lines, e q)."""
        return tuple(lines.weights(np.asarray(b.global_coordinates()).reshape(2, -1))
                     for b, lines in zip(self.plane.section.parts, self.lines, strict=True))

    @cached_property
    def knots(self) -> tuple[Array, ...]:
        """Places of the hats of each part, y ≥ 0."""
        return tuple(knots(half, part.thickness)
                     for half, part in zip(self.halves, self.plane.section.shape.parts, strict=True))

    @cached_property
    def across(self) -> tuple[Along, ...]:
        """The hats across."""
        return tuple(hats(y) for y in self.knots)

    @cached_property
    def along(self) -> tuple[Along, ...]:
        """The charges of what rises along."""
        return tuple(rising(y) for y in self.knots)

    def gathered(self, part: int, charges: Array) -> Array:
        """Charges of the unknowns (n, m) on the part's lines (lines, m)."""
        own, weights = self._gathers[part]
        return np.asarray(weights @ charges[own])

    def spread(self, values: Array) -> Array:
        """Smooth functions from their values on the lines (lines, m) to the unknowns (n, m); 0 off the parts."""
        out = np.zeros((self.plane.section.unknowns, values.shape[1]))
        first = 0
        for (own, weights), lines in zip(self._gathers, self.lines, strict=True):
            out[own] = weights.T @ values[first:first + lines.places.shape[1]]
            first += lines.places.shape[1]
        return out

    def samples(self, part: int) -> tuple[Array, Array]:
        """Gauss points in y > 0 and their weights, doubled for y < 0."""
        y = self.knots[part]
        g, w = gauss(3)
        return (y[:-1, None] + np.diff(y)[:, None] * g).ravel(), 2 * (np.diff(y)[:, None] * w).ravel()

    def on_samples(self, part: int, along: bool) -> Array:
        """Values of the functions across or along at those points, (hats, points)."""
        return (rising_at if along else hats_at)(self.knots[part], self.samples(part)[0])

    def sampled(self, outer: Outer) -> Sampled:
        """A source's H at the lines of each part and the points in y, (3, lines, points)."""
        out = []
        for part, lines in enumerate(self.lines):
            places, y = lines.places, self.samples(part)[0]
            x, at = np.repeat(places[0], y.size), np.tile(y, places.shape[1])
            out.append(outer(np.stack([x, at, np.repeat(places[1], y.size)])).reshape(3, -1, y.size))
        return out

    def magnetised(self, states: Sequence[State], odd: bool = False) -> list[Magnetised]:
        """Solve for δ of states whose potentials are even in x, or odd.

        They share their ways, made with the susceptibility of the last, and all that depends on places alone.
        """
        own = [np.stack([p.load(p.gradient, m) for p, m in zip(self.plane.points, s.own, strict=True)], axis=1)
               for s in states]
        last = states[-1]
        ways = section_ways(self.plane, last.chi, last.chi_along, np.concatenate(own, axis=1), odd)
        channels = [c for w in ways for c in self._channels(w)]
        base = [Channel(part=i, ways=q[:, i:i + 1], lines=self.gathered(i, q[:, i:i + 1]), shape=whole(half))
                for q in own for i, half in enumerate(self.halves)]
        shared, loads = self._system(channels, base, odd)
        masses = [m for i in range(len(self.halves)) for m in self._masses(i)]
        size = np.cumsum([0, *(c.size for c in channels)])
        out = []
        for k, state in enumerate(states):
            matrix = shared.copy()
            for i, stiffness in enumerate(self._stiffness(ways, state, last)):
                matrix[size[i]:size[i + 1], size[i]:size[i + 1]] += products(stiffness, masses[i])
            load = loads[:, k * len(self.halves):(k + 1) * len(self.halves)].sum(axis=1)
            if state.outer is not None:
                load = load + self._driven(ways, state.outer)
            found = solve(matrix, load, assume_a="sym") if load.size else load
            amplitudes = [found[a:b].reshape(c.ways.shape[1], c.shape.count)
                          for (a, b), c in zip(pairwise(size.tolist()), channels, strict=True)]
            across = tuple((np.concatenate([m[None], w.m]), np.concatenate([np.ones((1, a.shape[1])), a]))
                           for w, m, a in zip(ways, state.own, amplitudes[::2], strict=True))
            along = tuple((w.along_charges, c) for w, c in zip(ways, amplitudes[1::2], strict=True))
            mine = base[k * len(self.halves):(k + 1) * len(self.halves)]
            out.append(Magnetised(charges=self._charges(channels, mine, amplitudes, odd), across=across, along=along,
                                  own=tuple(np.concatenate([b.ways, w.charges, -w.along_charges], axis=1)
                                            for b, w in zip(mine, ways, strict=True))))
        return out

    def _masses(self, part: int) -> tuple[Array, Array]:
        """∫ of the products of every two functions across, and along; three points an interval are exact."""
        w = self.samples(part)[1]
        across, along = (self.on_samples(part, along=k) for k in (False, True))
        return (across * w) @ across.T, (along * w) @ along.T

    def _stiffness(self, ways: Sequence[Ways], state: State, last: State) -> list[Array]:
        """∫ w χ⁻¹ w of the ways of each part, across and along."""
        along = self.plane.masses([np.square(a) * _inverse(b) for a, b in
                                   zip(last.chi_along, state.chi_along, strict=True)])
        out: list[Array] = []
        for w, p, chi, mass in zip(ways, self.plane.points, state.chi, along, strict=True):
            xx, xz, zz = chi
            det = _inverse(xx * zz - xz * xz)
            m = w.m
            h = np.stack([det * (zz * m[:, 0] - xz * m[:, 1]), det * (xx * m[:, 1] - xz * m[:, 0])], axis=1)
            flat = (len(m), 2, p.weight.size)
            out += [np.einsum("acq,bcq,q->ab", h.reshape(flat), m.reshape(flat), p.weight, optimize=True),
                    np.asarray(w.along.T @ (mass @ w.along))]
        return out

    def linked(self, found: Magnetised, sides: Sequence[Array], outer: Sampled) -> float:
        """∫ M·H of a source over all bars, A²·m: `sides` its H (2, e, q) in the endless section, `outer` the rest."""
        total = 0.0
        for i, p in enumerate(self.plane.points):
            (m, a), (n, c) = found.across[i], found.along[i]
            total += float(_products(m, sides[i], p.weight) @ a @ self.across[i].integrals)
            there, w = outer[i], self.samples(i)[1]
            total += float(np.sum(a * self._across_driven(i, m, there, w)))
            total += float(np.sum(c * self._along_driven(i, n, there, w)))
        return total * (2.0 if self.plane.half else 1.0)

    def moment(self, found: Magnetised) -> Array:
        """∫ M dV (3,), A·m²; of half a section only what its symmetry leaves."""
        total = np.zeros(2)
        for i, p in enumerate(self.plane.points):
            m, a = found.across[i]
            total += (a @ self.across[i].integrals) @ (m.reshape(len(m), 2, -1) @ p.weight)
        x, z = total * 2 if self.plane.half else total
        return np.array([0.0 if self.plane.half else x, 0.0, z])

    def _channels(self, w: Ways) -> tuple[Channel, Channel]:
        i = w.part
        across, along = self.across[i], self.along[i]
        return (Channel(part=i, ways=w.charges, lines=self.gathered(i, w.charges), shape=across),
                Channel(part=i, ways=w.along_charges, lines=self.gathered(i, w.along_charges), shape=along))

    def _system(self, channels: Sequence[Channel], base: Sequence[Channel], odd: bool) -> tuple[Array, Array]:
        everything = [*channels, *base]
        charges = np.concatenate([c.ways for c in everything], axis=1)
        # of whole sections: half of one counts both images' potential already
        plane = charges.T @ self.plane.in_air(charges, odd)
        first = np.cumsum([0, *(c.ways.shape[1] for c in everything)])
        spans = [slice(a, b) for a, b in pairwise(first.tolist())]
        sets = self._distances(odd)
        size = np.cumsum([0, *(c.size for c in channels)])
        matrix, loads = np.zeros((size[-1], size[-1])), np.zeros((size[-1], len(base)))
        for i, a in enumerate(channels):
            rows = slice(size[i], size[i + 1])
            for j, b in enumerate(channels[i:], start=i):
                block = sets.block(a, b) + products(plane[spans[i], spans[j]], overlap(a.shape, b.shape))
                matrix[rows, size[j]:size[j + 1]] = block
                matrix[size[j]:size[j + 1], rows] = block.T
            for j, b in enumerate(base):
                missing = overlap(a.shape, b.shape) - a.shape.integrals[:, None]
                logs = products(plane[spans[i], spans[len(channels) + j]], missing)
                loads[rows, j] = -(sets.block(a, b) + logs)[:, 0]
        return (matrix + matrix.T) / 2, loads

    def _distances(self, odd: bool) -> Distances:
        places = np.concatenate([lines.places for lines in self.lines], axis=1)
        here = [float(p.weight.sum()) * w for p, w in zip(self.plane.points, self._shares, strict=True)]
        first = np.cumsum([0, *(lines.places.shape[1] for lines in self.lines)])
        return Distances(places=places, first=tuple(first.tolist()), area=np.concatenate(here),
                          image=(0 if not self.plane.half else -1 if odd else 1), scale=self.plane.radius)

    @property
    def _shares(self) -> list[Array]:
        """What share of its part's section each line stands for."""
        return [w @ p.weight / p.weight.sum() for w, p in zip(self.points_on_lines, self.plane.points, strict=True)]

    def _driven(self, ways: Sequence[Ways], outer: Sampled) -> Array:
        out = []
        for w in ways:
            there, weight = outer[w.part], self.samples(w.part)[1]
            out += [self._across_driven(w.part, w.m, there, weight).ravel(),
                    self._along_driven(w.part, w.along_charges, there, weight).ravel()]
        return np.concatenate(out)

    def _across_driven(self, part: int, m: Array, there: Array, weight: Array) -> Array:
        """∫ m a·H (ways, hats)."""
        weights = self.plane.points[part].weight
        flat = m.reshape(len(m), 2, weights.size) * weights
        onto = flat @ self.points_on_lines[part].T  # (ways, 2, lines)
        at = np.einsum("wcl,cly->wy", onto, there[[0, 2]], optimize=True)
        return np.asarray((at * weight) @ self.on_samples(part, along=False).T)

    def _along_driven(self, part: int, n: Array, there: Array, weight: Array) -> Array:
        """∫ n c H_y (ways, hats)."""
        return np.asarray((self.gathered(part, n).T @ there[1] * weight) @ self.on_samples(part, along=True).T)

    def _charges(self, channels: Sequence[Channel], base: Sequence[Channel], amplitudes: Sequence[Array],
                 odd: bool) -> tuple[BarCharges, ...]:
        """The charges of each part on lines of the whole section."""
        out = []
        for i, b in enumerate(base):
            across, along = channels[2 * i:2 * i + 2]
            charge = b.lines @ np.ones((1, across.shape.count)) + across.lines @ amplitudes[2 * i]
            through = along.shape.summed(along.lines @ amplitudes[2 * i + 1])
            first, second, third = (c + d for c, d in zip(across.shape.summed(charge).jumps, through.jumps,
                                                          strict=True))
            whole_part = BarCharges(lines=self.lines[i].places,
                                    along=Along(places=across.shape.places, jumps=(first, second, third)))
            out.append(whole_part.mirrored(-1.0 if odd else 1.0) if self.plane.half else whole_part)
        return tuple(out)


def _inverse(chi: Array) -> Array:
    """1/χ, and where nothing is magnetic so much that nothing is magnetised."""
    return 1 / np.where(np.abs(chi) > _NONE, chi, _NONE)


def _products(m: Array, h: Array, weight: Array) -> Array:
    """∫ m·h (ways,)."""
    return np.asarray(m.reshape(len(m), -1) @ (h.reshape(2, -1) * weight).ravel())
