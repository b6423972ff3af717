"""A wound string turn by turn: core and rings of round wire in the field of loops round them.

Axisymmetric finite elements of the whole string, half of it by symmetry, ends included. Nothing is
homogenised. H = H_loop − ∇φ, ∫ μ ∇φ·∇w r = ∫ (μ − 1) H_loop·∇w r, φ = 0 at z = 0 where the axial field is even.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.sparse.linalg import splu
from scipy.special import ellipe, ellipk
from skfem import Basis, BilinearForm, ElementQuad2, LinearForm, MeshQuad, MeshQuad2

from stringflux.geometry.arrays import Array
from stringflux.postprocess.string.magnetisation import StringLaw


@dataclass(frozen=True, kw_only=True)
class WoundSection:
    """Radii and lengths in metres; loops by their height and share of the current, all even or all odd in z."""

    core_radius: float
    wrap_diameter: float
    gap: float
    turns: int
    loop_radius: float
    loops: tuple[tuple[float, float], ...] = ((0.0, 1.0),)

    @property
    def odd(self) -> bool:
        return abs(sum(share for _, share in self.loops)) < 1e-12

    def field(self, current: float, r: Array, z: Array) -> Array:
        """(H_r, H_z) of the loops, A/m, (2, …)."""
        return sum((share * np.stack(loop_field(self.loop_radius, current, r, z - at)) for at, share in self.loops),
                   np.zeros(()))

    @property
    def pitch(self) -> float:
        return self.wrap_diameter / (1 - self.gap)

    @property
    def half_length(self) -> float:
        return (self.turns + 0.5) * self.pitch


@BilinearForm
def _tangent(u: Any, v: Any, w: Any) -> Any:
    uz, ur = u.grad
    vz, vr = v.grad
    along = (uz * w["hz"] + ur * w["hr"]) * (vz * w["hz"] + vr * w["hr"])
    return w.x[1] * (w["mu"] * (uz * vz + ur * vr) + w["bend"] * along)


@LinearForm
def _residual(v: Any, w: Any) -> Any:
    """−∫ [(μ − 1) H + (H − H_loop)]·∇w r: the loop's own field drops out exactly."""
    vz, vr = v.grad
    return -w.x[1] * (w["bz"] * vz + w["br"] * vr)


def loop_field(radius: float, current: float, r: Array, z: Array) -> tuple[Array, Array]:
    """(H_r, H_z) of a loop at z = 0 on the axis, A/m."""
    r = np.maximum(r, 1e-9)
    far, near = (radius + r) ** 2 + z**2, (radius - r) ** 2 + z**2
    m = 4 * radius * r / far
    K, E = ellipk(m), ellipe(m)
    c = current / (2 * np.pi * np.sqrt(far))
    hz = c * (K + (radius**2 - r**2 - z**2) / near * E)
    hr = c * z / r * (-K + (radius**2 + r**2 + z**2) / near * E)
    return hr, hz


def resolved_moment(section: WoundSection, core: StringLaw, wrap: StringLaw, current: float,
                    n: int = 4) -> tuple[float, float, float, float]:
    """∫ M_z dV of core and of wrap (twice the half z > 0, A·m²), the wrap's volume (m³) and ∫ M·H_loop dV (A²·m)."""
    mesh, in_core, in_wire = _mesh(section, n)
    basis = Basis(mesh, ElementQuad2(), intorder=5)
    z, r = basis.global_coordinates()
    sr, sz = section.field(current, r, z)
    free = np.arange(1, basis.N) if section.odd else np.flatnonzero(basis.doflocs[0] > 1e-12)
    phi = basis.zeros()

    def state(phi: Array) -> tuple[dict[str, Array], Array, Array, Array]:
        g = basis.interpolate(phi).grad
        hz, hr = sz - g[0], sr - g[1]
        h = np.hypot(hz, hr) + 1e-6
        chi, bend = np.zeros_like(h), np.zeros_like(h)
        for cells, law in ((in_core, core), (in_wire, wrap)):
            m, slope = law.magnetisation(h[cells])
            chi[cells] = m / h[cells]
            bend[cells] = (slope - chi[cells]) / h[cells] ** 2
        load = _residual.assemble(basis, bz=chi * hz - g[0], br=chi * hr - g[1])[free]
        return {"mu": 1 + chi, "bend": bend, "hz": hz, "hr": hr}, load, chi * hz, chi * (hz * sz + hr * sr)

    now, load, m, work = state(phi)
    first = np.linalg.norm(load)
    for _ in range(60):
        A = _tangent.assemble(basis, **now)[free][:, free].tocsc()
        step = splu(A, permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True}).solve(-load)
        size, norm = 2.0, np.linalg.norm(load)
        while size > 1e-3:  # halve until the residual falls
            size /= 2
            trial = phi.copy()
            trial[free] += size * step
            now, load, m, work = state(trial)
            if np.linalg.norm(load) < norm:
                break
        phi = trial
        if np.linalg.norm(load) < 1e-6 * first:
            break
    else:
        raise AssertionError("the resolved string did not settle")
    volume = 4 * np.pi * r * basis.dx
    moments = volume * m
    return (float(moments[in_core].sum()), float(moments[in_wire].sum()), float(volume[in_wire].sum()),
            float((volume * work).sum()))


def _mesh(s: WoundSection, n: int) -> tuple[MeshQuad2, Array, Array]:
    """(z, r) mesh: half turns side by side, air round them; elements of the core and of the wire."""
    a = s.wrap_diameter / 2
    half = s.pitch / 2
    middle = s.core_radius + a
    clearance = 0.005 * a
    low, high = -np.arctan2(a + clearance, half), np.arctan2(half, half)
    u = np.linspace(0, 1, n + 1)
    grade = 0.1 * u + 0.9 * u**2
    angles = np.concatenate([
        -np.pi / 2 + (low + np.pi / 2) * grade[:-1], low * grade[::-1][:-1], high * grade[:-1],
        high + (np.pi / 2 - high) * np.linspace(0, 1, n // 2 + 1),
    ])
    shells = np.concatenate([1 - grade[::-1][:-1], [1.0, 1.5], 2 + u])
    flat = MeshQuad.init_tensor(angles, shells)
    t, q = flat.p[:, flat.t].mean(axis=1)
    flat = flat.remove_elements(np.flatnonzero((q > 2) & (t > low) & (t < high)))
    t, q = flat.p
    cos, sin = np.clip(np.cos(t), 1e-12, None), np.sin(t)
    edge = np.minimum(half / cos, np.where(sin > 0, half, a + clearance) / np.maximum(np.abs(sin), 1e-12))
    d = np.minimum(q, 1) * a + np.clip(q - 1, 0, 1) * (edge - a)
    x, y = d * cos, middle + d * sin
    column = np.clip(q - 2, 0, 1)
    roof = middle + half + s.pitch
    y = y + column * (np.where(sin > 0, roof, 0.0) - y)
    x[np.abs(t) > np.pi / 2 - 1e-9] = 0.0
    x[(q >= 2) & (t >= low - 1e-9) & (t <= high + 1e-9)] = half
    t, q = flat.p[:, flat.t].mean(axis=1)
    kind = np.where(q < 1, 2, np.where((q > 2) & (t < low), 1, 0))

    points, quads, kinds = [], [], []

    def add(p: Array, cells: Array, k: Array) -> None:
        quads.append(cells + sum(b.shape[1] for b in points))
        points.append(p)
        kinds.append(k)

    for i in range(2 * s.turns + 1):
        place = i * half + x if i % 2 == 0 else (i + 1) * half - x
        add(np.stack([place, y]), flat.t, kind)
    columns = np.unique(np.round(np.concatenate([p[0, np.abs(p[1] - roof) < 1e-12] for p in points]), 12))
    far = s.loop_radius * 8
    out = roof * np.geomspace(1, far / roof, 4 * n)
    beyond = s.half_length + np.concatenate([[0.0], half * np.geomspace(1, far / half, 4 * n)])
    side = np.unique(np.round(y[x > half * (1 - 1e-9)], 12))
    for first, second in ((columns, out), (beyond, np.concatenate([side, out[1:]]))):
        block = MeshQuad.init_tensor(first, second)
        add(block.p, block.t, np.zeros(block.t.shape[1], dtype=int))
    p, t, kind = np.concatenate(points, axis=1), np.concatenate(quads, axis=1), np.concatenate(kinds)
    _, chosen, back = np.unique(np.round(p / 1e-9).astype(np.int64), axis=1, return_index=True,
                                return_inverse=True)
    t = back.ravel()[t]
    flat = MeshQuad(np.ascontiguousarray(p[:, chosen]), np.ascontiguousarray(t))
    return _rounded(flat, kind, s.pitch, middle, a), np.flatnonzero(kind == 1), np.flatnonzero(kind == 2)


def _rounded(flat: MeshQuad, kind: Array, pitch: float, middle: float, a: float) -> MeshQuad2:
    """Put the middles of the wires' edges on the circle."""
    mesh = MeshQuad2.from_mesh(flat)
    inner = np.flatnonzero(flat.f2t[1] >= 0)
    one, other = kind[flat.f2t[:, inner]]
    node = flat.nvertices + inner[(one == 2) != (other == 2)]
    places = mesh.doflocs.copy()
    centre = np.stack([pitch * np.round(places[0, node] / pitch), np.full(node.size, middle)])
    arm = places[:, node] - centre
    places[:, node] = centre + arm * (a / np.hypot(*arm))
    return MeshQuad2(places, mesh.t)
