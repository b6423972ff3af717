"""A space whose nodes go elsewhere, everything that only counts them kept."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from stringflux.geometry.arrays import Array

from ..space import Ints, SolidSpace, elements_of, laplace, unknowns_of


class MovingSpace:
    """P2 on a mesh of one connection of nodes.

    Parameters
    ----------
    start : SolidSpace

    Attributes
    ----------
    air : int array (10, e)
        Unknowns of the elements outside the bodies.
    used : int array (k,)
        Unknowns of the bodies.
    """

    def __init__(self, start: SolidSpace) -> None:
        self.start = start
        self.air: Ints = unknowns_of(start.mesh)[:, start.mesh.region < 0]
        self.used: Ints = np.unique(np.concatenate([e.dofs.ravel() for e in start.bodies]))

    def at(self, nodes: Array) -> SolidSpace:
        """The space with its nodes at (3, unknowns), m: vertices, then middles of edges.

        Raises
        ------
        SolveError
            Where a tetrahedron is turned inside out.
        """
        vertices = self.start.mesh.points.shape[1]
        mesh = replace(self.start.mesh, points=nodes[:, :vertices], middles=nodes[:, vertices:])
        return replace(self.start, mesh=mesh, nodes=nodes, air=laplace(nodes, self.air), _kept={},
                       bodies=tuple(elements_of(nodes, e.dofs) for e in self.start.bodies))
