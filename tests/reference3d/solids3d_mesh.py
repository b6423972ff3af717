"""Bodies of any kind, coils and a string, and one mesh of them all. Units: mm."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from netgen.occ import Box, Cylinder, Glue, OCCGeometry, Pnt, Sphere, X, Z
from ngsolve import IfPos, Mesh, sqrt, x, y


@dataclass
class Rod:
    """Upright cylinder."""

    mat: str
    x: float
    y: float
    r: float
    low: float
    high: float

    def solid(self, a, b):
        return Cylinder(Pnt(self.x, self.y, a), Z, self.r, b - a)

    def edge(self, lo, hi, c):
        flat = abs(hi[2] - lo[2]) < 1e-5 and min(abs(c[2] - self.low), abs(c[2] - self.high)) < 1e-5
        d = np.hypot(c[0] - self.x, c[1] - self.y)
        return flat and 0.5 * self.r < d < self.r + 1e-6

    @property
    def middle(self):
        return self.x, self.y


@dataclass
class Bar:
    """Box |x| ≤ half_x, |y| ≤ half_y."""

    mat: str
    half_x: float
    half_y: float
    low: float
    high: float

    def solid(self, a, b):
        return Box(Pnt(-self.half_x, -self.half_y, a), Pnt(self.half_x, self.half_y, b))

    def edge(self, lo, hi, c):
        on = [abs(abs(c[0]) - self.half_x) < 1e-5, abs(abs(c[1]) - self.half_y) < 1e-5,
              min(abs(c[2] - self.low), abs(c[2] - self.high)) < 1e-5]
        inside = abs(c[0]) < self.half_x + 1e-5 and abs(c[1]) < self.half_y + 1e-5
        return inside and self.low - 1e-5 < c[2] < self.high + 1e-5 and sum(on) >= 2

    @property
    def middle(self):
        return 0.0, 0.0


@dataclass
class Coil:
    """Race-track about the segment x, |y| ≤ half; inner and outer half-width; z from low to high."""

    ri: float
    ro: float
    low: float
    high: float
    half: float = 0.0
    x: float = 0.0

    def stadium(self, r):
        up = lambda y0: Cylinder(Pnt(self.x, y0, self.low), Z, r, self.high - self.low)
        if self.half == 0:
            return up(0)
        box = Box(Pnt(self.x - r, -self.half, self.low), Pnt(self.x + r, self.half, self.high))
        return up(self.half) + up(-self.half) + box

    def holds(self, middle, a, b):
        dy = max(abs(middle[1]) - self.half, 0)
        return np.hypot(middle[0] - self.x, dy) < self.ri and self.low - 1e-9 <= a and b <= self.high + 1e-9

    def distance(self):
        q = IfPos(y - self.half, y - self.half, IfPos(-y - self.half, -y - self.half, 0))
        return sqrt((x - self.x) ** 2 + q * q)


@dataclass
class Build:
    """mats: {name: (μr of the signal, Br vector in T, steel?)}; focus: boxes (low, high, h) of fine air."""

    bodies: list
    mats: dict
    coils: list
    focus: list = field(default_factory=list)
    string: tuple | None = None       # (radius, y, z of the axis, half length)
    string_mur: float = 100.0
    half_y: bool = True               # y = 0 is a symmetry plane; x = 0 always is
    odd: bool = False                 # the bias potential is odd about x = 0
    top: float = 0.0                  # edges at this height and above are the finest
    h_rim: float = 0.15               # at edges under the strings
    h_edge: float = 0.4               # at other edges of bodies
    h_focus: float = 0.7
    h: float = 1.4
    h_string: float = 1.0             # in radii
    near_len: float = 6.0
    fine_y: tuple = (-1e3, 1e3)       # beyond these y edges are four times as coarse
    static_string: bool = False       # solve the string in the nonlinear bias itself, too
    far: float = 600.0
    order: int = 3


def build_mesh(p: Build):
    big = 2 * p.far
    keep = Box(Pnt(0, 0 if p.half_y else -big, -big), Pnt(big, big, big))
    solids, regions = [], {}

    def add(s, name, h):
        s = s * keep
        if len(s.solids) == 0:
            return
        s.mat(name)
        s.maxh = h
        solids.append(s)

    def inside(body):
        return body.middle[0] >= -1e-9 and (body.middle[1] >= -1e-9 or not p.half_y)

    bodies = [b for b in p.bodies if inside(b)]
    all_bodies = None
    for n, body in enumerate(bodies):
        cuts = {body.low, body.high}
        for c in p.coils:
            if any(c.holds(body.middle, a, b) for a, b in ((c.low, c.high),)):
                cuts |= {z for z in (c.low, c.high) if body.low < z < body.high}
        cuts = sorted(cuts)
        for a, b in zip(cuts, cuts[1:]):
            inside_of = [k for k, c in enumerate(p.coils) if c.holds(body.middle, a, b)]
            name = f"{body.mat}_{inside_of[0]}" if inside_of else f"{body.mat}_out"
            regions[name] = body.mat
            s = body.solid(a, b)
            add(s, name, p.h if b > p.top - 1e-6 else 1.5 * p.h)
            all_bodies = s if all_bodies is None else all_bodies + s
    for k, c in enumerate(p.coils):
        if c.x >= -1e-9:
            add(c.stadium(c.ri) - all_bodies, f"win{k}", 1.5 * p.h)
            add(c.stadium(c.ro) - c.stadium(c.ri), f"coil{k}", 1.6 * p.h)
    rod = None
    if p.string:
        a, ys, zs, length = p.string
        rod = Cylinder(Pnt(0, ys, zs), X, a, length)
        near = Cylinder(Pnt(0, ys, zs), X, a, p.near_len)
        add(near, "string", p.h_string * a)
        add(rod - near, "string", 2.5 * p.h_string * a)
    for low, high, h in p.focus:
        s = Box(Pnt(*low), Pnt(*high))
        add(s - rod if rod is not None else s, "air", h * p.h_focus)
    reach = [max([c.ro + (c.half if i else abs(c.x)) for c in p.coils]) + 8 for i in (0, 1)]
    bottom = min(b.low for b in p.bodies) - 8
    box = Box(Pnt(-reach[0], -reach[1], bottom), Pnt(reach[0], reach[1], 12))
    add(box - Glue(list(solids)), "air", 2.6 * p.h)
    outer = Sphere(Pnt(0, 0, 0), p.far) - box
    add(outer - rod if rod is not None else outer, "air", 150.0)
    shape = Glue(solids)
    for e in shape.edges:
        lo, hi = [[q[i] for i in range(3)] for q in e.bounding_box]
        c = [e.center[i] for i in range(3)]
        if any(b.edge(lo, hi, c) for b in bodies):
            fine = 1 if p.fine_y[0] < c[1] < p.fine_y[1] else 4
            upright = hi[2] - lo[2] > 1e-3  # narrow gaps may lie between these and a coil
            e.maxh = fine * p.h_rim if c[2] > p.top - 1e-5 else 0.4 if upright else p.h_edge
    for f in shape.faces:
        lo, hi = f.bounding_box
        if hi[2] - lo[2] > 1.5 * p.far and hi[0] - lo[0] > 0.5 * p.far and hi[1] - lo[1] > 1:
            f.name = "far"
        elif abs(hi[0]) < 1e-6 and abs(lo[0]) < 1e-6:
            f.name = "x0"
        else:
            f.name = "other"
    ngmesh = OCCGeometry(shape).GenerateMesh(maxh=200, grading=0.35, curvaturesafety=1.0, segmentsperedge=0.3)
    mesh = Mesh(ngmesh)
    mesh.Curve(p.order + 2)
    return mesh, regions
