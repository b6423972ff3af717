"""Triangles on the mid-surfaces of thin bodies: covers, plates of any direction, discs.

A cover is one surface, its lid and four walls joined at the folds, open at its lower rim. Rectangles are cut into
equal cells; discs into rings of 6, 12, 18 … triangles' corners. Normals point out of a cover and along the axis of
the rest. Holes, such as those that poles stick through, are ignored: currents would have to run round each, which
lets through a little more flux than an unbroken lid does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError
from stringflux.geometry.shapes.bodies import Box, Cover, Cylinder, Form, Plain, plain

CELLS = 700
"""Cells over all sheets, two triangles each."""
_THIN = 0.25  # thickness over the next smallest size of what counts as a sheet
_LEAST = 4  # cells along any edge

Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, kw_only=True, eq=False)
class SheetMesh:
    """Triangles of one or several sheets.

    Attributes
    ----------
    points : array (3, n)
        m.
    triangles : int array (3, m)
        Corners, counter-clockwise seen from the side of the normal.
    body : int array (m,)
        Which form each belongs to.
    inner : int array (k,)
        Points off the free edges: those that carry an unknown.
    """

    points: Array
    triangles: Ints
    body: Ints
    inner: Ints


def is_sheet(form: Form) -> bool:
    """Whether a body is thin enough to be taken as a sheet."""
    form = plain(form)
    if isinstance(form, Cover):
        low, high = form.bounds
        return form.wall <= _THIN * min(high[0] - low[0], high[1] - low[1], 4 * (high[2] - low[2]))
    if isinstance(form, Box):
        edges = sorted(b - a for a, b in zip(*form.bounds, strict=True))
        return edges[0] <= _THIN * edges[1]
    return isinstance(form, Cylinder) and form.length <= _THIN * 2 * form.radius


def sheet_mesh(forms: Sequence[Form], cells: int = CELLS) -> SheetMesh:
    """Mesh the mid-surfaces.

    Parameters
    ----------
    forms : sequence of Form
        Thin ones, see :func:`is_sheet`.
    cells : int
        About how many, over all.

    Raises
    ------
    CaseError
        For a body that is no sheet.

    Examples
    --------
    >>> plate = Box(low=(0, 0, 0), high=(20e-3, 40e-3, 0.5e-3))
    >>> mesh = sheet_mesh([plate], cells=200)
    >>> mesh.triangles.shape[1], mesh.inner.size  # 10 × 20 cells, 9 × 19 points off its edges
    (400, 171)
    """
    for form in forms:
        if not is_sheet(form):
            raise CaseError(f"a conducting body {form.thickness * 1e3:.3g} mm thick cannot be taken as a sheet; make "
                            f"it thinner than {_THIN:g} of its next smallest size, or leave it out")
    patches = [_patches(plain(form)) for form in forms]
    size = float(np.sqrt(sum(p.area for own in patches for p in own) / cells))
    points, triangles, body = [], [], []
    count = 0
    for i, own in enumerate(patches):
        x, t = _merged([patch.mesh(size) for patch in own])
        points.append(x)
        triangles.append(t + count)
        body.append(np.full(t.shape[1], i))
        count += x.shape[1]
    t = np.hstack(triangles)
    return SheetMesh(points=np.hstack(points), triangles=t, body=np.concatenate(body),
                     inner=np.setdiff1d(np.arange(count), _free_edge(t)))


@dataclass(frozen=True)
class _Rectangle:
    """corner + s·first + t·second, its normal along first × second."""

    corner: tuple[float, ...]
    first: tuple[float, ...]
    second: tuple[float, ...]

    @property
    def area(self) -> float:
        return float(np.linalg.norm(self.first) * np.linalg.norm(self.second))

    def mesh(self, size: float) -> tuple[Array, Ints]:
        a, b = np.array(self.first), np.array(self.second)
        n, m = (max(_LEAST, round(float(np.linalg.norm(v)) / size)) for v in (a, b))
        s, t = (g.ravel() for g in np.meshgrid(np.arange(n + 1) / n, np.arange(m + 1) / m, indexing="ij"))
        points = np.array(self.corner)[:, None] + a[:, None] * s + b[:, None] * t
        i, j = (g.ravel() for g in np.meshgrid(np.arange(n), np.arange(m), indexing="ij"))
        q = [i * (m + 1) + j, (i + 1) * (m + 1) + j, (i + 1) * (m + 1) + j + 1, i * (m + 1) + j + 1]
        # diagonals the other way in every second cell, and mirrored about the middle
        swap = ((np.minimum(i, n - 1 - i) + np.minimum(j, m - 1 - j) + (2 * i >= n) + (2 * j >= m)) % 2).astype(bool)
        one = np.where(swap, [q[0], q[1], q[3]], [q[0], q[1], q[2]])
        two = np.where(swap, [q[1], q[2], q[3]], [q[0], q[2], q[3]])
        return points, np.hstack([one, two])


@dataclass(frozen=True)
class _Disc:
    centre: tuple[float, ...]
    along: int
    radius: float

    @property
    def area(self) -> float:
        return float(np.pi * self.radius**2)

    def mesh(self, size: float) -> tuple[Array, Ints]:
        rings = max(_LEAST, round(self.radius / (1.1 * size)))
        flat, triangles = [np.zeros((2, 1))], []
        start = [0, 1]
        # the polygon of the last ring has the area of the circle
        n = 6 * rings
        swell = np.sqrt(2 * np.pi / (n * np.sin(2 * np.pi / n)))
        for k in range(1, rings + 1):
            angle = 2 * np.pi * np.arange(6 * k) / (6 * k)
            flat.append(swell * self.radius * k / rings * np.stack([np.cos(angle), np.sin(angle)]))
            start.append(start[-1] + 6 * k)
            outer = start[k] + np.arange(6 * k + 1) % (6 * k)
            inner = start[k - 1] + np.arange(6 * (k - 1) + 1) % max(6 * (k - 1), 1)
            for side in range(6):
                o, i = outer[side * k:(side + 1) * k + 1], inner[side * (k - 1):(side + 1) * (k - 1) + 1]
                triangles += [np.stack([i, o[:-1], o[1:]]), np.stack([i[:-1], o[1:-1], i[1:]])]
        u, v = np.hstack(flat)
        points = np.tile(np.array(self.centre)[:, None], (1, u.size))
        points[(self.along + 1) % 3] += u
        points[(self.along + 2) % 3] += v
        return points, np.hstack(triangles)


def _patches(form: Plain) -> list[_Rectangle | _Disc]:
    if isinstance(form, Cylinder):
        centre = list(form.base)
        centre[form.along] += form.length / 2
        return [_Disc(tuple(centre), form.along, form.radius)]
    low, high = (np.array(p, dtype=float) for p in form.bounds)
    if isinstance(form, Box):
        thin = int(np.argmin(high - low))
        low[thin] = high[thin] = (low[thin] + high[thin]) / 2
        first, second = np.zeros(3), np.zeros(3)
        first[(thin + 1) % 3] = (high - low)[(thin + 1) % 3]
        second[(thin + 2) % 3] = (high - low)[(thin + 2) % 3]
        return [_rectangle(low, first, second)]
    assert isinstance(form, Cover)
    half = form.wall / 2
    low, high = low + [half, half, 0.0], high - half
    x, y, z = np.diag(high - low)
    return [_rectangle(low + z, x, y), _rectangle(low, z, y), _rectangle(low + x, y, z),
            _rectangle(low, x, z), _rectangle(low + y, z, x)]


def _rectangle(corner: Array, first: Array, second: Array) -> _Rectangle:
    return _Rectangle(tuple(corner.tolist()), tuple(first.tolist()), tuple(second.tolist()))


def _merged(pieces: Sequence[tuple[Array, Ints]]) -> tuple[Array, Ints]:
    """One mesh of pieces that share the points of their edges."""
    count, triangles = 0, []
    for x, t in pieces:
        triangles.append(t + count)
        count += x.shape[1]
    points = np.hstack([x for x, _ in pieces])
    _, first, back = np.unique(np.round(points, 9), axis=1, return_index=True, return_inverse=True)
    return points[:, first], back.ravel()[np.hstack(triangles)].astype(np.int64)


def _free_edge(triangles: Ints) -> Ints:
    """Points on edges that belong to one triangle only."""
    edges = np.sort(np.hstack([triangles[[0, 1]], triangles[[1, 2]], triangles[[2, 0]]]), axis=0)
    unique, count = np.unique(edges, axis=1, return_counts=True)
    return np.unique(unique[:, count == 1])
