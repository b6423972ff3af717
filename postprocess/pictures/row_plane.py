"""The field of all poles of a row in a plane through them.

Over the faces it is what strings see, of the tables; elsewhere, and in the poles, of :mod:`...solver.row.everywhere`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.shapes.row import PartShape
from stringflux.solver.constants import MU0
from stringflux.solver.row.everywhere import Everywhere
from stringflux.solver.row.field import RowField

from .flux_lines import LineSource
from .on_grid import on_grid
from .plane import PlaneField, window

_NEAR, _WIDE = 8e-3, 1e-3  # from a pole every point is computed, elsewhere fewer


def row_plane(case: Case, plane: str, at: float, everywhere: Everywhere, field: RowField,
              heights: tuple[float, float], floors: Sequence[float], beside: float) -> PlaneField:
    """The plane "along", x = `at`, or "side", y = `at`.

    Parameters
    ----------
    case : Case
    plane : {"along", "side"}
    at : float
        m.
    everywhere : Everywhere
    field : RowField
        Its tables hold over the heights `heights`, and nearer than `beside` radii to a pole's axis from its floor on.
    heights : (float, float)
    floors : sequence of float
    beside : float
    """
    u, z = window(case, plane)
    b, inside = np.zeros((3, z.size, u.size)), np.full((z.size, u.size), -1)
    table = (z >= heights[0] - 1e-9) & (z <= heights[1] + 1e-9)
    places = everywhere.places
    over = [max(heights[0], floor) for floor in floors]
    for i, (place, own) in enumerate(zip(places, everywhere.own, strict=True)):
        middle, off = (place.y, 0.0) if plane == "along" else (0.0, place.y - at)
        radius = place.shape.radius
        room = radius + _NEAR
        reach = float(np.sqrt(max(room**2 - off**2, 0.0)))

        def relative(a: Array, up: Array, i: int = i) -> tuple[Array, Array, Array]:
            p = places[i]
            x, y = (np.full_like(a, at), a - p.y) if plane == "along" else (a, np.full_like(a, at - p.y))
            return x, y, up - p.face

        def solved(a: Array, up: Array, i: int = i) -> Array:
            return everywhere.own[i](*relative(a, up))[0]

        def tabled(a: Array, up: Array, i: int = i) -> Array:
            x, y, h = relative(a, up)
            low = (up < over[i] - 1e-9) & (np.hypot(x, y) < beside * places[i].radius)
            out = np.empty((3, a.size))
            out[:, ~low] = MU0 * field.poles[i](x[~low], y[~low], h[~low])[0]
            if np.any(low):
                out[:, low] = everywhere.own[i](x[low], y[low], h[low])[0]
            return out

        for rows, of in ((z < heights[0] - 1e-9, solved), (table, tabled), (z > heights[1] + 1e-9, solved)):
            if np.any(rows):
                near = (middle - reach, middle + reach, float(z[0]), float(z[-1])) if reach else None
                b[:, rows] += on_grid(u, z[rows], near, _WIDE, of)
        across, low = np.abs(u - middle) <= radius + 1e-6, z <= place.face + 1e-6
        if abs(off) < radius and np.any(across):
            U, Z = np.meshgrid(u[across], z[low])
            part = own(*relative(U.ravel(), Z.ravel()))[1].reshape(U.shape)
            inside[np.ix_(low, across)] = np.where(part >= 0, i, inside[np.ix_(low, across)])
    sources = [_source(i, everywhere, plane, (u, z), b) for i, p in enumerate(places)
               if plane == "along" or abs(p.y - at) < 1e-6]
    return PlaneField(plane=plane, at=at, u=u, z=z, b=b, inside=inside, sources=tuple(sources),
                      names=tuple(f"pole {i}" for i in range(1, len(places) + 1)))


def _source(i: int, everywhere: Everywhere, plane: str, grid: tuple[Array, Array], b: Array) -> LineSource:
    """The part of a pole that most flux goes through."""
    place = everywhere.places[i]
    middle = place.y if plane == "along" else 0.0
    u, z = grid

    def most(part: PartShape) -> float:
        rows = np.flatnonzero((z > place.face + part.bottom) & (z < place.face + part.top))
        columns = np.abs(u - middle) < part.radius
        return float(np.max(np.abs(b[2][np.ix_(rows, columns)]) @ np.abs(u[columns] - middle), initial=0.0))

    part = max(place.shape.parts, key=most)
    return LineSource(number=i, middle=middle, half=part.radius, bottom=place.face + part.bottom,
                  top=place.face + part.top)
