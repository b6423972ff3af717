"""One mesh in 3-D: poles on x = 0, a race-track coil, one string along x. High-order scalar potential.

H = T - grad φ, curl T = J, with T = T_z e_z between the end planes of the coil: T_z falls from
1/height to 0 across the build along the distance d from the coil's spine (the segment x = 0, |y| ≤ half).
Units: mm, tesla (H stands for µ0·H), 1 A per turn.

    coil:  ∫ μr (T - grad φ)·grad w = 0                 b = μr (T - grad φ)
    bias:  ∫ (Br e_z - μr grad φ)·grad w = 0            B = Br e_z - μr grad φ
    λ = (1/µ0) ∫_string M·b dV, M of the bias solve WITH the string, b WITHOUT it, same mesh: for linear
    poles this equals the difference of the coil's linkage string on/off, also in the discrete equations.

x = 0 is always a symmetry plane (B·n = 0, natural), y = 0 too where `half_y`.
"""

from __future__ import annotations

import os
import time
from dataclasses import dataclass
from math import pi

from netgen.occ import Box, Cylinder, Glue, OCCGeometry, Pnt, Sphere, X, Z
from ngsolve import CF, H1, BilinearForm, GridFunction, IfPos, Integrate, LinearForm, Mesh, dx, grad, sqrt, x, y

MU0 = 4e-7 * pi
INVERSE = os.environ.get("REFERENCE3D_INVERSE", "sparsecholesky")  # pardiso is 1.4 times faster, where it is


@dataclass
class Rig:
    """parts: (material, y, radius, z_from, z_to); mats: {material: (μr, Br)}; coil: (r_in, r_out, z0, z1)."""

    parts: list
    mats: dict
    coil: tuple = (3.0, 7.0, -13.0, -2.0)
    half: float = 0.0                 # half length of the coil's straight sides
    half_y: bool = True               # y = 0 is a symmetry plane
    string: tuple | None = None       # (radius, y, z) of the string's axis
    string_len: float = 40.0          # half length
    focus: tuple = (0.0, 0.0)         # (y, z of the pole face) where the mesh is finest
    h_string: float = 1.0             # element size at the string, in radii
    h_rim: float = 0.15
    h_near: float = 0.7
    h: float = 1.4
    far: float = 400.0
    order: int = 3
    near_len: float = 9.0             # half length of the finely meshed part of the string
    all_rims: bool = False            # every pole as fine as the one in focus


def stadium(r, half, z0, z1):
    up = lambda y0: Cylinder(Pnt(0, y0, z0), Z, r, z1 - z0)
    if half == 0:
        return up(0)
    return up(half) + up(-half) + Box(Pnt(-r, -half, z0), Pnt(r, half, z1))


def build(rig: Rig):
    ri, ro, z0, z1 = rig.coil
    big = 2 * rig.far
    keep = Box(Pnt(0, 0 if rig.half_y else -big, -big), Pnt(big, big, big))
    fy, fz = rig.focus
    solids = []

    def add(s, name, h):
        s = s * keep
        s.mat(name)
        s.maxh = h
        solids.append(s)

    poles = None
    for mat, y0, r, zb, zt in rig.parts:
        if rig.half_y and y0 < 0:
            continue
        cuts = sorted({zb, zt, *[c for c in (z0, z1) if zb < c < zt]})
        for a, b in zip(cuts, cuts[1:]):
            c = Cylinder(Pnt(0, y0, a), Z, r, b - a)
            fine = rig.all_rims or (abs(y0 - fy) < 1e-6 and b > z1)
            add(c, mat + ("_w" if z0 <= a and b <= z1 else ""), rig.h if fine else 1.6 * rig.h)
            poles = c if poles is None else poles + c
    win = stadium(ri, rig.half, z0, z1) - poles
    add(win, "win", 1.6 * rig.h)
    add(stadium(ro, rig.half, z0, z1) - stadium(ri, rig.half, z0, z1), "coil", 1.6 * rig.h)
    taken = None
    if rig.string:
        a, ys, zs = rig.string
        rod = Cylinder(Pnt(0, ys, zs), X, a, rig.string_len)
        near = Cylinder(Pnt(0, ys, zs), X, a, rig.near_len)
        add(near, "string", rig.h_string * a)
        add(rod - near, "string", 2.5 * rig.h_string * a)
        taken = rod
    top = Cylinder(Pnt(0, fy, fz), Z, 4.5, 5.5)
    if rig.string:
        top = top - taken
    add(top, "air", rig.h_near)
    reach = max([abs(p[1]) for p in rig.parts])
    box = Box(Pnt(-12, -reach - 12, -27), Pnt(12, reach + 12, 10))
    ball = Sphere(Pnt(0, 0, 0), rig.far)
    inner = Glue(list(solids))
    add(box - inner, "air", 2.6 * rig.h)
    outer = ball - box
    if rig.string:
        outer = outer - taken
    add(outer, "air", 100.0)
    shape = Glue(solids)
    for e in shape.edges:
        for mat, y0, r, zb, zt in rig.parts:
            rim = abs(e.bounding_box[0][2] - zt) < 1e-5 and abs(e.bounding_box[1][2] - zt) < 1e-5
            d = abs(sqrt(e.center[0] ** 2 + (e.center[1] - y0) ** 2))
            if rim and d < r + 1e-6 and d > 0.5 * r:
                e.maxh = rig.h_rim if rig.all_rims or abs(y0 - fy) < 1e-6 else 5 * rig.h_rim
    for f in shape.faces:
        lo, hi = f.bounding_box
        if hi[2] - lo[2] > 1.5 * rig.far:
            f.name = "far" if hi[0] - lo[0] > 0.5 * rig.far and not (hi[1] - lo[1] < 1) else "sym"
    ngmesh = OCCGeometry(shape).GenerateMesh(maxh=150, grading=0.35, curvaturesafety=1.0, segmentsperedge=0.3)
    mesh = Mesh(ngmesh)
    mesh.Curve(rig.order + 2)  # at the same order the section of a thin string is 0.1 % too large
    return mesh


@dataclass
class Fields:
    mesh: object
    b: object
    B: object
    M: object
    out: dict


def solve(rig: Rig, froehlich=None, string_mur=100.0, want_string=True, inverse=INVERSE):
    t = time.time()
    mesh = build(rig)
    t_mesh = time.time() - t
    ri, ro, z0, z1 = rig.coil
    J = MU0 * 1e3 / ((ro - ri) * (z1 - z0))
    q = IfPos(y - rig.half, y - rig.half, IfPos(-y - rig.half, -y - rig.half, 0))
    d = sqrt(x * x + q * q)
    names = {k + s: v for k, v in rig.mats.items() for s in ("", "_w")}
    mur = mesh.MaterialCF({k: v[0] for k, v in names.items()}, default=1)
    mur_on = mesh.MaterialCF({"string": string_mur} | {k: v[0] for k, v in names.items()}, default=1)
    br = mesh.MaterialCF({k: v[1] for k, v in names.items()}, default=0)
    tz = {"coil": J * (ro - d), "win": J * (ro - ri)} | {k + "_w": J * (ro - ri) for k in rig.mats}
    T = CF((0, 0, mesh.MaterialCF(tz, default=0)))
    fes = H1(mesh, order=rig.order, dirichlet="far")
    free = fes.FreeDofs(coupling=True)
    u, v = fes.TnT()
    sym = 4 if rig.half_y else 2

    def factor(mu):
        a = BilinearForm(fes, symmetric=True, condense=True)
        a += mu * grad(u) * grad(v) * dx
        a.Assemble()
        return a, a.mat.Inverse(free, inverse=inverse)

    def run(a, inv, load):
        f = LinearForm(load).Assemble()
        g = GridFunction(fes)
        f.vec.data += a.harmonic_extension_trans * f.vec
        g.vec.data = inv * f.vec
        g.vec.data += a.harmonic_extension * g.vec
        g.vec.data += a.inner_solve * f.vec
        return g

    quad = dx(bonus_intorder=2)
    a0, inv0 = factor(mur)
    pc = run(a0, inv0, mur * T * grad(v) * quad)
    b = mur * (T - grad(pc))
    L = Integrate(mur * (T - grad(pc)) ** 2, mesh, order=2 * rig.order + 2) * sym / MU0 * 1e-9
    out = dict(elements=mesh.ne, ndof=fes.ndof, order=rig.order, L_nH=L * 1e9, mesh_s=round(t_mesh, 1))
    out["far_faces"] = float(Integrate(CF(1), mesh, definedon=mesh.Boundaries("far")) * sym / (4 * pi * rig.far**2))
    M = None
    load = br * grad(v)[2] * quad
    if not rig.string or not want_string:
        pb = run(a0, inv0, load)
        B = CF((0, 0, br)) - mur * grad(pb)
    else:
        del inv0
        a1, inv1 = factor(mur_on)
        pb = run(a1, inv1, load)
        here = mesh.Materials("string")
        if froehlich is not None:
            secant(fes, pb, mur, br, froehlich, here, free, inverse, out)
            H = -grad(pb)
            m = sqrt(H * H + 1e-20)
            M = H * froehlich[0] * froehlich[1] / (froehlich[0] + froehlich[1] * m)
        else:
            M = -(string_mur - 1) * grad(pb)
        B = CF((0, 0, br)) - mur * grad(pb)
        each = Integrate(CF((M[0] * b[0], M[1] * b[1], M[2] * b[2])), mesh, order=2 * rig.order,
                         definedon=here) * (sym / MU0)
        out["lambda_nWb"] = float(sum(each))
        out["lambda_axial_nWb"] = float(each[0])
        vol = Integrate(CF(1), mesh, definedon=here) * sym
        out["string_volume_ratio"] = vol / (pi * rig.string[0] ** 2 * 2 * rig.string_len)
    out["total_s"] = round(time.time() - t, 1)
    return Fields(mesh, b, B, M, out)


def secant(fes, pb, mur, br, law, here, free, inverse, out):
    """Saturating string: M(H) = Js χ H/(Js + χ H), Js = µ0 Ms in tesla.

    Fixed point on M/H: Newton overshoots here (the step in H leaves the knee), while each secant step lowers
    the convex energy for any law whose M/H falls with H.
    """
    js, chi = law
    mesh = fes.mesh
    w, v = fes.TnT()
    old = GridFunction(fes)
    norm = lambda g: sqrt(Integrate(grad(g) * grad(g), mesh, definedon=here))
    for it in range(30):
        old.vec.data = pb.vec
        H = -grad(old)
        s = js * chi / (js + chi * sqrt(H * H + 1e-20))
        a = BilinearForm(fes, symmetric=True, condense=True)
        a += mur * grad(w) * grad(v) * dx
        a += s * grad(w) * grad(v) * dx(definedon=here)
        a.Assemble()
        inv = a.mat.Inverse(free, inverse=inverse)
        f = LinearForm(br * grad(v)[2] * dx).Assemble()
        f.vec.data += a.harmonic_extension_trans * f.vec
        pb.vec.data = inv * f.vec
        pb.vec.data += a.harmonic_extension * pb.vec
        pb.vec.data += a.inner_solve * f.vec
        old.vec.data -= pb.vec
        out["secant_steps"], out["secant_last_change"] = it + 1, norm(old) / norm(pb)
        print(out["secant_last_change"], flush=True)
        if out["secant_last_change"] < 1e-4:
            return
    raise RuntimeError("secant steps did not converge")
