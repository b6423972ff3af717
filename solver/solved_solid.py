"""From bodies and coils anywhere to their fields: the 3-D solver's front door.

Stages, each told to `progress`: mesh, bias (nonlinear), the coils' field at the bodies, small-signal answer to every
coil, the answers of poles to strings. Nothing here depends on a string but the heights at which fields are asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError
from stringflux.geometry.mesh import Quality
from stringflux.geometry.shapes import Racetrack
from stringflux.geometry.solid_mesh import SolidQuality, mirror_parity, solid_mesh
from stringflux.geometry.solid_shapes import SolidBody

from . import coil_air
from .coil_area import mean_area
from .coil_pairs import inductance_matrix_air
from .constants import MU0
from .solid_bias import SolidState, charges, solve_static
from .solid_charges import unfolded
from .solid_field import SolidField
from .solid_law import signal_permeability, solid_law
from .solid_signal import SignalState, solve_signal
from .solid_space import SolidSpace, solid_space
from .solid_under import Over, StandingPole, answers_under, standing_poles

_BAND_TOLERANCE = 1e-5  # of the residual where only a range is asked for

Progress = Callable[[str], None]


@dataclass(frozen=True, kw_only=True, eq=False)
class SolvedSolid:
    """Fields and circuit figures of a build.

    Attributes
    ----------
    field : SolidField
        B₀ and b at any points above the bodies, the coils connected by their weights.
    bodies : tuple of SolidBody
        The magnetic ones, in the order of the space's.
    coils : tuple of Racetrack
        Of one turn, counter-clockwise.
    space : SolidSpace
    bias : SolidState
    signal : SignalState
    matrix_air, matrix : arrays (coils, coils)
        Inductances without and with the bodies, H per turn².
    moments : array (coils, 3)
        Area of a turn plus ∫ M dV per ampere, m².
    odd : tuple of int
        Planes of symmetry about which the bias potential is odd.
    """

    field: SolidField
    bodies: tuple[SolidBody, ...]
    coils: tuple[Racetrack, ...]
    space: SolidSpace
    bias: SolidState
    signal: SignalState
    matrix_air: Array
    matrix: Array
    moments: Array
    odd: tuple[int, ...]

    @property
    def inductance_air(self) -> float:
        """Of the coils in series as their weights say, H."""
        return float(self.field.weights @ self.matrix_air @ self.field.weights)

    @property
    def inductance(self) -> float:
        """The same with the bodies, H."""
        return float(self.field.weights @ self.matrix @ self.field.weights)

    @property
    def area(self) -> Array:
        """Effective area for uniform fields, m² (3,)."""
        return np.asarray(self.field.weights @ self.moments)

    def connected(self, weights: Array) -> SolvedSolid:
        """The same with the coils connected another way: nothing is solved again."""
        return replace(self, field=self.field.connected(weights))

    def over(self, strings: Sequence[Over], materials: Mapping[str, Any], quality: Quality,
             reach: float) -> SolvedSolid:
        """The same under these strings: the answers of what lies below each; the field is not solved again."""
        places, answers = answers_under(self.space, self.bodies, materials, self.bias, strings, quality, reach)
        return replace(self, field=self.field.over(places, answers))

    @property
    def poles(self) -> tuple[StandingPole, ...]:
        """The stacks of bodies of revolution, row by row."""
        return standing_poles(self.bodies)

    def face_field(self, height: float) -> Array:
        """B_z (poles,) in T on each pole's axis, `height` over its face."""
        points = np.array([[p.x, p.y, p.face + height] for p in self.poles]).T.reshape(3, -1)
        return np.asarray(self.field.bias(points)[2])

    def face_factors(self, height: float, materials: Mapping[str, Any]) -> Array:
        """What the doubt about the magnets' μ_⊥ multiplies that with, lowest and highest: (poles, 2)."""
        own = [materials[b.material] for b in self.bodies]
        out = []
        for end in (0, 1):
            other = [replace(m, mu_transverse=m.mu_transverse_range[end]) if hasattr(m, "field") else m for m in own]
            if other == own:
                out.append(np.ones(len(self.poles)))
                continue
            laws = [solid_law(b, m) for b, m in zip(self.bodies, other, strict=True)]
            state = solve_static(self.space, laws, odd=self.odd, start=self.bias.phi, tolerance=_BAND_TOLERANCE)
            q = unfolded(self.space, bias_charges(self.space, state)[None], (self.odd,))
            points = np.array([[p.x, p.y, p.face + height] for p in self.poles]).T.reshape(3, -1)
            out.append(MU0 * q.field(points)[0, 2] / self.face_field(height))
        return np.stack([np.minimum(*out), np.maximum(*out)], axis=1)


def bias_charges(space: SolidSpace, state: SolidState) -> Array:
    """∫ M·∇w of a static state, A·m (unknowns,)."""
    return charges(space, [b / MU0 - h for b, h in zip(state.b, state.h, strict=True)])


def magnetic(bodies: Sequence[SolidBody], materials: Mapping[str, Any]) -> tuple[SolidBody, ...]:
    """The bodies that a static field knows of."""
    return tuple(b for b in bodies if hasattr(materials[b.material], "field")
                 or getattr(materials[b.material], "mu_r", 2.0) != 1.0)


def solve_solid(bodies: Sequence[SolidBody], coils: Sequence[Racetrack], materials: Mapping[str, Any], *,
                quality: SolidQuality,
                focus: Sequence[tuple[float, float, float, float, float]] = (),
                progress: Progress = lambda stage: None) -> SolvedSolid:
    """Solve a build.

    Parameters
    ----------
    bodies : sequence of SolidBody
    coils : sequence of Racetrack
        With the turns and the sense they have; they are taken in series.
    materials : mapping
        Material object of every name.
    quality : SolidQuality
    focus : sequence of (x, y, z, size, radius)
        Where the mesh is to be fine, m.

    Raises
    ------
    CaseError
        If nothing is magnetic, or bodies intersect.
    SolveError
        When a field does not settle.
    MissingLibraryError
        When gmsh cannot be loaded.
    """
    own = magnetic(bodies, materials)
    if not own:
        raise CaseError("body: none is a magnet or of steel; a pickup needs at least one magnet")
    one_turn = tuple(replace(c, turns=1.0, sense=1) for c in coils)
    parity = [mirror_parity(own, axis) for axis in (0, 1)]
    mirrored = tuple(p != 0 and all(abs(c.x_centre if axis == 0 else c.y_centre) < 1e-9 for c in coils)
                     for axis, p in enumerate(parity))
    odd = tuple(axis for axis in (0, 1) if mirrored[axis] and parity[axis] < 0)
    progress("3-D mesh")
    space = solid_space(solid_mesh(own, quality, mirrored=(mirrored[0], mirrored[1]), focus=tuple(focus)))
    progress("bias field")
    laws = [solid_law(b, materials[b.material]) for b in own]
    bias = solve_static(space, laws, odd=odd)
    progress("coil")
    sources = [np.stack([coil_air.field(c, e.points) / MU0 for c in one_turn]) for e in space.bodies]
    progress("small-signal field")
    mu = [signal_permeability(b, materials[b.material], state) for b, state in zip(own, bias.b, strict=True)]
    signal = solve_signal(space, mu, sources)
    coil_charges = [charges(space, [m[k] for m in signal.magnetisation]) for k in range(len(coils))]
    everything = unfolded(space, np.stack([bias_charges(space, bias), *coil_charges]), (odd, *((),) * len(coils)))
    air = inductance_matrix_air(one_turn)
    field = SolidField(coils=one_turn, weights=np.array([c.turns * c.sense for c in coils]), charges=everything,
                       places=(), answers=(), mirrored=mirrored[0] and parity[0] > 0)
    areas = np.array([[0.0, 0.0, mean_area(c)] for c in one_turn])
    return SolvedSolid(field=field, bodies=own, coils=one_turn, space=space, bias=bias, signal=signal,
                       matrix_air=air, matrix=air + signal.inductance, moments=areas + signal.moment, odd=odd)
