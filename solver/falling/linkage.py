r"""Flux that a rigid magnet links with a coil, by reciprocity.

With b the field of one ampere in the coil, T/A, and the magnet's moments m at r::

    λ(z) = ∫ M·b dV = Σ m·b(r + z e_z)          positive along the coil's own field

It is the flux through all turns together, in weber-turns; λ/N is the flux per turn. e = −dλ/dt.

References
----------
Reciprocity: D. J. Griffiths, *Introduction to Electrodynamics*, 4th ed. 2013, 7.2.3 (mutual inductance is the same
both ways), with a magnet as loops of current (memory).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import Racetrack

from ..coil.air import field
from .magnet import RigidMagnet

AxisField: TypeAlias = Callable[[Array, Array], Array]
"""Of radii and heights (n,), m, the field (2, n) of an ampere in the coil, b_r and b_z in T/A."""


def in_air(coil: Racetrack) -> AxisField:
    """The field of a round coil about x = y = 0 in air."""

    def b(r: Array, z: Array) -> Array:
        return field(coil, np.stack([r, np.zeros_like(r), z]))[[0, 2]]

    return b


def linked(magnet: RigidMagnet, b: AxisField, heights: Array) -> Array:
    """λ with the magnet's middle at each height.

    Parameters
    ----------
    magnet : RigidMagnet
    b : AxisField
    heights : array (n,)
        m.

    Returns
    -------
    array (n,)
        Weber-turns.
    """
    R = np.broadcast_to(magnet.r, (heights.size, magnet.r.size))
    Z = heights[:, None] + magnet.z
    br, bz = np.asarray(b(R.ravel(), Z.ravel())).reshape(2, *R.shape)
    return np.asarray(br @ magnet.radial + bz @ magnet.axial)
