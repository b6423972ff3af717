"""What is seen of a form along an axis, and what a plane cuts of it, from its facets.

The triangles that face the eye all run the same way round in the picture, so the rim of all of them together winds
once or more round every point that is covered, and not at all round others: filled by that rule it is the
silhouette, holes and all. Lengths in m.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from ..arrays import Array
from ..shapes.pieces import Shaped
from .measure import Facets, facets
from .rings import Ints, chained

_SHARP = 0.35  # rad: a smaller angle between two facets is a round face
_ON = 1e-10  # m: a plane through corners is moved by so much


@lru_cache(maxsize=512)
def silhouette(form: Shaped, pair: tuple[int, int], towards: float = 1.0) -> tuple[Array, ...]:
    """Closed rims (n, 2) of what is seen along the axis that is not in `pair`, to be filled by winding number.

    Parameters
    ----------
    pair : (int, int)
        Axes to the right and up.
    towards : float
        Above 0 if the eye is on the upper side of the third axis.
    """
    f = facets(form)
    front = _facing(f, 3 - pair[0] - pair[1]) * towards > 1e-6
    corners = f.triangles[front]
    directed = np.concatenate([corners[:, [0, 1]], corners[:, [1, 2]], corners[:, [2, 0]]])
    loops = chained(_unpaired(directed))
    return tuple(f.points[loop][:, pair] for loop in loops)


@lru_cache(maxsize=512)
def edges_seen(form: Shaped, pair: tuple[int, int], towards: float = 1.0) -> Array:
    """Both ends (m, 2, 2) of the sharp edges between faces that look at the eye; those hidden behind others too."""
    f = facets(form)
    normals = _normals(f)
    front = normals[:, 3 - pair[0] - pair[1]] * towards > 1e-6
    directed = np.concatenate([f.triangles[:, [0, 1]], f.triangles[:, [1, 2]], f.triangles[:, [2, 0]]])
    owner = np.tile(np.arange(len(f.triangles)), 3)
    order = np.lexsort(np.sort(directed, axis=1).T)
    ends, owner = np.sort(directed[order], axis=1), owner[order]
    same = np.flatnonzero(np.all(ends[1:] == ends[:-1], axis=1))
    one, two = owner[same], owner[same + 1]
    sharp = np.einsum("ij,ij->i", normals[one], normals[two]) < np.cos(_SHARP)
    chosen = same[sharp & front[one] & front[two]]
    return np.asarray(f.points[ends[chosen]][:, :, pair])


@lru_cache(maxsize=512)
def section(form: Shaped, axis: int, at: float) -> tuple[Array, ...]:
    """Closed outlines (n, 2) of what the plane `axis` = `at` cuts, in the other two coordinates in their order;
    outer ones counter-clockwise, holes clockwise."""
    f = facets(form)
    off = f.points[:, axis] - at
    while np.any(abs(off) < _ON / 2):
        off = off + _ON
    side = off > 0
    others = [i for i in range(3) if i != axis]
    key: dict[tuple[int, int], int] = {}
    points: list[Array] = []
    directed = []

    def crossing(a: int, b: int) -> int:
        ends = (min(a, b), max(a, b))
        if ends not in key:
            key[ends] = len(points)
            a, b = ends
            points.append(f.points[a] + off[a] / (off[a] - off[b]) * (f.points[b] - f.points[a]))
        return key[ends]

    for triangle in f.triangles[side[f.triangles].any(axis=1) & ~side[f.triangles].all(axis=1)]:
        up = [i for i in range(3) if side[triangle[i]]]
        alone = up[0] if len(up) == 1 else next(i for i in range(3) if i not in up)
        a, b, c = (int(triangle[(alone + k) % 3]) for k in range(3))
        ends = (crossing(a, b), crossing(a, c))
        directed.append(ends if len(up) == 1 else ends[::-1])
    if not directed:
        return ()
    flat = np.array(points)[:, others]
    loops = [flat[loop] for loop in chained(np.array(directed))]
    turned = -1 if axis == 1 else 1  # x and z run the other way round than y and z, and x and y
    return tuple(loop[::-1] if turned < 0 else loop for loop in loops)


def alike_across(form: Shaped, places: Sequence[float]) -> bool:
    """Whether planes across y at these places cut the same of a form, by the area, middle and spread of what they
    cut."""
    found = [_moments(section(form, 1, y)) for y in places]
    return all(bool(np.allclose(m, found[0], rtol=1e-6, atol=0.0)) for m in found[1:])


def _moments(loops: tuple[Array, ...]) -> Array:
    """∫ 1, x, z, x², z² over an area, each in its own unit of mm, plus 1 so that small ones count as such."""
    total = np.zeros(5)
    for loop in loops:
        x, z = 1e3 * loop.T
        p, q = np.roll(x, -1), np.roll(z, -1)
        cross = x * q - p * z
        total += [cross.sum() / 2, (cross * (x + p)).sum() / 6, (cross * (z + q)).sum() / 6,
                  (cross * (x * x + x * p + p * p)).sum() / 12, (cross * (z * z + z * q + q * q)).sum() / 12]
    return total + 1.0


def top_over(form: Shaped, y: float) -> tuple[float, float] | None:
    """The highest place of what the plane at `y` cuts: x in its middle, and z; None where nothing is cut."""
    loops = section(form, 1, y)
    if not loops:
        return None
    x, z = np.concatenate(loops).T
    top = float(z.max())
    there = x[z > top - 1e-7]
    return float((there.min() + there.max()) / 2), round(top, 9)


def _normals(f: Facets) -> Array:
    a, b, c = (f.points[f.triangles[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    return np.asarray(normal / np.linalg.norm(normal, axis=1, keepdims=True))


def _facing(f: Facets, axis: int) -> Array:
    return np.asarray(_normals(f)[:, axis])


def _unpaired(directed: Ints) -> Ints:
    """Edges that no other runs along the other way."""
    n = int(directed.max()) + 1 if directed.size else 1
    there, back = directed[:, 0] * n + directed[:, 1], directed[:, 1] * n + directed[:, 0]
    return directed[~np.isin(there, back)]
