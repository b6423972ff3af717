r"""The linkage of a sensor's coil while a toothed wheel turns past it.

With A from the section of :mod:`.sliding`, N turns and the length ℓ of everything along y::

    λ(θ) = N ℓ (mean of A over the coil's side at x > 0 − mean over that at x < 0),   N < 0 for a coil wound clockwise

θ is counted from a tooth over the face, towards +x. Sensor and wheel are their own mirror images, so λ(−θ) = λ(θ):
half a tooth is solved, each position beginning from the one before. +Φ goes up, out of the face into the wheel.

History: the sensor lay by itself before it was mounted. That is the lowest B its magnet has been at, and near a wheel
it moves on the recoil lines from there.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError
from stringflux.geometry.mesh.wheel import SlidingQuality, sliding_mesh
from stringflux.geometry.shapes.tooth_wheel import WheelBuild

from ..materials.constant import ConstantPermeability
from ..materials.kinds import Materials, body_material, is_magnet
from ..section.bias import TOLERANCE, BiasCell, BiasState
from .sliding import SlidingSpace, sliding_space

_AIR = ConstantPermeability(name="air", mu_r=1.0)


@dataclass(frozen=True, kw_only=True, eq=False)
class SolvedWheel:
    """The fields of half a tooth's positions.

    Attributes
    ----------
    build : WheelBuild
    space : SlidingSpace
    steps : tuple of int
        Edges of the circle by which the wheel is turned, from a tooth over the face to a floor over it.
    states : tuple of BiasState
    alone : BiasState
        The sensor without a wheel.
    materials : tuple
        Of the parts of `build.shape`.
    """

    build: WheelBuild
    space: SlidingSpace
    steps: tuple[int, ...]
    states: tuple[BiasState, ...]
    alone: BiasState
    materials: tuple[object, ...]

    @property
    def angles(self) -> Array:
        """θ of each position, rad."""
        return np.array(self.steps) * self.build.wheel.angle / self.space.steps

    @property
    def linkage(self) -> Array:
        """λ of each, V s."""
        return np.array([self.linked(self.potential(i)) for i in range(len(self.steps))])

    @property
    def linkage_alone(self) -> float:
        """λ without a wheel, V s."""
        return self.linked(self.space.turned(0).joined @ self.alone.u)

    def linked(self, potential: Array) -> float:
        """λ of a potential on both sheets, V s."""
        sensor = self.build.sensor
        return float(self.space.linked @ potential) * sensor.coil.turns * sensor.length

    def potential(self, i: int) -> Array:
        """A of position i at the unknowns of both sheets, T m."""
        return np.asarray(self.space.turned(self.steps[i]).joined @ self.states[i].u)


def solve_wheel(build: WheelBuild, materials: Materials, *, quality: SlidingQuality, tolerance: float = TOLERANCE,
                progress: Callable[[str], None] = lambda stage: None) -> SolvedWheel:
    """Solve half a tooth's positions.

    Parameters
    ----------
    build : WheelBuild
    materials : mapping
        From the names in `build` to magnets and soft materials.
    quality : SlidingQuality
    tolerance : float, optional
        Of Newton's method, of the load.
    progress : callable, optional
        Told the name of each stage.

    Raises
    ------
    CaseError
        When there is no magnet, or it has no direction of magnetisation.
    SolveError
        When Newton's method does not settle.
    MissingLibraryError
        When gmsh cannot be loaded.
    """
    own = tuple(body_material(materials, p.material) for p in build.shape.parts)
    magnets = [p for m, p in zip(own, build.sensor.bars, strict=False) if is_magnet(m)]
    if not any(p.magnetisation for p in magnets):
        raise CaseError("sensor: no bar of it is a magnet with a direction of magnetisation; a coil sees "
                        "nothing move")
    progress("mesh")
    space = sliding_space(build, sliding_mesh(build, quality))
    progress("sensor alone")
    alone = BiasCell(section=space.turned(0), materials=(*own[:-1], _AIR)).solve(tolerance=tolerance)
    stride = space.steps // quality.positions
    steps = tuple(range(0, space.steps // 2 + 1, stride))
    states: list[BiasState] = []
    for i, k in enumerate(steps):
        progress(f"position {i + 1} of {len(steps)}")
        cell = BiasCell(section=space.turned(k), materials=own)
        states.append(cell.solve(start=states[-1] if states else None, history=alone, tolerance=tolerance))
    return SolvedWheel(build=build, space=space, steps=steps, states=tuple(states), alone=alone, materials=own)
