r"""The weak forms: one flux form in three formulations, and the potential form of azimuthal order m.

Flux form for the bias field. The one component of the vector potential that lies across the section is written
A = r^s u and the element of volume is r^g dr dz; with x for r in the plane and c = s + g ::

    B = curl A = (−r^s ∂_z u,  c r^{s−1} u + r^s ∂_r u)       ∫ H(B)·curl(w) r^g dr dz + far = 0

    AXISYMMETRIC  s = 1, g = 1   bodies of revolution, A_φ = r u
    PLANAR        s = 0, g = 0   bars across the section, A_y = u; on a half section x ≥ 0: A_y even in x
    PLANAR_ODD    s = 1, g = 0   half a section x ≥ 0 with A_y = x u odd in x

Potential form of azimuthal order m, φ(r, φ, z) = r^m v(r, z) cos mφ, for the small-signal field::

    ∇φ → (r^{m−1}(m v + r ∂_r v),  m r^{m−1} v,  r^m ∂_z v)      (r, φ, z components)
    ∫ μ (∇φ)·(∇w) r dr dz + far = ∫ (μ − μ0) H_ext·∇w r dr dz

Dividing by r and r^m makes the axis an ordinary place (uniform fields are u = const, v = const) and all
integrands polynomials. The far boundary is a sphere, in the plane a cylinder, of radius ρ; a field that decays
there like the leading multipole satisfies a Robin condition, exact for that multipole. A dipole's A goes as
ρ^{-2} in space and as ρ^{-1} in the plane; (1/ρ) ∂(ρA)/∂ρ in the one and ∂A/∂ρ in the other are both −A/ρ::

    flux form (dipole):       far = ∫ (ν0/ρ) A w r^g ds
    potential, n = max(1, m): far = ∫ μ0 (n + 1)/ρ φ w r ds

References
----------
Far boundary: A. Bayliss, M. Gunzburger, E. Turkel, "Boundary conditions for the numerical solution of elliptic
equations in exterior regions", *SIAM J. Appl. Math.* 42 (1982) 430 (memory). Formulations and potential form: derived
here.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

from skfem import BilinearForm, LinearForm

from ..constants import MU0, NU0


@dataclass(frozen=True)
class Formulation:
    """What a flux form depends on: the power s of r in A = r^s u and the power g in the weight.

    Attributes
    ----------
    power : int
        s, 0 or 1.
    weight_power : int
        g, 0 or 1, at most s.
    """

    power: int
    weight_power: int

    def scale(self, r: Any) -> Any:
        """r^s."""
        return r**self.power

    def weight(self, r: Any) -> Any:
        """r^g."""
        return r**self.weight_power

    @property
    def spread(self) -> int:
        """c = s + g: what u itself adds to B_z (with s = 0 nothing, with s = 1 c u)."""
        return self.power + self.weight_power

    def curl(self, u: Any, w: Any) -> tuple[Any, Any]:
        """(B_r, B_z) of A = r^s u."""
        scale = self.scale(w.x[0])
        return -scale * u.grad[1], self.spread * u + scale * u.grad[0]

    @cached_property
    def flux(self) -> BilinearForm:
        """∫ ν0 curl u·curl w r^g: air."""

        def form(u: Any, v: Any, w: Any) -> Any:
            br, bz = self.curl(u, w)
            hr, hz = self.curl(v, w)
            return NU0 * (br * hr + bz * hz) * self.weight(w.x[0])

        return BilinearForm(form)

    @cached_property
    def far(self) -> BilinearForm:
        """∫ (ν0/ρ) A A' r^g ds; parameter `rho`."""

        def form(u: Any, v: Any, w: Any) -> Any:
            r = w.x[0]
            return NU0 / w["rho"] * u * v * self.scale(r) ** 2 * self.weight(r)

        return BilinearForm(form)

    @cached_property
    def current(self) -> LinearForm:
        """∫ J A' r^g: a meshed coil of current density `J` (checks against other routes and codes)."""

        def form(v: Any, w: Any) -> Any:
            r = w.x[0]
            return w["J"] * v * self.scale(r) * self.weight(r)

        return LinearForm(form)


AXISYMMETRIC = Formulation(1, 1)
PLANAR = Formulation(0, 0)
PLANAR_ODD = Formulation(1, 0)

curl = AXISYMMETRIC.curl
air_flux, far_flux, current_load = AXISYMMETRIC.flux, AXISYMMETRIC.far, AXISYMMETRIC.current


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
