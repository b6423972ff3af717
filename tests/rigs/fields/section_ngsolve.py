"""A section of revolution solved by ngsolve: steel, magnets magnetised upwards and a winding with a current.

u = r A_φ with ∫ 1/(μ r) ∇u·∇w dr dz = ∫ J w dr dz + ∫ Br/μ ∂w/∂r dr dz, elements of fourth order: another potential,
another mesh and no Biot–Savart. Its own error is some 1e-4 (more air, smaller elements).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest

from stringflux.geometry.arrays import Array
from stringflux.solver.constants import MU0

# ImportError and not only ModuleNotFoundError: installed, it may still lack libquadmath.so.0 of the system
_NO_PEER = "extra 'peers' is not installed, or cannot be loaded"
_FAR = 0.3  # m
Span = tuple[float, float]


def corners(r: Span, z: Span) -> tuple[Span, ...]:
    """Of a rectangle in (r, z)."""
    return (r[0], z[0]), (r[1], z[0]), (r[1], z[1]), (r[0], z[1])


@dataclass(frozen=True, kw_only=True)
class Part:
    """A polygon in (r, z), m, of a material of μ_r, with a remanence upwards, T."""

    outline: tuple[Span, ...]
    mu_r: float
    remanence: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Winding:
    """A rectangle in r and z, m, and its ampere turns."""

    r: Span
    z: Span
    ampere_turns: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Peer:
    """Fluxes through discs (n,), Wb, B_r and B_z at points (2, n), T, ½ ∫ J·A dV, J, and F_z on parts (p,), N."""

    flux: Array
    b: Array
    energy: float
    force: Array


def solve_section(parts: Sequence[Part], winding: Winding | None, discs: Sequence[Span],
                  points: Sequence[Span] = ()) -> Peer:
    """Discs (radius, z) and points (r, z), m."""
    ng, occ = (pytest.importorskip(name, reason=_NO_PEER, exc_type=ImportError) for name in ("ngsolve", "netgen.occ"))
    far, size = _FAR, 0.4e-3

    def polygon(name: str, outline: Sequence[Span], fine: float) -> Any:
        pen = occ.MoveTo(*outline[0])
        for place in outline[1:]:
            pen = pen.LineTo(*place)
        face = pen.Close().Face()
        face.faces.name, face.faces.maxh = name, fine
        for vertex in face.vertices:
            vertex.maxh = fine if name == "winding" else size / 10
        return face

    inner = [polygon(f"part {i}", p.outline, size) for i, p in enumerate(parts)]
    density = 0.0
    if winding:
        inner.append(polygon("winding", corners(winding.r, winding.z), 2 * size))
        density = winding.ampere_turns / float(np.diff(winding.r)[0] * np.diff(winding.z)[0])
    air = occ.MoveTo(0, -far).Rectangle(far, 2 * far).Face()
    for face in inner:
        air = air - face
    air.faces.name = "air"
    mesh = ng.Mesh(occ.OCCGeometry(occ.Glue([air, *inner]), dim=2).GenerateMesh(maxh=far / 12, grading=0.2))
    space = ng.H1(mesh, order=4)
    free = ng.BitArray(space.FreeDofs())
    for element in mesh.Elements(ng.BND):
        ends = [mesh[v].point for v in element.vertices]
        if any(all(abs(p[axis] - level) < 1e-9 for p in ends) for axis, level in ((0, 0.0), (0, far), (1, far),
                                                                                (1, -far))):
            for dof in space.GetDofNrs(element):
                free[dof] = False
    u, w = space.TnT()
    current = mesh.MaterialCF({"winding": density} if winding else {}, default=0.0)
    mu = mesh.MaterialCF({f"part {i}": MU0 * p.mu_r for i, p in enumerate(parts)}, default=MU0)
    remanence = mesh.MaterialCF({f"part {i}": p.remanence for i, p in enumerate(parts)}, default=0.0)
    matrix = ng.BilinearForm(ng.grad(u) * ng.grad(w) / (mu * ng.x) * ng.dx).Assemble()
    load = ng.LinearForm(current * w * ng.dx + remanence / mu * ng.grad(w)[0] * ng.dx).Assemble()
    found = ng.GridFunction(space)
    found.vec.data = matrix.mat.Inverse(free) * load.vec
    slope = ng.grad(found)
    b = np.array([(-slope(mesh(*p))[1] / p[0], slope(mesh(*p))[0] / p[0]) for p in points]).reshape(-1, 2)
    return Peer(flux=2 * np.pi * np.array([found(mesh(*d)) for d in discs]), b=b.T,
                energy=float(np.pi * ng.Integrate(current * found, mesh)),
                force=np.array([_force(ng, mesh, slope, i, len(inner)) for i in range(len(parts))]))


def _force(ng: Any, mesh: Any, slope: Any, which: int, things: int) -> float:
    """F_z of Maxwell's stress: −∫ T·∇g over the air, g = 1 on the part, 0 on all else, winding too, and far out."""
    space = ng.H1(mesh, order=4)
    g, (u, w) = ng.GridFunction(space), space.TnT()
    fixed = ng.BitArray(space.FreeDofs())
    fixed.Clear()
    names = [*(f"part {i}" for i in range(things)), "winding"]
    for element in mesh.Elements(ng.VOL):
        if element.mat in names:
            for dof in space.GetDofNrs(element):
                fixed[dof] = True
    for element in mesh.Elements(ng.BND):
        ends = [mesh[v].point for v in element.vertices]
        if any(all(abs(abs(p[axis]) - _FAR) < 1e-9 for p in ends) for axis in (0, 1)):
            for dof in space.GetDofNrs(element):
                fixed[dof] = True
    g.Set(mesh.MaterialCF({f"part {which}": 1.0}, default=0.0), definedon=mesh.Materials(f"part {which}"))
    matrix = ng.BilinearForm(ng.grad(u) * ng.grad(w) * ng.x * ng.dx).Assemble()
    rest = (-matrix.mat * g.vec).Evaluate()
    g.vec.data += matrix.mat.Inverse(~fixed) * rest
    b_r, b_z, dg = -slope[1] / ng.x, slope[0] / ng.x, ng.grad(g)
    pull = (b_z * b_r * dg[0] + (b_z * b_z - b_r * b_r) / 2 * dg[1]) / MU0
    return -2 * np.pi * float(ng.Integrate(pull * ng.x, mesh, definedon=mesh.Materials("air"), order=10))
