"""A build whose bodies change their shapes: figures as functions of the places of its mesh's nodes, with gradients.

Whoever moves the mesh follows the bodies; here nodes come in and ∂figure/∂nodes goes out. With velocities
V_i = ∂(nodes)/∂p_i of parameters p the slopes of a figure are Σ V_i·(∂figure/∂nodes). Values are those of the main
chain on the same mesh but for how strings' answers are told (:mod:`stringflux.solver.solid.shape.answer`); a gradient
goes the chain back once, whatever the number of parameters.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import StringShape
from stringflux.geometry.shapes.standing import standing_poles
from stringflux.solver.materials import Materials
from stringflux.solver.materials.kinds import is_magnet
from stringflux.solver.solid.shape.adjoint import FieldWeights, node_derivative
from stringflux.solver.solid.shape.nodal import body_volume
from stringflux.solver.solid.shape.state import BuildState, MovingBuild
from stringflux.solver.solid.solve import SolvedSolid
from stringflux.solver.solid.under_strings import BESIDE

from ..string.magnetisation import Layer
from ..string.model import laid_level
from ..string.numerics import SHIPPED, StringNumerics
from .build_string import BuildString, StringFound
from .figures import ShapeFigures, of_each_string
from .passes import PASSES

_FIRST = np.array([1.0, -8.0, 0.0, 8.0, -1.0]) / 12


@dataclass(frozen=True, kw_only=True, eq=False)
class BuildSolution:
    """Everything that belongs to one design: the build, its strings, and all figures by name, SI."""

    state: BuildState
    strings: tuple[StringFound, ...]
    values: dict[str, float]


@dataclass(frozen=True, kw_only=True, eq=False)
class BuildProblem(ShapeFigures[BuildSolution]):
    """Build it with :func:`build_problem`."""

    build: MovingBuild
    strings: tuple[BuildString, ...]

    @property
    def nodes(self) -> Array:
        """Places of the nodes at the start (3, n), m: the mesh's vertices, then the middles of its edges."""
        return self.build.start.nodes

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the figures."""
        return ("sensitivity", "magnet_volume", *of_each_string(len(self.strings)))

    def solve(self, at: Array) -> BuildSolution:
        """The design with its nodes at (3, n), to go on from.

        `S_1` … |dλ/dz| of string 1 on its steel's curve in V·s/m, `linkage_1` λ in Wb, `bias_1` B₀ upwards on its
        axis at x = 0 in T; `sensitivity` the mean of all S; `magnet_volume` of all magnets in m³.

        Raises
        ------
        SolveError
            When a tetrahedron is turned inside out, or something does not settle.
        """
        state = self.build.at(at)
        points = np.concatenate([s.points for s in self.strings], axis=1)
        ends = np.cumsum([s.points.shape[1] for s in self.strings])[:-1]
        fields = np.split(self.build.fields(state, points), ends, axis=2)
        strings = tuple(s.solve(state, f) for s, f in zip(self.strings, fields, strict=True))
        values: dict[str, float] = {}
        for i, (s, found) in enumerate(zip(self.strings, strings, strict=True)):
            values |= {f"S_{i + 1}": abs(float(_FIRST @ found.linkage)) / s.step,
                       f"linkage_{i + 1}": float(found.linkage[2]), f"bias_{i + 1}": found.bias}
        values["sensitivity"] = float(np.mean([values[f"S_{i + 1}"] for i in range(len(strings))]))
        values["magnet_volume"] = sum(body_volume(state.space, i)[0] for i in self._magnets)
        return BuildSolution(state=state, strings=strings, values=values)

    def back(self, found: BuildSolution, weights: Mapping[str, float]) -> Array:
        each: list[FieldWeights] = []
        for i, (s, one) in enumerate(zip(self.strings, found.strings, strict=True)):
            slope = float(_FIRST @ one.linkage)
            share = weights.get(f"S_{i + 1}", 0.0) + weights.get("sensitivity", 0.0) / len(self.strings)
            by_linkage = share * np.sign(slope) * _FIRST / s.step
            by_linkage[2] += weights.get(f"linkage_{i + 1}", 0.0)
            by_bias = weights.get(f"bias_{i + 1}", 0.0)
            if np.any(by_linkage) or by_bias:
                each.append(s.back(one, by_linkage, by_bias))
        out = np.zeros_like(found.state.nodes)
        if each:
            points, bias, signal = (np.concatenate([getattr(w, name) for w in each], axis=1)
                                    for name in ("points", "bias", "signal"))
            out += node_derivative(self.build, found.state, FieldWeights(
                points=points, bias=bias, signal=signal, answers=tuple(a for w in each for a in w.answers)))
        if by_volume := weights.get("magnet_volume", 0.0):
            out += by_volume * sum(body_volume(found.state.space, i)[1] for i in self._magnets)
        return out

    @property
    def _magnets(self) -> list[int]:
        every = zip(self.build.bodies, self.build.substances, strict=True)
        return [i for i, (b, m) in enumerate(every) if b.polarity and is_magnet(m)]


def can_follow_build(history: str, string: StringNumerics) -> bool:
    """Whether :func:`build_problem` takes magnets of this history and these settings of strings."""
    return history == "after" and string.passes == PASSES


def build_problem(solved: SolvedSolid, materials: Materials, strings: Sequence[StringShape],
                  layers: Sequence[tuple[Layer, ...]], faces: Sequence[float], *,
                  numerics: StringNumerics = SHIPPED) -> BuildProblem:
    """Set up a problem.

    Parameters
    ----------
    solved : SolvedSolid
        The build at the start, its coils as they are connected; it need not have been asked for strings.
    materials : mapping
        As of :func:`stringflux.solver.solid.solve.solve_solid`.
    strings, layers
        The strings whose figures are wanted, and what they are made of.
    faces : sequence of float
        Height of what lies under each, m.
    numerics : StringNumerics
        The string's grid and its length; :func:`can_follow_build`.

    Raises
    ------
    CaseError
        For what :func:`can_follow_build` refuses.
    SolveError
    """
    build = MovingBuild(solved, materials)
    made = []
    for string, of, face in zip(strings, layers, faces, strict=True):
        shape = laid_level(solved.field, string)
        made.append(BuildString(build, shape, tuple(of), *_under(solved, shape.y, face),
                                mirrored=solved.field.mirrored and shape.slope == 0.0, numerics=numerics))
    return BuildProblem(build=build, strings=tuple(made))


def _under(solved: SolvedSolid, y: float, face: float) -> tuple[float, float]:
    """Height of the face under a string, and the radius of that if it is a pole's, m."""
    poles = [p for p in standing_poles(solved.bodies) if abs(p.y - y) < BESIDE]
    if not poles:
        return face, 0.0
    pole = min(poles, key=lambda p: (abs(p.y - y), abs(p.face - face)))
    return pole.face, pole.shape.parts[0].radius
