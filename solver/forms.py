r"""The weak forms, in axisymmetric coordinates (r, z).

Flux form, A_φ = r u, for the bias field::

    B = curl A = (−r ∂_z u,  2u + r ∂_r u)        ∫ H(B)·curl(w) r dr dz + far = 0

Potential form of azimuthal order m, φ(r, φ, z) = r^m v(r, z) cos mφ, for the small-signal field::

    ∇φ → (r^{m−1}(m v + r ∂_r v),  m r^{m−1} v,  r^m ∂_z v)      (r, φ, z components)
    ∫ μ (∇φ)·(∇w) r dr dz + far = ∫ (μ − μ0) H_ext·∇w r dr dz

Dividing by r and r^m makes the axis an ordinary place (uniform fields are u = const, v = const) and all
integrands polynomials. The far boundary is a sphere of radius ρ; a field that decays there like the
leading multipole r^{-(n+1)} satisfies a Robin condition, exact for that multipole::

    flux form (dipole):       far = ∫ (ν0/ρ) A w r ds
    potential, n = max(1, m): far = ∫ μ0 (n + 1)/ρ φ w r ds
"""

from __future__ import annotations

from typing import Any

from skfem import BilinearForm, LinearForm

from .constants import MU0, NU0


def curl(u: Any, w: Any) -> tuple[Any, Any]:
    """(B_r, B_z) of A_φ = r u."""
    r = w.x[0]
    return -r * u.grad[1], 2 * u + r * u.grad[0]


@BilinearForm
def air_flux(u: Any, v: Any, w: Any) -> Any:
    br, bz = curl(u, w)
    hr, hz = curl(v, w)
    return NU0 * (br * hr + bz * hz) * w.x[0]


@BilinearForm
def far_flux(u: Any, v: Any, w: Any) -> Any:
    return NU0 / w["rho"] * u * v * w.x[0] ** 3


@LinearForm
def current_load(v: Any, w: Any) -> Any:
    """∫ J A' r with A' = r v: a meshed ring of current density J (checks against other codes)."""
    return w["J"] * v * w.x[0] ** 2


def potential_gradient(m: int, v: Any, w: Any) -> tuple[Any, Any, Any]:
    """(r, φ, z) components of ∇(r^m v cos mφ), the φ component being that of sin mφ, sign dropped."""
    r = w.x[0]
    if m == 0:
        return v.grad[0], 0.0 * v, v.grad[1]
    lower = r ** (m - 1)
    return lower * (m * v + r * v.grad[0]), lower * m * v, lower * r * v.grad[1]


def potential_form(m: int) -> BilinearForm:
    """∫ [μ_t (∂_r, ∂_φ parts) + μ_z ∂_z part] r for order m; parameters `mu_t`, `mu_z`."""

    def form(u: Any, v: Any, w: Any) -> Any:
        ur, uf, uz = potential_gradient(m, u, w)
        vr, vf, vz = potential_gradient(m, v, w)
        return (w["mu_t"] * (ur * vr + uf * vf) + w["mu_z"] * uz * vz) * w.x[0]

    return BilinearForm(form)


def far_potential(m: int) -> BilinearForm:
    """Robin term of order m; parameter `rho`."""

    def form(u: Any, v: Any, w: Any) -> Any:
        return MU0 * (max(1, m) + 1) / w["rho"] * u * v * w.x[0] ** (2 * m + 1)

    return BilinearForm(form)
