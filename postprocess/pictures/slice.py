"""The static field in a plane across the row, y = y0, from a solved build: for figures and for other programs.

In air B comes from the charges of the bodies (:mod:`stringflux.solver.solid.layers`) and is smooth: −μ0 ∇φ jumps from
element to element, by 5 % at draft. Inside bodies B is the law's at the four points of every element. Its values at
an element's ten nodes are averaged over the elements of the same body that meet there, so that it is continuous
inside each body and jumps where it does in truth; between nodes it is linear on the eight parts that the nodes cut a
tetrahedron into.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt
from scipy.ndimage import distance_transform_edt

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings, string_places
from stringflux.geometry.mesh.solid import EDGES, edges_of
from stringflux.geometry.shapes.bodies import SolidBody
from stringflux.solver.constants import MU0
from stringflux.solver.solid.layers import field_in_plane, layers
from stringflux.solver.solid.solve import SolvedSolid
from stringflux.solver.solid.space import averaged

from ..records.prediction import SliceOutline, SliceRecord
from .outlines import body_outlines, winding_outlines

STEP = 0.25e-3
"""Between the points of the picture, m."""

_BESIDE, _UNDER, _OVER = 4e-3, 3.5e-3, 3e-3  # of air shown, m
_ROUNDED = 8  # decimals of B in T: 10 nT is far below what is known
_OFF = 1e-7  # m: a plane exactly on faces of elements would belong to both sides
_M = {edge: 4 + i for i, edge in enumerate(EDGES)}
_EIGHT = np.array(
    [[0, _M[0, 1], _M[0, 2], _M[0, 3]], [1, _M[0, 1], _M[1, 2], _M[1, 3]],
     [2, _M[0, 2], _M[1, 2], _M[2, 3]], [3, _M[0, 3], _M[1, 3], _M[2, 3]],
     *([_M[0, 2], _M[1, 3], _M[a], _M[b]]
       for a, b in (((0, 1), (1, 2)), ((1, 2), (2, 3)), ((2, 3), (0, 3)), ((0, 3), (0, 1))))])

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]


def slice_record(case: Case, solved: SolvedSolid) -> SliceRecord:
    """The plane through the first pole, or without poles along the string next to the middle."""
    return pictured(case, solved.bodies, lambda y, x, z: plane_field(solved, y, x, z))


def pictured(case: Case, bodies: tuple[SolidBody, ...],
             field: Callable[[float, Array, Array], tuple[Array, Bools]], *, endless: bool = False) -> SliceRecord:
    """That plane from any solver.

    Parameters
    ----------
    bodies : tuple of SolidBody
        The magnetic ones.
    field : callable
        B (3, nz, nx) at y, x (nx,), z (nz,), and whether that is in one of them (nz, nx).
    endless : bool
        Whether the bodies were taken as endless across the strings.
    """
    y = _plane(case)
    outlines = _outlines(case, bodies, y)
    shapes = [s.shape for s in placed_strings(case)]
    string = int(np.argmin([abs(s.y - y) for s in shapes]))
    shape = shapes[string]
    every = np.concatenate([o.polygon for o in outlines], axis=1)
    left, right = every[0].min() - _BESIDE, every[0].max() + _BESIDE
    height = shape.axis_height + abs(shape.slope) * max(-left, right) + shape.outer_radius
    x, z = _steps(left, right), _steps(every[1].min() - _UNDER, max(every[1].max(), height) + _OVER)
    b, solid = field(y, x, z)
    line = np.array([[x[0], x[-1]], shape.axis_height + shape.slope * x[[0, -1]]])
    return SliceRecord(y=y, x=x, z=z, b=np.round(b, _ROUNDED), region=_regions(outlines, x, z, solid),
                       outlines=outlines, string=string + 1, string_line=line, endless=endless)


def _plane(case: Case) -> float:
    poles = case.placed_poles()
    return float(poles[0].y if poles else min(string_places(case), key=abs))


def _steps(low: float, high: float) -> Array:
    first, last = np.floor(low / STEP), np.ceil(high / STEP)
    return STEP * np.arange(first, last + 1)


def _outlines(case: Case, bodies: tuple[SolidBody, ...], y: float) -> tuple[SliceOutline, ...]:
    """All that is cut: coils, then bodies."""
    out = []
    for name, track in zip(case.coil_names(), case.racetracks(), strict=True):
        out += [SliceOutline(name=name, material="", kind="winding", polygon=p) for p in winding_outlines(track, y)]
    for body in case.solid_bodies():
        for polygon in body_outlines(body.form, y):
            kind = "magnet" if body.polarity else "soft" if body in bodies else "not magnetic"
            out.append(SliceOutline(name=body.name, material=body.material, kind=kind, polygon=polygon))
    return tuple(out)


def _regions(outlines: tuple[SliceOutline, ...], x: Array, z: Array, solid: Bools) -> Ints:
    """Which outline a point (nz, nx) of the solver's bodies is in; −1 elsewhere."""
    from matplotlib.path import Path  # here: a prediction without pictures draws nothing

    out = np.full(solid.shape, -1)
    points = np.stack(np.meshgrid(x, z), axis=-1).reshape(-1, 2)
    for i, outline in enumerate(outlines):
        if outline.kind in ("magnet", "soft"):
            inside = Path(outline.polygon.T).contains_points(points).reshape(out.shape)
            out[np.asarray(inside, dtype=bool) & solid] = i
    loose = solid & (out < 0)  # on an outline, or between it and the mesh's facets
    if np.any(loose) and np.any(out >= 0):
        nearest = distance_transform_edt(out < 0, return_distances=False, return_indices=True)
        out[loose] = out[tuple(nearest)][loose]
    return out


def plane_field(solved: SolvedSolid, y: float, x: Array, z: Array) -> tuple[Array, Bools]:
    """B (3, nz, nx) in T at (x, y, z), and whether that is in one of the solver's bodies (nz, nx)."""
    symmetry, odd = solved.space.mesh.symmetry, solved.odd
    folded: Array = np.unique(np.round(np.abs(x), 12)).astype(float) if symmetry.x else x
    at = max(abs(y), _OFF) + _OFF if symmetry.y else y + _OFF
    b, solid = _rasterised(solved, at, np.asarray(folded, dtype=float), z)
    if symmetry.x:
        column = np.searchsorted(folded, np.round(np.abs(x), 12))
        b, solid = b[:, :, column], solid[:, column]
        b = np.where(x < 0, _image(0, odd)[:, None, None], 1.0) * b
    if symmetry.y and y < 0:
        b = _image(1, odd)[:, None, None] * b
    return b, solid


def _image(axis: int, odd: tuple[int, ...]) -> Array:
    """What B's components are multiplied with behind a plane of symmetry: φ even flips B's normal part."""
    sign = np.ones(3)
    sign[axis] = -1.0
    return -sign if axis in odd else sign


def _rasterised(solved: SolvedSolid, y: float, x: Array, z: Array) -> tuple[Array, Bools]:
    space = solved.space
    t, n = space.mesh.tetrahedra, space.mesh.points.shape[1]
    dofs = np.concatenate([t, n + edges_of(t, n)[1]])
    places = space.nodes[:, dofs]
    slack = 2 * _OFF
    low, high = places.min(axis=1) - slack, places.max(axis=1) + slack
    cut = ((low[1] < y) & (high[1] > y) & (low[0] < x[-1]) & (high[0] > x[0]) & (low[2] < z[-1]) & (high[2] > z[0]))
    b, solid = np.empty((3, z.size, x.size)), np.zeros((z.size, x.size), dtype=bool)
    for k in np.unique(space.mesh.region[cut]):
        if k < 0:
            continue
        own = space.mesh.region == k
        nodal = _nodal(solved, int(k), np.unique(dofs[:, own & cut]))
        parts = dofs[:, own & cut][_EIGHT.T].reshape(4, -1)
        _fill(space.nodes, parts, nodal, y, (x, z), b, solid)
    layer = layers(space, solved.bias, solved.odd)
    b[:, ~solid] = MU0 * field_in_plane(layer, solved.field.charges, y, x, z, ~solid)
    if direct := solved.field.direct:
        across, up = np.meshgrid(x, z)
        b[:, ~solid] += direct.field(np.stack([across, np.full_like(across, y), up])[:, ~solid])
    return b, solid


def _nodal(solved: SolvedSolid, k: int, used: Ints) -> Array:
    """B (3, unknowns) at the nodes `used`, averaged over the elements of body k around each."""
    space = solved.space
    wanted = np.zeros(space.unknowns, dtype=bool)
    wanted[used] = True
    body = space.bodies[k]
    touching = np.any(wanted[body.dofs], axis=0)
    size = body.weight[touching].sum(axis=1)
    out = averaged(body.dofs[:, touching], solved.bias.b[k][:, touching], size, space.unknowns)
    for axis, there in space.planes.items():  # what symmetry leaves of B on its planes
        out[:, there] *= (1 + _image(axis, solved.odd)[:, None]) / 2
    return out


def _fill(nodes: Array, parts: Ints, nodal: Array, y: float, grid: tuple[Array, Array], b: Array,
          solid: Bools) -> None:
    """Every point of the plane that lies in one of the tetrahedra `parts` (4, m)."""
    x, z = grid
    corners = nodes[:, parts]
    low, high = corners.min(axis=1), corners.max(axis=1)
    near = np.flatnonzero((low[1] <= y + _OFF) & (high[1] >= y - _OFF))
    edges = np.moveaxis(corners[:, 1:] - corners[:, :1], 2, 0)[near]  # (m, 3, 3)
    flat = np.abs(np.linalg.det(edges)) < 1e-24  # m³: a curved element's parts may be
    near, inverse = near[~flat], np.linalg.inv(edges[~flat])
    first = [np.searchsorted(axis, low[c, near] - _OFF) for axis, c in ((x, 0), (z, 2))]
    last = [np.searchsorted(axis, high[c, near] + _OFF) for axis, c in ((x, 0), (z, 2))]
    for i, j, i0, i1, j0, j1 in zip(near, range(near.size), first[0], last[0], first[1], last[1], strict=True):
        if i0 == i1 or j0 == j1:
            continue
        across, up = np.meshgrid(x[i0:i1], z[j0:j1])
        point = np.stack([across, np.full_like(across, y), up]) - corners[:, 0, i, None, None]
        lam = np.tensordot(inverse[j], point, 1)
        lam = np.concatenate([1 - lam.sum(axis=0, keepdims=True), lam])
        inside = np.all(lam > -1e-6, axis=0)
        b[:, j0:j1, i0:i1] = np.where(inside, np.tensordot(nodal[:, parts[:, i]], lam, 1), b[:, j0:j1, i0:i1])
        solid[j0:j1, i0:i1] |= inside
