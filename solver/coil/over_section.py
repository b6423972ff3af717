"""Gauss points over the section of a winding, as its turns lie there.

References
----------
Derived here.
"""

from __future__ import annotations

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.wound import WoundSection

from ..interpolation import gauss


def over_section(section: WoundSection, n: int, m: int | None = None) -> tuple[Array, Array, Array]:
    """Distances from the inner face and heights, m, and weights that sum to 1 (k,): n points outwards, m (else n)
    upwards in every slice.

    Examples
    --------
    >>> cone = WoundSection(build=3e-3, bottom=0.0, top=8e-3, builds=((0.0, 2e-3), (8e-3, 3e-3)))
    >>> u, z, weight = over_section(cone, 2)
    >>> round(float(weight.sum()), 12), bool(abs(weight @ u - cone.mean_distance) < 1e-15)
    (1.0, True)
    """
    (gu, wu), (gz, wz) = gauss(n), gauss(n if m is None else m)
    parts = []
    for low, high, first, last in section.slices:
        build = first + (last - first) * gz
        parts.append((np.multiply.outer(build, gu), np.broadcast_to((low + (high - low) * gz)[:, None], (gz.size, n)),
                      np.multiply.outer((high - low) * wz * build, wu)))
    u, z, weight = (np.concatenate([p[i].ravel() for p in parts]) for i in range(3))
    return u, z, weight / section.area
