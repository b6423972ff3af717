"""One turn of a wrap with its real curve: the nonlinear cell that the wrap's law is held against."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.sparse.linalg import splu
from skfem import Basis, BilinearForm, ElementQuad2, LinearForm

from stringflux.geometry.arrays import Array
from stringflux.solver.materials import StringSteel
from stringflux.solver.wrap_turn import _cell

_CORE_MU = 100.0


def nonlinear_turn(metal: StringSteel, gap: float, curvature: float, h0: Array) -> tuple[Array, Array]:
    """Axial M per metal volume (A/m) and the reversible susceptibility there, for rising H₀ (A/m)."""
    half = 1 / (1 - gap)
    sin = half * curvature / np.pi
    cos = np.sqrt(1 - sin**2)
    mesh, wire, core = _cell(half, curvature, 1)
    basis = Basis(mesh, ElementQuad2(), intorder=5)
    r = 1 + curvature * basis.global_coordinates()[1]
    x, y = basis.doflocs
    free = np.flatnonzero(~((x < 1e-9) | (x > half - 1e-9) | (1 + curvature * y < 1e-9)))
    air = np.ones_like(r)
    air[core] = _CORE_MU

    def parts(grad: Any, r: Array) -> tuple[Any, Any, Any]:
        """(z, φ, r) components of −∇φ."""
        return -cos * grad[0], sin / r * grad[0], -grad[1]

    @BilinearForm
    def tangent(u: Any, v: Any, w: Any) -> Any:
        a, b, h = parts(u.grad, w["r"]), parts(v.grad, w["r"]), (w["hz"], w["hf"], w["hr"])
        plain = sum(p * q for p, q in zip(a, b, strict=True))
        along_u = sum(p * q for p, q in zip(a, h, strict=True))
        along_v = sum(p * q for p, q in zip(b, h, strict=True))
        return w["r"] * (w["mu"] * plain + w["bend"] * along_u * along_v)

    @LinearForm
    def residual(v: Any, w: Any) -> Any:
        b = parts(v.grad, w["r"])
        return w["r"] * w["mu"] * (w["hz"] * b[0] + w["hf"] * b[1] + w["hr"] * b[2])

    def state(phi: Array, h0: float) -> dict[str, Array]:
        hz, hf, hr = parts(basis.interpolate(phi).grad, r)
        hz = hz + h0
        h = np.sqrt(hz**2 + hf**2 + hr**2) + 1e-6
        mu, bend = air.copy(), np.zeros_like(r)
        m, slope = metal.magnetisation(h[wire])
        mu[wire] += m / h[wire]
        bend[wire] = (slope - m / h[wire]) / h[wire] ** 2
        return {"r": r, "mu": mu, "bend": bend, "hz": hz, "hf": hf, "hr": hr}

    def newton_step(fields: dict[str, Array], load: Array) -> Array:
        A = tangent.assemble(basis, **fields)[free][:, free].tocsc()
        return splu(A, permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True}).solve(-load)

    weight = (basis.dx * r)[wire]
    weight = weight / weight.sum()
    phi, before = basis.zeros(), 0.0
    found, reversible = [], []
    for h in h0:
        phi = phi * (h / before if before else 0.0)
        before = float(h)
        for _ in range(60):
            load = residual.assemble(basis, **state(phi, h))[free]
            norm = np.linalg.norm(load)
            if norm < 1e-6 * h:
                break
            step, size = newton_step(state(phi, h), load), 1.0
            trial = phi.copy()
            trial[free] = phi[free] + step
            while size > 1e-3 and np.linalg.norm(residual.assemble(basis, **state(trial, h))[free]) > norm:
                size /= 2
                trial[free] = phi[free] + size * step
            phi = trial
        else:
            raise AssertionError("the turn did not settle")
        now = state(phi, h)
        chi = now["mu"][wire] - 1
        found.append(np.sum(weight * chi * now["hz"][wire]))
        strength = np.sqrt(now["hz"] ** 2 + now["hf"] ** 2 + now["hr"] ** 2)[wire]
        small = state(basis.zeros(), 1.0)
        small["mu"][wire] = 1 + metal.reversible(chi * strength)
        small["bend"][:] = 0.0
        answer = basis.zeros()
        answer[free] = newton_step(small, residual.assemble(basis, **small)[free])
        inside = 1 + parts(basis.interpolate(answer).grad, r)[0][wire]
        reversible.append(np.sum(weight * (small["mu"][wire] - 1) * inside))
    return np.array(found), np.array(reversible)
