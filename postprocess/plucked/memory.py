r"""What a string's memory makes of its linkage while it moves: shares of the metal that follow on a leash.

The map Λ(y, z) is that of one curve. With memory a share w_k of it is dragged along once the string is r_k away::

    λ(t) = Σ_k w_k Λ(y_k, z_k)        z_k ← clip(z_k, z − r_k, z + r_k),  y_k alike        r_0 = 0

which is the play of :mod:`stringflux.solver.materials.string_memory`, of places in place of fields. The w_k ≥ 0 are
those that come nearest to the string's own loops (:mod:`..string.loop`) over amplitude, in S and in lag; what moves
in none of them stays where it is. What the loops turn into heat, W a time round, is taken from each mode's energy::

    σ_n → σ_n + f_n W(A_n)/(2 E_n),     E_n = ¼ μ L (2πf_n)² a_n²,     A_n = a_n φ_n over the pickup

as if each mode swung alone and as far as at first.

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import nnls

from stringflux.geometry.arrays import Array

from ..string.loop import AMPLITUDE, SwungString, first_harmonic
from .surface import Surface

SWINGS = (0.05e-3, 0.2e-3, 0.5e-3)
"""Swings of the loops that are fitted, m, beside the light one and the widest."""
_LEASHES = np.concatenate([[0.0], np.geomspace(0.02e-3, 4e-3, 10)])
_ANGLES = np.arange(1, 65) * 2 * np.pi / 64
_LIGHT = 10.0  # how much more the light swing's S counts than another's: it is what S is told of


@dataclass(frozen=True, kw_only=True, eq=False)
class SwingMemory:
    """A string's memory by its places.

    Attributes
    ----------
    shares, leashes : arrays (k,)
        w_k, and r_k in m.
    light : float
        S of a light swing over |∂Λ| on the curve.
    swings, heats : arrays (j,)
        Amplitudes over the pickup, m, rising, and W of each, J.
    """

    shares: Array = field(default_factory=lambda: np.ones(1))
    leashes: Array = field(default_factory=lambda: np.zeros(1))
    light: float = 1.0
    swings: Array = field(default_factory=lambda: np.array([AMPLITUDE]))
    heats: Array = field(default_factory=lambda: np.zeros(1))

    def followed(self, moved: Array) -> Array:
        """Places (k, n) of every share along the string's places (n,), m from rest, where all of them begin."""
        turns = np.flatnonzero(np.diff(np.sign(np.diff(moved)))) + 1
        starts = np.concatenate([[0], turns])
        at = np.zeros((self.leashes.size, starts.size))
        state = np.clip(0.0, moved[0] - self.leashes, moved[0] + self.leashes)
        at[:, 0] = state
        for i, place in enumerate(moved[turns].tolist(), start=1):
            state = np.minimum(np.maximum(state, place - self.leashes), place + self.leashes)
            at[:, i] = state
        leg = np.repeat(np.arange(starts.size), np.diff(np.append(starts, moved.size)))
        leash = self.leashes[:, None]
        return np.asarray(np.clip(at[:, leg], moved - leash, moved + leash))

    def linkage(self, surface: Surface, y: Array, z: Array) -> Array:
        """λ (n,), Wb, on the way by places (n,) from rest, but for what never moves."""
        ys, zs = self.followed(y), self.followed(z)
        return np.asarray(self.shares @ surface.linkage(ys, zs))

    def rates(self, energies: Array, swings: Array, frequency: Array) -> Array:
        """σ (n,), 1/s, by the heat of the modes' swings over the pickup (n,), m, with energies (n,), J."""
        if not np.any(self.heats > 0) or not np.any(energies > 0):
            return np.zeros_like(frequency)
        swings = np.maximum(np.abs(swings), 1e-12)
        cube = np.minimum(swings / self.swings[0], 1.0) ** 3  # under the least loop as of Rayleigh's law
        heat = np.interp(swings, self.swings, self.heats) * cube
        return np.asarray(np.where(energies > 0, frequency * heat / (2 * np.maximum(energies, 1e-300)), 0.0))


NONE = SwingMemory()
"""One curve."""


def swing_memory(string: SwungString, surface: Surface) -> SwingMemory:
    """Fit a string's loops.

    Parameters
    ----------
    string : SwungString
    surface : Surface
        λ of the same coil on the curve.

    Raises
    ------
    SolveError
    """
    widest = min(string.reach, -surface.z[0]) if not string.sideways else string.reach
    swings = sorted({*(a for a in SWINGS if a < widest), string.light().amplitude, widest})
    loops = [string.light() if a == string.light().amplitude else string.loop(a) for a in swings]
    wanted = np.array([loop.sensitivity * np.exp(-1j * loop.lag) for loop in loops])
    each = np.array([_of_leashes(surface, a, string.sideways) for a in swings])  # (j, k)
    weight = np.array([_LIGHT if a == string.light().amplitude else 1.0 for a in swings])
    scale = abs(wanted[0])
    matrix = np.concatenate([(weight[:, None] * part(each)) / scale for part in (np.real, np.imag)])
    right = np.concatenate([weight * part(wanted) / scale for part in (np.real, np.imag)])
    shares, _ = nnls(matrix, right)
    used = shares > 0
    used[0] = True
    curve = abs(surface.slopes(np.zeros(1), np.zeros(1))[0 if string.sideways else 1][0])
    return SwingMemory(shares=shares[used], leashes=_LEASHES[used], light=string.light().sensitivity / curve,
                       swings=np.array(swings), heats=np.array([max(loop.heat, 0.0) for loop in loops]))


def _of_leashes(surface: Surface, amplitude: float, sideways: bool) -> Array:
    """The first harmonic of Λ, V·s/m (k,), of shares on leashes that are taken round at an amplitude."""
    moved = amplitude * np.sin(np.concatenate([_ANGLES, _ANGLES]))
    one = SwingMemory(shares=np.ones(_LEASHES.size), leashes=_LEASHES)
    at = one.followed(moved)[:, _ANGLES.size:]
    linkage = surface.linkage(at, 0 * at) if sideways else surface.linkage(0 * at, at)
    whole = first_harmonic(linkage[0], amplitude)
    turn = np.sign(whole.real) or 1.0
    return np.array([turn * first_harmonic(row, amplitude) for row in linkage])

