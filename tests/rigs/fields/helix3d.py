"""One turn of a real helix on its core in 3-D, by another code (ngsolve): what rings in its place leave out.

The cell is a pitch p of a string without ends: core, helical round wire, air a few pitches out. H = H₀ − ∇φ, φ
periodic along the string, ∂φ/∂r = −φ/r far out (exact for what is left there of a cylinder across the field)::

    ∫ μ ∇φ·∇w dV + ∮ φ w/r dA = ∫ (μ − 1) H₀·∇w dV

Plain Cartesian gradients on curved hexahedra.
Nothing is said of the helix but its shape: wire of round section across
its own path, on the radius R + q₁ and q₂ along the binormal, |q| ≤ a, cut by the half-planes through the axis.
Lengths are in wire radii a. The mesh is made in block coordinates (X, Y, θ), a square round the wire's centre with
the core under it and air over it, and deformed onto the helix.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from netgen.meshing import Element2D, Element3D, FaceDescriptor, MeshPoint, Pnt
from netgen.meshing import Mesh as Points
from ngsolve import (
    H1,
    BilinearForm,
    CoefficientFunction,
    GridFunction,
    IfPos,
    Integrate,
    LinearForm,
    Mesh,
    Periodic,
    TaskManager,
    VectorH1,
    atan,
    cos,
    ds,
    dx,
    grad,
    sin,
    sqrt,
    x,
    y,
    z,
)

CLEARANCE = 5e-3  # wire to core in wire radii, as in the cell of rings
HOLE = 3e-3  # of the core's radius, where the mesh ends at the axis
FAR = 2.0  # pitches of air over the wrap


@dataclass(frozen=True, kw_only=True)
class Helix:
    """A wound string in wire radii: `curvature` is wire radius over mean radius of the turns, `gap` the clear space
    between turns as a part of the pitch."""

    curvature: float
    gap: float

    @property
    def radius(self) -> float:
        """Of the wire's middle."""
        return 1 / self.curvature

    @property
    def sin(self) -> float:
        """Of the slope."""
        return self.curvature / (math.pi * (1 - self.gap))

    @property
    def pitch(self) -> float:
        return 2 / ((1 - self.gap) * math.sqrt(1 - self.sin**2))

    @property
    def core(self) -> float:
        return self.radius - 1 - CLEARANCE


@dataclass(frozen=True, kw_only=True)
class Moments:
    """Mean magnetisation over H₀; `_turning` is the component round the string.

    Attributes
    ----------
    wire, wire_turning, core, core_turning : float
        In a field along the string.
    wire_across, core_across : float
        In a field across it, along that field.
    wire_volume, core_area : float
        a³ per turn, a².
    unknowns : int
    """

    wire: float
    wire_turning: float
    core: float
    core_turning: float
    wire_across: float
    core_across: float
    wire_volume: float
    core_area: float
    unknowns: int


def solve_helix(helix: Helix, core_mu: float, wire_mu: float, *, n: int = 4, layers: int = 12,
                order: int = 3) -> Moments:
    """Both fields on one mesh: n elements per eighth of the wire's edge, `layers` round the turn."""
    mesh = _mesh(helix, n, layers)
    bend = GridFunction(VectorH1(mesh, order=order))
    place = _place(helix)
    bend.Set(CoefficientFunction(place) - CoefficientFunction((x, y, z)))
    mesh.SetDeformation(bend)
    mu = mesh.MaterialCF({"core": core_mu, "wire": wire_mu}, default=1.0)
    space = Periodic(H1(mesh, order=order))
    u, v = space.TnT()
    far = helix.radius + 1 + FAR * helix.pitch
    A = BilinearForm(space, symmetric=True, condense=True)
    A += mu * grad(u) * grad(v) * dx + u * v / far * ds("far")
    with TaskManager():
        A.Assemble()
        inverse = A.mat.Inverse(space.FreeDofs(True), inverse="sparsecholesky")
        fields = []
        for h0 in (CoefficientFunction((0, 0, 1)), CoefficientFunction((1, 0, 0))):
            f = LinearForm(space)
            f += (mu - 1) * h0 * grad(v) * dx("core|wire")
            f.Assemble()
            phi = GridFunction(space)
            r = f.vec.CreateVector()
            r.data = f.vec + A.harmonic_extension_trans * f.vec
            phi.vec.data = inverse * r
            phi.vec.data += A.harmonic_extension * phi.vec
            phi.vec.data += A.inner_solve * r
            fields.append(h0 - grad(phi))
        along, across = fields
        turning = (x * along[1] - y * along[0]) / sqrt(x * x + y * y)
        volume = {part: Integrate(CoefficientFunction(1), mesh, definedon=mesh.Materials(part))
                  for part in ("wire", "core")}

        def mean(field: Any, part: str) -> float:
            chi = (core_mu if part == "core" else wire_mu) - 1
            return chi * float(Integrate(field, mesh, definedon=mesh.Materials(part))) / volume[part]

        return Moments(
            wire=mean(along[2], "wire"), wire_turning=mean(turning, "wire"),
            core=mean(along[2], "core"), core_turning=mean(turning, "core"),
            wire_across=mean(across[0], "wire"), core_across=mean(across[0], "core"),
            wire_volume=volume["wire"], core_area=volume["core"] / helix.pitch, unknowns=space.ndof,
        )


def _place(helix: Helix) -> tuple[Any, Any, Any]:
    """Cartesian place of the block coordinates."""
    R, s_, p = helix.radius, helix.sin, helix.pitch
    c_, per = math.sqrt(1 - s_**2), p / (2 * math.pi)
    half = 1 / (1 - helix.gap)
    floor, top = -1 - CLEARANCE, half
    low, high = math.atan2(floor, half), math.atan2(top, half)
    X, Y = sqrt(x * x), IfPos(y - 2, 2, IfPos(y + 2, y, -2))
    right = IfPos(Y + X, IfPos(X - Y, 1, 0), 0)
    s = IfPos(right - 0.5, X, sqrt(Y * Y)) + 1e-30
    u = IfPos(right - 0.5, Y, X) / s
    t = IfPos(right - 0.5, IfPos(u, high * u, -low * u),
              IfPos(Y, math.pi / 2 - (math.pi / 2 - high) * u, -math.pi / 2 + (low + math.pi / 2) * u))
    w = 2 * s - 1  # 0 … 1 from the inner square to the wire's surface
    q2 = IfPos(0.5 - s, X, (1 - w) * X / (2 * s) + w * cos(t))
    q1 = IfPos(0.5 - s, Y, (1 - w) * Y / (2 * s) + w * sin(t))

    def cut(q1: Any, q2: Any) -> tuple[Any, Any]:
        """Radius and height where that thread of the wire meets the half-plane."""
        return sqrt((R + q1) ** 2 + (q2 * s_) ** 2), q2 * c_ + per * atan(q2 * s_ / (R + q1))

    inner_r, inner_z = cut(q1, q2)
    skin_r, skin_z = cut(sin(t), cos(t))
    edge_r = R + IfPos(right - 0.5, half * sin(t) / cos(t), IfPos(Y, top, floor))
    edge_z = IfPos(right - 0.5, half, IfPos(Y, top, floor) * cos(t) / sin(t)) / c_
    v = s - 1
    r = IfPos(1 - s, inner_r, (1 - v) * skin_r + v * edge_r)
    up = IfPos(1 - s, inner_z, (1 - v) * skin_z + v * edge_z)
    beyond = IfPos(y - 2, y - 2, 0)
    below = IfPos(-2 - y, -2 - y, 0)
    r = r + beyond * (FAR * p + 1 - top) + below * (HOLE * helix.core - helix.core)
    up = IfPos(x, up, -up) + per * z
    return r * cos(z), r * sin(z), up


def _mesh(helix: Helix, n: int, layers: int) -> Mesh:
    """Hexahedra in block coordinates, periodic in X and θ; parts core, wire, air; the face far out."""
    quads, kind = _section(n)
    flat, back = np.unique(np.round(quads.reshape(-1, 2), 9), axis=0, return_inverse=True)
    cells = back.reshape(-1, 4)
    points = Points()
    points.dim = 3
    for k, name in enumerate(("air", "wire", "core")):
        points.SetMaterial(k + 1, name)
    angles = np.linspace(0, 2 * math.pi, layers + 1)
    ids = [[points.Add(MeshPoint(Pnt(float(a), float(b), float(angle)))) for a, b in flat] for angle in angles]
    points.Add(FaceDescriptor(surfnr=1, domin=1, domout=0, bc=1))
    points.Add(FaceDescriptor(surfnr=2, domin=1, domout=0, bc=2))
    points.SetBCName(0, "far")
    points.SetBCName(1, "sides")
    for (cell, k), i in itertools.product(zip(cells, kind, strict=True), range(layers)):
        points.Add(Element3D(int(k) + 1, [ids[i][j] for j in cell] + [ids[i + 1][j] for j in cell]))
    lid = flat[:, 1].max()
    for a, b in itertools.chain.from_iterable(zip(c, np.roll(c, -1), strict=True) for c in cells):
        if min(flat[a, 1], flat[b, 1]) > lid - 1e-9:
            for i in range(layers):
                points.Add(Element2D(1, [ids[i][a], ids[i][b], ids[i + 1][b], ids[i + 1][a]]))
    where = {tuple(q): j for j, q in enumerate(flat)}
    for j, (a, b) in enumerate(flat):
        if a == -2.0:
            for row in ids:
                points.AddPointIdentification(row[j], row[where[2.0, b]], 1)
        points.AddPointIdentification(ids[0][j], ids[-1][j], 2)
    return Mesh(points)


def _section(n: int) -> tuple[np.ndarray, np.ndarray]:
    """Corners (cells, 4, 2) and kind of the blocks: square, wire's rim, air round it, columns."""
    v = np.linspace(0, 1, n + 1)
    grade = 0.08 * v + 0.92 * v**2
    u = np.concatenate([-grade[::-1], grade[1:]])
    rim = np.concatenate([1 - 0.5 * (0.15 * v + 0.85 * v**2)[::-1][:-1], 1 + np.linspace(0, 1, n // 2 + 1)])
    corners, kind = [], []

    def add(place: Any, first: np.ndarray, second: np.ndarray, what: Any) -> None:
        for (a, b), (c, d) in itertools.product(itertools.pairwise(first), itertools.pairwise(second)):
            quad = np.array([place(a, c), place(b, c), place(b, d), place(a, d)])
            e, f = quad[1] - quad[0], quad[3] - quad[0]
            corners.append(quad if e[0] * f[1] > e[1] * f[0] else quad[::-1])
            kind.append(what((a + b) / 2, (c + d) / 2))

    add(lambda a, b: (a, b), u / 2, u / 2, lambda a, b: 1)
    for turn in ((1, 0, 0, 1), (0, -1, 1, 0), (-1, 0, 0, -1), (0, 1, -1, 0)):
        add(lambda s, w, q=turn: (s * (q[0] + q[1] * w), s * (q[2] + q[3] * w)), rim, u,
            lambda s, w: int(s < 1))
    deep = 2 + (0.1 * v + 0.9 * v**2)
    add(lambda a, b: (a, b), 2 * u, deep, lambda a, b: 0)
    add(lambda a, b: (a, -b), 2 * u, deep, lambda a, b: 2)
    return np.array(corners), np.array(kind)
