"""Bodies of any kind, several coils and a string on one 3-D mesh: high-order scalar potential, steel nonlinear.

As in field3d.py H = T - grad φ with curl T = J, T along z and nonzero only between the end planes of a coil.
Units: mm, tesla (H stands for µ0·H), 1 A per turn, coils counter-clockwise.

    coil k:  ∫ μ (T_k - grad φ)·grad w = 0          b = μ (T_k - grad φ)     μ constant everywhere
    L_kl = (1/µ0) ∫ μ h_k·h_l
    bias:    ∫ B·grad w = 0,  B = μr H + Br in magnets, H = H(|B|) B/|B| in steel,  H = -grad φ: Newton's method for
             φ and the steel's B together

Strings: λ = (1/µ0) ∫_string M·b, b of the coil WITHOUT the string, M of the string in the bias, either solved in the
nonlinear bias itself or (what a small movement meets) answered by the bodies at the signal's constant μ.
"""

from __future__ import annotations

import os
import time
from dataclasses import dataclass
from math import pi

import numpy as np
from ngsolve import (
    CF,
    H1,
    BilinearForm,
    BSpline,
    GridFunction,
    InnerProduct,
    Integrate,
    LinearForm,
    dx,
    grad,
    sqrt,
)
from ngsolve.comp import IntegrationRuleSpace
from scipy.interpolate import PchipInterpolator
from solids3d_mesh import Build, build_mesh

MU0 = 4e-7 * pi
INVERSE = os.environ.get("REFERENCE3D_INVERSE", "sparsecholesky")

# Steel of TEAM workshop problem 13 (Nakata & Fujiwara, COMPEL 11(3), 1992): B in T, H in A/m
TEAM13 = (
    (0.0025, 16), (0.005, 30), (0.0125, 54), (0.025, 93), (0.05, 143), (0.1, 191), (0.2, 210), (0.3, 222),
    (0.4, 233), (0.5, 247), (0.6, 258), (0.7, 272), (0.8, 289), (0.9, 313), (1.0, 342), (1.1, 377), (1.2, 433),
    (1.3, 509), (1.4, 648), (1.5, 933), (1.55, 1228), (1.6, 1934), (1.65, 2913), (1.7, 4993), (1.75, 7189),
    (1.8, 9423),
)


def _cubic(points):
    own, h = np.array(points, dtype=float).T
    return PchipInterpolator(np.concatenate([-own[::-1], [0], own]), np.concatenate([-h[::-1], [0], h]) * MU0)


def steel_h(b, points=TEAM13):
    """µ0 H in T at B in T: monotone cubic H(B) through the points and the origin, beyond them slope µ0."""
    b, top = np.asarray(b, dtype=float), points[-1][0]
    return _cubic(points)(np.minimum(b, top)) + np.maximum(b - top, 0)


def steel_slope(b, points=TEAM13):
    """d(µ0 H)/dB."""
    b, top = np.asarray(b, dtype=float), points[-1][0]
    return np.where(b < top, _cubic(points).derivative()(np.minimum(b, top)), 1.0)


def steel_curve(points=TEAM13):
    """β(h), h = µ0|H| in T, the inverse of `steel_h`, straight between 80 points to each given one."""
    b = [p[0] for p in points]
    fine = np.unique(np.concatenate([np.linspace(lo, hi, 81) for lo, hi in zip([0, *b], b)]))
    hf = np.concatenate([steel_h(fine, points), steel_h([b[-1] + 100.0], points)])
    bf = np.concatenate([fine, [b[-1] + 100.0]])
    return BSpline(2, [0.0, *hf.tolist()], bf.tolist())


class Solver:
    """The potential's space of one mesh, with or without φ = 0 on x = 0."""

    def __init__(self, p, mesh, odd, order=None):
        self.order, self.odd = order or p.order, odd
        self.fes = H1(mesh, order=self.order, dirichlet="far|x0" if odd else "far")
        self.free = self.fes.FreeDofs(coupling=True)
        self.u, self.v = self.fes.TnT()

    def factor(self, *terms):
        a = BilinearForm(self.fes, symmetric=True, condense=True)
        for t in terms:
            a += t
        a.Assemble()
        return a, a.mat.Inverse(self.free, inverse=INVERSE)

    def run(self, pair, load):
        a, inv = pair
        f = LinearForm(load).Assemble()
        g = GridFunction(self.fes)
        f.vec.data += a.harmonic_extension_trans * f.vec
        g.vec.data = inv * f.vec
        g.vec.data += a.harmonic_extension * g.vec
        g.vec.data += a.inner_solve * f.vec
        return g


@dataclass
class Solved:
    mesh: object
    b: list           # of each coil (of each parity, where `odd`), T per A and turn
    B: object
    L: np.ndarray
    out: dict


def settle(s: Solver, mu, br, where, out, tolerance=1e-6):
    """Bias potential with steel in the regions `where`; mu, br of the rest.

    Newton's method for (φ, B): B lives at the points of integration in the steel, and H(B) is linearised there ::

        ∫ (b + C (-grad φ - h))·grad w + … = 0,    b ← b + C (-grad φ - h),    h = H(|b|) b/|b|,  C = (∂h/∂b)⁻¹

    H(B) being convex, whole steps settle, where Newton's method for φ alone goes to and fro between the steel's
    branches.
    """
    mesh = s.fes.mesh
    lin, steely = static_law(mesh, mu, where)
    space = IntegrationRuleSpace(mesh, order=2 * s.order, definedon=steely)
    rules = space.GetIntegrationRules()
    inner = dx(definedon=steely, intrules=rules)
    values = lambda cf: np.array([interpolated(space, cf[i], steely) for i in range(3)])
    state = [GridFunction(space) for _ in range(12)]  # b - C h, and C by rows
    phi, old = GridFunction(s.fes), GridFunction(s.fes)
    b = None
    for it in range(40):
        if b is None:
            n, across, along, h = np.zeros((3, 1)) + [[0], [0], [1]], 1000.0, 1000.0, np.zeros((3, 1))
            n = np.repeat(n, len(state[0].vec), axis=1)
            b = h = 0 * n
            across = along = np.full(n.shape[1], 1000.0)
        else:
            size = np.maximum(np.linalg.norm(b, axis=0), 1e-6)
            n, hs = b / size, steel_h(size)
            across, along = size / hs, 1 / steel_slope(size)
            h = hs * n
        C = across * np.eye(3)[:, :, None] + (along - across) * n[:, None] * n[None]
        rest = b - np.einsum("ijp,jp->ip", C, h)
        for g, v in zip(state, [*rest, *C.reshape(9, -1)]):
            g.vec.FV().NumPy()[:] = v
        Cm, r = CF(tuple(state[3:]), dims=(3, 3)), CF(tuple(state[:3]))
        a = s.factor(lin * grad(s.u) * grad(s.v) * dx, InnerProduct(Cm * grad(s.u), grad(s.v)) * inner)
        old.vec.data = phi.vec
        phi.vec.data = s.run(a, InnerProduct(br, grad(s.v)) * dx(bonus_intorder=2) + InnerProduct(r, grad(s.v)) * inner).vec
        old.vec.data -= phi.vec
        change = relative(old, phi)
        H = -values(grad(phi))
        b = b + np.einsum("ijp,jp->ip", C, H - h)
        size = np.maximum(np.linalg.norm(b, axis=0), 1e-6)
        miss = np.linalg.norm(H - steel_h(size) * b / size) / np.linalg.norm(H)
        print(f"newton {it + 1} change {change:.3g} H(B) missed by {miss:.3g} largest B {size.max():.4g}", flush=True)
        if change < tolerance and miss < 1e-3:
            out["newton_steps"], out["newton_last_change"], out["steel_largest_B_T"] = it + 1, change, float(size.max())
            return phi
    raise RuntimeError("Newton's method did not settle")


def interpolated(space, cf, where):
    g = GridFunction(space)
    g.Interpolate(cf, definedon=where)
    return g.vec.FV().NumPy().copy()


def static_law(mesh, mu, where):
    """Outside steel its constant mu and zero, in steel zero and one."""
    return mu * mesh.MaterialCF(dict.fromkeys(where, 0), default=1), mesh.Materials("|".join(where))


def modulus(g):
    return sqrt(InnerProduct(grad(g), grad(g)) + 1e-20)


def relative(d, phi):
    mesh = phi.space.mesh
    return (Integrate(InnerProduct(grad(d), grad(d)), mesh) / Integrate(InnerProduct(grad(phi), grad(phi)), mesh)) ** 0.5


def induction(mesh, mu, br, where, phi, out):
    """B of a settled bias."""
    lin, steely = static_law(mesh, mu, where)
    h, steel = modulus(phi), steel_curve()
    B = br - (lin + mesh.MaterialCF(dict.fromkeys(where, 1), default=0) * steel(h) / h) * grad(phi)
    out["steel_B_rms_T"] = (Integrate(InnerProduct(B, B), mesh, definedon=steely)
                            / Integrate(CF(1), mesh, definedon=steely)) ** 0.5
    return B


def solve(p: Build, signal=True, bias=True):
    t = time.time()
    mesh, regions = build_mesh(p)
    out = dict(elements=mesh.ne, order=p.order, h_rim_mm=p.h_rim, h_edge_mm=p.h_edge, h_air_at_points_mm=p.h_focus,
               h_bodies_mm=p.h, mesh_s=round(time.time() - t, 1))
    print(out, flush=True)
    sym = 4 if p.half_y else 2
    mats = {n: p.mats[m] for n, m in regions.items()}
    mu = mesh.MaterialCF({n: m[0] for n, m in mats.items()}, default=1)
    br = CF(tuple(mesh.MaterialCF({n: m[1][i] for n, m in mats.items()}, default=0) for i in range(3)))
    where = [n for n, m in mats.items() if m[2]]
    quad = dx(bonus_intorder=2)
    even = Solver(p, mesh, False)
    out["ndof"] = even.fes.ndof
    out["far_faces"] = float(Integrate(CF(1), mesh, definedon=mesh.Boundaries("far")) * sym / (4 * pi * p.far**2))
    solvers = [even, Solver(p, mesh, True)] if p.odd else [even]
    fields, hs = [], []
    pair = None
    if signal:
        for s in solvers:
            pair = s.factor(mu * grad(s.u) * grad(s.v) * dx)
            for k, c in enumerate(p.coils):
                if c.x < -1e-9:
                    continue
                J = MU0 * 1e3 / ((c.ro - c.ri) * (c.high - c.low))
                tz = {f"coil{k}": J * (c.ro - c.distance()), f"win{k}": J * (c.ro - c.ri)}
                tz |= {n: J * (c.ro - c.ri) for n in regions if n.endswith(f"_{k}")}
                T = CF((0, 0, mesh.MaterialCF(tz, default=0)))
                phi = s.run(pair, mu * InnerProduct(T, grad(s.v)) * quad)
                hs.append(T - grad(phi))
                fields.append(mu * hs[-1])
    L = np.array([[Integrate(mu * InnerProduct(g, h), mesh, order=2 * p.order + 2) for g in hs] for h in hs])
    L = L * sym / MU0  # nH: mm³ and T² give 1e-9
    B = None
    if bias:
        s = solvers[-1]
        if where:
            phi = settle(s, mu, br, where, out)
            B = induction(mesh, mu, br, where, phi, out)
        else:
            if not signal:
                pair = s.factor(mu * grad(s.u) * grad(s.v) * dx)
            phi = s.run(pair, InnerProduct(br, grad(s.v)) * quad)
            B = br - mu * grad(phi)
        if p.string:
            pair = None
            mu_on = mesh.MaterialCF({"string": p.string_mur} | {n: m[0] for n, m in mats.items()}, default=1)
            on = s.factor(mu_on * grad(s.u) * grad(s.v) * dx)
            here = mesh.Materials("string")
            extra = p.string_mur - 1
            more = s.run(on, -extra * InnerProduct(grad(phi), grad(s.v)) * dx(definedon=here))
            M = -extra * (grad(phi) + grad(more))
            linkage(out, "small_movement", M, fields, mesh, p, sym)
            on = None
        if p.string and p.static_string:
            phi = settle(s, mu_on, br, where, out)
            linkage(out, "static", -extra * grad(phi), fields, mesh, p, sym)
    out["total_s"] = round(time.time() - t, 1)
    print(out, flush=True)
    return Solved(mesh, fields, B, L, out)


def linkage(out, name, M, fields, mesh, p, sym):
    here = mesh.Materials("string")
    each = [[Integrate(M[i] * b[i], mesh, order=2 * p.order, definedon=here) * sym / MU0 for i in range(3)]
            for b in fields]
    out[f"lambda_nWb_{name}"] = [float(sum(e)) for e in each]
    out[f"lambda_axial_nWb_{name}"] = [float(e[0]) for e in each]
    vol = Integrate(CF(1), mesh, definedon=here) * sym
    out["string_volume_ratio"] = vol / (pi * p.string[0] ** 2 * 2 * p.string[3])


def at(cf, mesh, points, scale):
    """Values at points (x, y, z) of the meshed part; a little off the planes of symmetry."""
    return [[scale * v for v in cf(mesh(max(px, 1e-6), py if abs(py) > 1e-6 else 1e-6, pz))] for px, py, pz in points]
