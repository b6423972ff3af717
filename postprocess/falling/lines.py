r"""Lines of B in a plane through the axis: places of equal flux through the circle round the axis.

    Ψ = 2π r A = 2π r² u          B_r = −∂Ψ/∂z / (2πr),  B_z = ∂Ψ/∂r / (2πr)

Between two lines that follow each other there is the same flux, in the rings that they make about the axis.

References
----------
Derived here.
"""

from __future__ import annotations

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.solver.section.bias import BiasState
from stringflux.solver.section.space import Section

COUNT = 9
POINTS = 72
_INNER = ((0, 3, 5), (3, 1, 4), (5, 4, 2), (3, 4, 5))  # triangles of a P2 element's six nodes


def field_lines(section: Section, state: BiasState, reach: float, count: int = COUNT) -> tuple[Array, ...]:
    """Lines (2, k) on both sides of the axis, u and z in m, whose points run along B.

    Parameters
    ----------
    reach : float
        Lines are kept within this distance of the mesh's middle, m.
    count : int
        How many on each side, at most.
    """
    from matplotlib.figure import Figure  # figures are slow to load
    from matplotlib.tri import Triangulation

    r, z = section.nodes
    dofs = np.asarray(section.basis.element_dofs)
    triangles = np.concatenate([dofs[list(corners)].T for corners in _INNER])
    flux = 2 * np.pi * r * r * state.u
    most = float(flux[np.argmax(np.abs(flux))])
    levels = np.sort(most * (np.arange(count) + 0.5) / count)
    # their roots: about the axis flux goes with r², and between the nodes of a triangle contours are straight
    found = Figure().subplots().tricontour(Triangulation(r, z, triangles), _root(flux), _root(levels))
    out = []
    for segment in (s for level in found.allsegs for s in level if len(s) > 8):
        line = _spaced(np.asarray(segment).T[:, ::-1])  # contours keep what is higher to the left; B the other way
        near = np.hypot(line[0], line[1] - section.mesh.far_centre) < reach
        if near.all():
            out += [line, line * [[-1.0], [1.0]]]
        else:
            out += [side for part in _runs(line, near) for side in (part, part * [[-1.0], [1.0]])]
    return tuple(out)


def _root(flux: Array) -> Array:
    return np.asarray(np.sign(flux) * np.sqrt(np.abs(flux)))


def _spaced(line: Array) -> Array:
    """The same line by evenly spaced points."""
    way = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=1)))])
    at = np.linspace(0.0, way[-1], POINTS)
    return np.stack([np.interp(at, way, coordinate) for coordinate in line])


def _runs(line: Array, near: Array) -> list[Array]:
    """Stretches of a line that are near; one that goes on over the ends of a closed line is whole."""
    if not near.any():
        return []
    first = int(np.argmin(near))
    closed = float(np.hypot(*(line[:, 0] - line[:, -1]))) < 1e-9
    if closed:
        line, near = np.roll(line[:, :-1], -first, axis=1), np.roll(near[:-1], -first)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], near, [False]]).astype(int)))
    return [line[:, a:b] for a, b in edges.reshape(-1, 2) if b - a > 4]
