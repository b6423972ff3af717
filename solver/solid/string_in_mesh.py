r"""A string in the 3-D mesh: what it adds to the coil's linkage, string on minus string off in one mesh.

Off: the nonlinear static field H₀ = −∇φ₀ with μ0 in the string's place. On: the string's steel on its static curve,
magnets and steel of the pickup answering on the slopes that a small change meets (recoil, reversible), about H₀:

    B_bodies = B₀ + μ (H − H₀),     B_string = B(|H|) H/|H|,     λ = Σ ∫ (M_on − M_off)·b_air dV

over all bodies and the string; b_air is the field of one ampere in the coils in air. (Along a magnet's major curve a
string would seem to charge and discharge the magnet: λ over alnico 5 would come out 2.6 times too large.)

With H = H₀ − ∇ψ the equation is solved for the change ψ itself,

    ∫ μ0 ∇ψ·∇w (air) + ∫ ∇w·μ∇ψ (bodies) − ∫ [B(H₀ − ∇ψ) − μ0 H₀]·∇w (string) = 0

so that λ, some 1e-3 of the whole linkage, is not the difference of two large numbers. Nothing here knows of
reciprocity, of the string's demagnetisation or of images.

The string is moved by bending the mesh, not by a new one: z → z + δ g, with g = 0 at and below the faces, 1 at the
string's height and 0 far above.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import SolveError
from stringflux.geometry.mesh.solid import SolidMesh
from stringflux.geometry.mesh.string_rod import StringRod
from stringflux.geometry.shapes.bodies import SolidBody
from stringflux.geometry.shapes.row import Racetrack

from ..aside import Aside, aside
from ..coil import air as coil_air
from ..constants import MU0
from ..materials.b_of_h import soft_law, solid_law
from ..materials.kinds import Materials, StringMaterial, body_material
from ..materials.signal import permeability
from .bias import Law, SolidState, charges, solve_static
from .charges import Charges, unfolded
from .small_signal import solve_signal
from .space import SolidSpace, solid_space

TOLERANCE = 1e-7  # of Newton's residual
ABOVE = 25e-3  # over the string the mesh moves less and less up to here, m
_CLEAR = 0.2  # of the way from the highest face to the string stays at rest
_WHOLE = 1.3  # radii about the string's axis that move as one: its few flat sides stand out beyond its radius
_BESIDE = 0.9  # bodies that are as high as the string stand still, and what is as near to them as a tenth of the way


@dataclass(frozen=True, kw_only=True, eq=False)
class StringLinkage:
    """What the string adds to the linkage at one height.

    Attributes
    ----------
    shift : float
        How far the string was moved up, m.
    of_string, of_bodies : float
        ∫ ΔM·b_air dV over the string and over the bodies, Wb.
    steps : (int, int)
        Newton's steps for off and on.
    """

    shift: float
    of_string: float
    of_bodies: float
    steps: tuple[int, int]

    @property
    def linkage(self) -> float:
        """λ, Wb."""
        return self.of_string + self.of_bodies


@dataclass(frozen=True, kw_only=True, eq=False)
class StringOff:
    """The build without the string, in the string's mesh.

    Attributes
    ----------
    space : SolidSpace
        Its last body is the string's place.
    state : SolidState
    permeability : tuple of arrays (3, 3, e, 4)
        μ/μ0 that a small change meets, in every body; 1 in the string's place.
    """

    space: SolidSpace
    state: SolidState
    permeability: tuple[Array, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class SolidWithString:
    """A meshed build with one string in it.

    Attributes
    ----------
    mesh : SolidMesh
        Of the bodies and one rod, the last region.
    bodies : tuple of SolidBody
    materials : mapping
        Material object of every name the bodies have.
    string : material
        Of the string.
    rod : StringRod
    coils : tuple of Racetrack
        With their turns and sense, in series.
    odd : tuple of int
        Planes of symmetry about which both the bias and the coils' field are odd.
    """

    mesh: SolidMesh
    bodies: tuple[SolidBody, ...]
    materials: Materials
    string: StringMaterial
    rod: StringRod
    coils: tuple[Racetrack, ...]
    odd: tuple[int, ...] = ()

    def without(self, shift: float = 0.0, start: SolidState | None = None) -> StringOff:
        """The build without the string, whose place is `shift` m higher."""
        space = solid_space(moved(self.mesh, self.bodies, self.rod, shift) if shift else self.mesh)
        laws = [solid_law(b, body_material(self.materials, b.material)) for b in self.bodies]
        state = solve_static(space, [*laws, vacuum], odd=self.odd, start=start)
        mu = [permeability(body_material(self.materials, b.material), b.axis, field)
              for b, field in zip(self.bodies, state.b[:-1], strict=True)]
        mu.append(np.broadcast_to(np.eye(3)[:, :, None, None], (3, 3, *space.bodies[-1].weight.shape)))
        return StringOff(space=space, state=state, permeability=tuple(mu))

    def change(self, off: StringOff, start: SolidState | None = None, tolerance: float = TOLERANCE) -> SolidState:
        """The change of the field that the string makes: ψ, and ΔB and −∇ψ in the bodies; in the string B and H."""
        space = off.space
        laws: list[Law] = [*(_linear(mu) for mu in off.permeability[:-1]), soft_law(self.string)]
        sources = [*(np.zeros_like(e.points) for e in space.bodies[:-1]), off.state.h[-1]]
        return solve_static(space, laws, odd=self.odd, sources=sources, soft=[False] * len(laws), start=start,
                            tolerance=tolerance)

    def at(self, shifts: Sequence[float],
           progress: Callable[[str], None] = lambda stage: None) -> tuple[tuple[StringLinkage, ...], StringOff]:
        """λ with the string moved up by every shift, and the build without it at the first.

        The others begin from the first, the third on another core while this one has the second.
        """
        first, off, on = self._at(shifts[0], None, progress)

        def elsewhere(shift: float) -> Aside[StringLinkage]:
            return aside(lambda: self._at(shift, (off.state, on))[0])

        others = [elsewhere(shift) for shift in shifts[2:]]
        out = [first, *(self._at(shift, (off.state, on), progress)[0] for shift in shifts[1:2])]
        for shift, other in zip(shifts[2:], others, strict=True):
            progress(f"3-D field with string, {_said(shift)}")
            out.append(other())
        return tuple(out), off

    def _at(self, shift: float, start: tuple[SolidState, SolidState] | None,
            progress: Callable[[str], None] = lambda stage: None) -> tuple[StringLinkage, StringOff, SolidState]:
        """λ with the string moved up; the build without it, and the change that it makes."""
        progress(f"3-D field without string, {_said(shift)}")
        off = self.without(shift, start and start[0])
        progress(f"3-D field with string, {_said(shift)}")
        on = self.change(off, start and start[1])
        parts = linkages(off.space, on, self.coils)
        return StringLinkage(shift=shift, of_string=parts[-1], of_bodies=sum(parts[:-1]),
                             steps=(off.state.iterations, on.iterations)), off, on


@dataclass(frozen=True, kw_only=True, eq=False)
class FieldsAtString:
    """Both fields of a build without a string, and its inductance.

    Attributes
    ----------
    charges : Charges
        Excitation 0 the bias, 1 one ampere in the coils.
    coils : tuple of Racetrack
    inductance_added : float
        What the bodies add to the coils' inductance in air, H.
    """

    charges: Charges
    coils: tuple[Racetrack, ...]
    inductance_added: float

    def at(self, points: Array) -> tuple[Array, Array]:
        """B₀ in T and b in T/A at points (3, n), arrays (3, n)."""
        both = MU0 * self.charges.field(points)
        return both[0], both[1] + coil_field(self.coils, points)


def fields_at_string(build: SolidWithString, off: StringOff) -> FieldsAtString:
    """The fields at the string's place."""
    space, state = off.space, off.state
    sources = [coil_field(build.coils, e.points)[None] / MU0 for e in space.bodies]
    signal = solve_signal(space, off.permeability, sources, odd=build.odd)
    values = np.stack([charges(space, [b / MU0 - h for b, h in zip(state.b, state.h, strict=True)]),
                       charges(space, [m[0] for m in signal.magnetisation])])
    return FieldsAtString(charges=unfolded(space, values, (build.odd, build.odd)), coils=build.coils,
                          inductance_added=float(signal.inductance[0, 0]))


def linkages(space: SolidSpace, change: SolidState, coils: Sequence[Racetrack]) -> list[float]:
    """∫ ΔM·b_air dV of every body and of the string, Wb."""
    return [space.copies * float(np.sum(e.weight * np.sum((b / MU0 - h) * coil_field(coils, e.points), axis=0)))
            for e, b, h in zip(space.bodies, change.b, change.h, strict=True)]


def coil_field(coils: Sequence[Racetrack], points: Array) -> Array:
    """B of the coils in air, T per ampere in all of them in series; shapes as in :func:`coil_air.field`."""
    return np.asarray(sum(coil_air.field(c, points) for c in coils))


def _said(shift: float) -> str:
    return f"{1e3 * shift:+.1f} mm" if shift else "at rest"


def vacuum(h: Array) -> tuple[Array, Array]:
    """The law of no material."""
    slope = np.broadcast_to(MU0 * np.eye(3).reshape(3, 3, *(1,) * (h.ndim - 1)), (3, 3, *h.shape[1:]))
    return MU0 * h, slope


def _linear(mu: Array) -> Law:
    return lambda h: (MU0 * np.einsum("ijeq,jeq->ieq", mu, h), MU0 * mu)


def moved(mesh: SolidMesh, bodies: Sequence[SolidBody], rod: StringRod, shift: float) -> SolidMesh:
    """The mesh with the string `shift` m higher and every body where it was.

    Raises
    ------
    SolveError
        When the string would come too near to a body.
    """
    up = displacement(bodies, rod)
    bottom = rod.z - rod.radius
    below = max((b.form.bounds[1][2] for b in bodies if b.form.bounds[1][2] < bottom), default=-np.inf)
    if shift < -0.7 * (1 - _CLEAR) * (bottom - below):
        raise SolveError(f"the string cannot be moved {-1e3 * shift:.2f} mm down, it lies "
                         f"{1e3 * (bottom - below):.2f} mm over the highest body below it")

    def lifted(points: Array) -> Array:
        out = points.copy()
        out[2] += shift * up(points)
        return out

    return replace(mesh, points=lifted(mesh.points), middles=None if mesh.middles is None else lifted(mesh.middles))


def displacement(bodies: Sequence[SolidBody], rod: StringRod) -> Callable[[Array], Array]:
    """g (n,) at points (3, n).

    Raises
    ------
    SolveError
        If the string touches a body.
    """
    bottom = rod.z - _WHOLE * rod.radius
    face, aside = -np.inf, np.inf
    for body in bodies:
        low, high = body.form.bounds
        top = high[2] + abs(rod.slope) * max(abs(low[0]), abs(high[0]))
        if top < bottom:
            face = max(face, top)
        else:  # beside the string: it must stand still
            aside = min(aside, max(low[1] - rod.y, rod.y - high[1]))
    if aside <= _WHOLE * rod.radius:
        raise SolveError("the string touches a body")
    face = max(face, bottom - ABOVE)
    still = face + _CLEAR * (bottom - face)
    top = rod.z + _WHOLE * rod.radius

    def g(points: Array) -> Array:
        z = points[2] - rod.slope * points[0]
        out = np.minimum(np.clip((z - still) / (bottom - still), 0.0, 1.0), np.clip(1 - (z - top) / ABOVE, 0.0, 1.0))
        if np.isfinite(aside):
            start, end = 1.05 * rod.radius, _BESIDE * aside
            out = out * np.clip((end - np.abs(points[1] - rod.y)) / (end - start), 0.0, 1.0)
        return np.asarray(out)

    return g
