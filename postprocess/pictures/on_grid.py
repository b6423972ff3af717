"""A field on a fine grid of which only a piece is near its source: elsewhere between places further apart.

Between those by six of them each way, Lagrange's polynomial: at d from the source what is left out goes as (h/d)⁶.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np

from stringflux.geometry.arrays import Array

_PLACES = 6


def on_grid(u: Array, z: Array, near: tuple[float, float, float, float] | None, wide: float,
            field: Callable[[Array, Array], Array]) -> Array:
    """Values (c, nz, nu).

    Parameters
    ----------
    u, z : arrays (nu,), (nz,)
        Evenly spaced, m.
    near : (float, float, float, float), optional
        Box of u and of z within which every place is computed; None: there is no such place.
    wide : float
        Between the places elsewhere, m.
    field : callable
        Values (c, n) at places u, z (n,).
    """
    fine_u, fine_z = np.zeros(u.size, bool), np.zeros(z.size, bool)
    if near is not None:
        fine_u, fine_z = (u >= near[0]) & (u <= near[1]), (z >= near[2]) & (z <= near[3])
    inner = None
    if np.any(fine_u) and np.any(fine_z):
        inner = _at(u[fine_u], z[fine_z], field)
        if np.all(fine_u) and np.all(fine_z):
            return inner
    far_u, far_z = _few(u, wide), _few(z, wide)
    if far_u.size * far_z.size > u.size * z.size:
        return _at(u, z, field)
    few = np.nan_to_num(_at(far_u, far_z, field))  # a place where there is no value lies in the box
    out: Array = np.asarray(_between(far_z.size, z.size) @ few @ _between(far_u.size, u.size).T)
    if inner is not None:
        out[:, np.outer(fine_z, fine_u)] = inner.reshape(len(inner), -1)
    return out


def _at(u: Array, z: Array, field: Callable[[Array, Array], Array]) -> Array:
    U, Z = np.meshgrid(u, z)
    values = field(U.ravel(), Z.ravel())
    return values.reshape(len(values), *U.shape)


def _few(fine: Array, wide: float) -> Array:
    return np.linspace(fine[0], fine[-1], max(_PLACES, int(np.ceil((fine[-1] - fine[0]) / wide)) + 1))


@lru_cache(maxsize=32)
def _between(few: int, fine: int) -> Array:
    """(fine, few): what each of so many places, evenly from end to end, counts for at each of others."""
    place = np.linspace(0.0, few - 1, fine)
    first = np.clip(np.floor(place).astype(int) - (_PLACES // 2 - 1), 0, few - _PLACES)
    t, k = place - first, np.arange(_PLACES)
    weights = np.zeros((fine, few))
    for i in k:
        weights[np.arange(fine), first + i] = np.prod([(t - j) / (i - j) for j in k if j != i], axis=0)
    return weights
