"""The axisymmetric kernel in an independent finite element code (ngsolve, extra `peers`), for the benchmark
and for the test that compares both on the same mesh and order."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from stringflux.solver.constants import NU0
from stringflux.solver.section.space import Section


def mesh_of(s: Section) -> Any:
    """The same triangles as a mesh of ngsolve, regions named by part, the far edges named."""
    import netgen.meshing as nm
    import ngsolve as ngs

    mesh = nm.Mesh(dim=2)
    numbers = [mesh.Add(nm.MeshPoint(nm.Pnt(float(r), float(z), 0.0))) for r, z in s.mesh.points.T]
    names = {-1: mesh.AddRegion("air", dim=2)}
    for i in range(len(s.shape.parts)):
        names[i] = mesh.AddRegion(f"part{i}", dim=2)
    far = mesh.AddRegion("far", dim=1)
    for t, region in zip(s.mesh.triangles.T, s.mesh.region, strict=True):
        a, b, c = (s.mesh.points[:, k] for k in t)
        corners = t if (b - a)[0] * (c - a)[1] > (b - a)[1] * (c - a)[0] else t[::-1]
        mesh.Add(nm.Element2D(names[int(region)], [numbers[k] for k in corners]))
    for a, b in s.mesh.far_edges.T:
        mesh.Add(nm.Element1D([numbers[a], numbers[b]], index=far))
    return ngs.Mesh(mesh)


def peer_inductance(s: Section, mu_r: Sequence[float], coil_part: int, mesh: Any = None,
                    sigma: Sequence[float] | None = None, frequency: float = 0.0) -> complex:
    """As :func:`rigs.fields.meshed_coil.complex_inductance`, H per turn²."""
    import ngsolve as ngs

    mesh = mesh or mesh_of(s)
    harmonic = sigma is not None and frequency > 0
    fes = ngs.H1(mesh, order=2, complex=harmonic)
    u, v = fes.TnT()
    r = ngs.x
    regions = {"air": NU0} | {f"part{i}": NU0 / mu for i, mu in enumerate(mu_r)}
    nu = mesh.MaterialCF(regions)

    def curl(f: Any) -> tuple[Any, Any]:
        return -r * ngs.grad(f)[1], 2 * f + r * ngs.grad(f)[0]

    a = ngs.BilinearForm(fes, symmetric=True)
    a += nu * sum(p * q for p, q in zip(curl(u), curl(v), strict=True)) * r * ngs.dx(bonus_intorder=4)
    a += NU0 / s.mesh.far_radius * u * v * r**3 * ngs.ds("far", bonus_intorder=6)
    if harmonic and sigma is not None:
        conductivity = mesh.MaterialCF({"air": 0.0} | {f"part{i}": s for i, s in enumerate(sigma)})
        a += 2j * np.pi * frequency * conductivity * u * v * r**3 * ngs.dx(bonus_intorder=6)
    part = mesh.Materials(f"part{coil_part}")
    area = ngs.Integrate(ngs.CF(1.0), mesh, definedon=part)
    f = ngs.LinearForm(fes)
    f += v * r**2 / area * ngs.dx(definedon=part, bonus_intorder=4)
    a.Assemble()
    f.Assemble()
    solution = ngs.GridFunction(fes)
    solution.vec.data = a.mat.Inverse(fes.FreeDofs(), "sparsecholesky") * f.vec
    return complex(2 * np.pi * ngs.InnerProduct(f.vec, solution.vec, conjugate=False))
