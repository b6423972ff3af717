"""One string over a build whose nodes move: λ at five heights from the fields at its places, and backwards."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.reading.check_strings import LEAST_GAP
from stringflux.geometry.shapes.row import StringShape
from stringflux.solver.constants import MU0
from stringflux.solver.line_answer import along_string
from stringflux.solver.solid.shape.adjoint import FieldWeights
from stringflux.solver.solid.shape.answer import AnswerState, MovingAnswer
from stringflux.solver.solid.shape.state import BuildState, MovingBuild

from ..string.grid import string_grid
from ..string.layers import charge_radius
from ..string.line_fields import circle_points
from ..string.linkage import step_over
from ..string.magnetisation import Layer
from ..string.numerics import StringNumerics
from .passes import AlongString, PassesFound, StringPasses
from .places import REST, StringPlaces

_HEIGHTS = np.array([0.85, 1.0, 1.15])
"""Of the charges that modes are chosen from, in heights of the string's axis over the face."""
_ASIDE = np.array([-0.3, 0.0, 0.3])
"""And how far across, in the same."""


@dataclass(frozen=True, kw_only=True, eq=False)
class StringFound:
    """λ at the five heights, Wb, B₀ upwards on the axis at rest, T, and what :meth:`BuildString.back` needs."""

    linkage: Array
    bias: float
    found: PassesFound
    answer: AnswerState


class BuildString:
    """A string's constants.

    Parameters
    ----------
    build : MovingBuild
    shape : StringShape
    layers : tuple of Layer
    face, edge : float
        Height of the face below it and the radius of that, m.
    mirrored : bool
        Whether fields and string are their own images in x = 0.
    numerics : StringNumerics
    """

    def __init__(self, build: MovingBuild, shape: StringShape, layers: tuple[Layer, ...], face: float, edge: float,
                 mirrored: bool, numerics: StringNumerics) -> None:
        clear = max(shape.axis_height - shape.outer_radius - face, LEAST_GAP)
        grid = string_grid(clear, numerics.reach, mirrored=mirrored, refine=numerics.refine, edge=edge)
        radius, height = charge_radius(shape, layers), shape.axis_height - face
        self.step = step_over(shape, face)
        self.places = StringPlaces(shape, grid, radius, self.step, circle_points(radius, height))
        self._shape = self.places.points.shape
        self.points = self.places.points.reshape(3, -1)
        self._coil = self.places.taken(build.coil_field(self.places.points))
        self._rest = int(np.ravel_multi_index((REST, 0, self.places.middle), self._shape[1:]))
        symmetry = build.start.space.mesh.symmetry
        self.answer = MovingAnswer(
            build.start.space, build.moving.used, self._at(grid.middle), self._at(grid.x),
            self._candidates(height, numerics.reach, symmetry.x), mirrored=mirrored,
            level=symmetry.y and shape.y == 0.0 and 1 not in build.odd)
        F, across, up = self.answer.factors
        n = self.places.z.size
        F = F.reshape(n, grid.middle.size, -1)
        self._passes = StringPasses(layers, grid, radius, F[:, 1:] - F[:, :-1], np.stack(
            [g.reshape(n, grid.x.size, -1) for g in (across, up)], axis=1))

    def _at(self, x: Array) -> Array:
        """Places (3, heights × n) of the axis."""
        z = self.places.z[:, None] + self.places.shape.slope * x
        X, Y, Z = np.broadcast_arrays(x, self.places.shape.y, z)
        return np.stack([X.ravel(), Y.ravel(), Z.ravel()])

    def _candidates(self, height: float, reach: float, halved: bool) -> Array:
        half, shape = along_string(height, reach), self.places.shape
        x = half if halved else np.concatenate([-half[:0:-1], half])
        X, Y, H = (a.ravel() for a in np.meshgrid(x, shape.y + height * _ASIDE, height * _HEIGHTS, indexing="ij"))
        return np.stack([X, Y, shape.axis_height - height + H + shape.slope * X])

    def solve(self, state: BuildState, fields: Array) -> StringFound:
        """Follow the static curve in the fields (2, 3, p) of :meth:`MovingBuild.fields` at :attr:`points`."""
        answer = self.answer.at(state)
        bias, own = (self.places.taken(f.reshape(self._shape)) for f in fields)
        signal = AlongString(along=self._coil.along + MU0 * own.along, across=self._coil.across + MU0 * own.across)
        found = self._passes.solve(bias, signal, answer.matrix)
        return StringFound(linkage=found.linkage, bias=MU0 * float(fields[0, 2, self._rest]), found=found,
                           answer=answer)

    def back(self, found: StringFound, by_linkage: Array, by_bias: float) -> FieldWeights:
        """Weights from ∂J/∂λ (5,) and ∂J/∂B₀."""
        bias, own, answer = self._passes.back(found.found, by_linkage, found.answer.matrix)
        on_bias = self.places.back(bias).reshape(3, -1)
        on_bias[2, self._rest] += MU0 * by_bias
        return FieldWeights(points=self.points, bias=on_bias, signal=MU0 * self.places.back(own).reshape(3, -1),
                            answers=((found.answer, answer),))
