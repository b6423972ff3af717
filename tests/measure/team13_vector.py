r"""The same problem by another unknown and another code: ngsolve, vector potential, edge elements.

Minimise over A, B = μ0 H_s + curl A,

    ∫_air |curl A|²/2μ0 + ∫_steel [w(|B|) − H_s·curl A],      w = ∫ H dB

A scalar potential gives too much flux on a coarse mesh and this one too little, so what both give is the answer of
the model. Twenty-five minutes of one core and 7 GB:
`python tests/run.py team13_vector` prints what test_team13.py holds.
"""

from __future__ import annotations

import sys

import netgen.meshing as netgen
import ngsolve as ng
import numpy as np
from ngsolve.comp import IntegrationRuleSpace

from measure.team13 import COIL, FLANGE, MM, PLATE, WEB, Fineness, half_mesh, printed
from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.solid import SolidMesh
from stringflux.solver.constants import MU0
from stringflux.solver.materials import find_material

NAMES = ("air", "plate", "right", "left")
COARSE = Fineness(sheet=14.0, air=0.8, face=1.5, edge=0.6, bend=4.0, level=1.2, longest=30.0, far=300.0, ratio=5.0)
ENOUGH = 1e-5  # of the energy, what the next Newton step would still gain
GAUGE = 1e-3  # of 1/μ0, mass that makes A unique; 1/m²
LEAST = 1e-10  # T², keeps |B| smooth at 0


def turned(mesh: SolidMesh) -> ng.Mesh:
    """The mesh for ngsolve."""
    out = netgen.Mesh(dim=3)
    points = [out.Add(netgen.MeshPoint(netgen.Pnt(*p))) for p in mesh.points.T]
    outer = out.Add(netgen.FaceDescriptor(bc=1, domin=1, surfnr=1))
    for facet in np.hstack([mesh.far_facets, mesh.planes[1]]).T:
        out.Add(netgen.Element2D(outer, [points[i] for i in facet]))
    for (a, b, c, d), region in zip(mesh.tetrahedra.T, mesh.region, strict=True):
        out.Add(netgen.Element3D(int(region) + 2, [points[i] for i in (a, c, b, d)]))
    for i, name in enumerate(NAMES):
        out.SetMaterial(i + 1, name)
    return ng.Mesh(out)


def coil(points: Array) -> Array:
    """H_s (3, n) at points (3, n)."""
    swap = [0, 2, 1]
    return np.asarray(COIL.field(points[swap])[swap])


def solve(mesh: ng.Mesh, order: int) -> ng.GridFunction:
    """A."""
    steel = mesh.Materials("plate|right|left")
    at_points = IntegrationRuleSpace(mesh, order=3, definedon=steel)

    def held(what: ng.CoefficientFunction | Array) -> ng.GridFunction:
        out = ng.GridFunction(at_points)
        if isinstance(what, np.ndarray):
            out.vec.FV().NumPy()[:] = what
        else:
            out.Interpolate(what)
        return out

    places = np.array([np.array(held(c).vec.FV()) for c in (ng.x, ng.y, ng.z)])
    source = ng.CF(tuple(held(h) for h in coil(places)))
    b = np.concatenate([np.linspace(0, 2.3, 400), np.linspace(2.4, 6, 20)])
    energy = ng.BSpline(2, [0.0, *b], list(find_material("steel-test-13").static(b)[0])).Integrate()

    space = ng.HCurl(mesh, order=order, nograds=True)
    u = space.TrialFunction()
    inside = ng.dx(definedon=steel, intrules=at_points.GetIntegrationRules())
    total = MU0 * source + ng.curl(u)
    form = ng.BilinearForm(space, symmetric=True)
    form += ng.Variation(0.5 / MU0 * ng.curl(u) * ng.curl(u) * ng.dx(definedon=mesh.Materials("air")))
    form += ng.Variation(0.5 * GAUGE / MU0 * u * u * ng.dx)
    form += ng.Variation((energy(ng.sqrt(LEAST + total * total)) - source * ng.curl(u)) * inside)
    before = ng.Preconditioner(form, "bddc")

    A = ng.GridFunction(space)
    residual, step, new = (A.vec.CreateVector() for _ in range(3))
    while True:
        energy_before = form.Energy(A.vec)
        form.Apply(A.vec, residual)
        form.AssembleLinearization(A.vec)
        step.data = ng.CGSolver(form.mat, before.mat, maxiter=400, tol=1e-4) * residual
        gain, share = ng.InnerProduct(step, residual), 1.0
        while True:
            new.data = A.vec - share * step
            after = form.Energy(new)
            if after <= energy_before or share < 1e-3:
                break
            share /= 2
        A.vec.data = new
        print(f"energy {after:.6f} J, the step would gain {gain:.1e} J", file=sys.stderr, flush=True)
        if abs(gain) < ENOUGH * abs(after):
            return A


def table(mesh: ng.Mesh, A: ng.GridFunction) -> list[tuple[str, float, float, float]]:
    """Part, place in mm, measured and computed mean B in T, at Gauss points of sections (0.5 µm inside the ends)."""
    across, wa = np.polynomial.legendre.leggauss(5)
    along, wl = np.polynomial.legendre.leggauss(60)
    weight = np.outer(wa, wl).ravel() / 4
    rows = []
    for part, measured, axis, thick, wide in (("plate", PLATE, 1, (-1.6, 1.6), (-25, 25)),
                                              ("flange", FLANGE, 0, (60, 63.2), (15, 65)),
                                              ("web", WEB, 1, (122.1, 125.3), (15, 65))):
        t, z = (low + (high - low) * (nodes + 1) / 2 for (low, high), nodes in ((thick, across), (wide, along)))
        tt, zz = (g.ravel() for g in np.meshgrid(t, z, indexing="ij"))
        for at, b in measured.items():
            s = np.full(tt.size, {0: 1e-3, 2.1: 2.1005, 122.1: 122.0995}.get(at, at))
            points = np.stack([s, tt, zz] if axis == 0 else [tt, s, zz]) * MM
            values = ng.curl(A)(mesh(*points))[:, axis] + MU0 * coil(points)[axis]
            rows.append((part, at, b, abs(float(values @ weight))))
    return rows


if __name__ == "__main__":
    half = turned(half_mesh(COARSE))
    print(printed(table(half, solve(half, int(sys.argv[1]) if sys.argv[1:] else 2))))
