"""Single poles on the axis of a round coil, without a string: axisymmetric scalar potential, high order.

H = T - grad φ with curl T = J: for a round coil T = T_z(r) e_z between the coil's end planes, no
Biot-Savart needed. Lengths in mm, fields as μ0·H in tesla, so the weak form is

    ∫ μr (T - grad φ)·grad w r dr dz + ∫ J_m ∂_z w r dr dz = 0.

The potential gives an upper bound of L. Used for L, B and b only; strings are solved in 3-D.
"""

from math import pi

import ngsolve as ng
from netgen.occ import Glue, OCCGeometry, WorkPlane
from ngsolve import CF, H1, BilinearForm, GridFunction, Integrate, LinearForm, Mesh, dx, grad, x

MU0 = 4e-7 * pi
FAR = 1000.0


def rect(r0, r1, z0, z1, name, maxh):
    face = WorkPlane().MoveTo(r0, z0).Rectangle(r1 - r0, z1 - z0).Face()
    face.faces.name = name
    face.faces.maxh = maxh
    return face


def build(parts, coil, h, order, rim):
    """parts: list of (material, radius, z_from, z_to); coil: (r_in, r_out, z_from, z_to)."""
    ri, ro, z0, z1 = coil
    faces = [rect(ri, ro, z0, z1, "coil", h)]
    for name, radius, zb, zt in parts:
        cuts = sorted({zb, zt, *[c for c in (z0, z1) if zb < c < zt]})
        for a, b in zip(cuts, cuts[1:]):
            inside = z0 <= a and b <= z1
            faces.append(rect(0, radius, a, b, name + ("_w" if inside else ""), h))
    solid = Glue(faces)
    faces.append(rect(0, ri, z0, z1, "win", h) - solid)
    solid = Glue(faces)
    near = rect(0, 14, -30, 12, "air", 1.5 * h) - solid
    near.faces.name = "air"
    far = WorkPlane().MoveTo(0, -FAR).Rectangle(FAR, 2 * FAR).Face() - Glue([*faces, near])
    far.faces.name = "air"
    all_ = Glue([*faces, near, far])
    corners = [(radius, z) for _, radius, zb, zt in parts for z in (zb, zt)]
    for v in all_.vertices:
        if any(abs(v.p[0] - c[0]) < 1e-6 and abs(v.p[1] - c[1]) < 1e-6 for c in corners):
            v.maxh = rim
    for e in all_.edges:
        if abs(e.center[0]) < 1e-9:
            e.name = "axis"
        elif abs(e.center[0] - FAR) < 1e-6 or abs(abs(e.center[1]) - FAR) < 1e-6:
            e.name = "far"
    return Mesh(OCCGeometry(all_, dim=2).GenerateMesh(maxh=200, grading=0.2))


def solve(parts, mats, coil, points, h=0.5, order=5, rim=1e-3):
    """mats: {material: (μr, Br)}. Returns L in nH, b in µT/A and B in mT at points (r, z) in mm."""
    mesh = build(parts, coil, h, order, rim)
    ri, ro, z0, z1 = coil
    J = MU0 * 1e3 / ((ro - ri) * (z1 - z0))  # µ0·(A/mm²) in T/mm
    mur = mesh.MaterialCF({k + s: m for k, (m, _) in mats.items() for s in ("", "_w")}, default=1)
    br = mesh.MaterialCF({k + s: b for k, (_, b) in mats.items() for s in ("", "_w")}, default=0)
    tz = {"coil": J * (ro - x), "win": J * (ro - ri)} | {k + "_w": J * (ro - ri) for k in mats}
    T = CF((0, mesh.MaterialCF(tz, default=0)))
    fes = H1(mesh, order=order, dirichlet="far")
    u, v = fes.TnT()
    quad = dx(bonus_intorder=2)
    a = BilinearForm(fes, symmetric=True)
    a += mur * grad(u) * grad(v) * x * quad
    a.Assemble()
    inv = a.mat.Inverse(fes.FreeDofs(), inverse="sparsecholesky")
    out = []
    for load in (mur * T * grad(v) * x * quad, br * grad(v)[1] * x * quad):
        f = LinearForm(load).Assemble()
        g = GridFunction(fes)
        g.vec.data = inv * f.vec
        out.append(g)
    b = mur * (T - grad(out[0]))
    B = CF((0, br)) - mur * grad(out[1])
    L = Integrate(2 * pi * x * mur * (T - grad(out[0])) ** 2, mesh, order=2 * order + 2) / MU0 * 1e-9
    at = lambda f, k: [float(f(mesh(p[0], p[1]))[k]) for p in points]
    return dict(ndof=fes.ndof, L_nH=L * 1e9, b_z_uT=[1e6 * t for t in at(b, 1)],
                B_z_mT=[1e3 * t for t in at(B, 1)], b_r_uT=[1e6 * t for t in at(b, 0)],
                B_r_mT=[1e3 * t for t in at(B, 0)])


COIL = (3.0, 7.0, -13.0, -2.0)
PTS = [(0.3, z) for z in (2.5, 3.0, 3.5)] + [(0.0, z) for z in (1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0)]
ROD = ([("rod", 2.4, -17.0, 0.0)], {"rod": (4.0, 1.0)})
SLUG = ([("slug", 2.4, -17.0, 0.0), ("disc", 6.0, -21.0, -17.0)], {"slug": (200.0, 0.0), "disc": (1.05, 0.38)})

if __name__ == "__main__":
    import time
    ng.SetNumThreads(1)
    for parts, mats in (ROD, SLUG):
        for h, order, rim in ((1.0, 4, 0.01), (0.7, 6, 1e-3), (0.7, 8, 1e-4)):
            t = time.time()
            print(h, order, rim, solve(parts, mats, COIL, PTS[:3], h, order, rim), round(time.time() - t, 1))
