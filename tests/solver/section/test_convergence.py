"""Order of convergence of the flux form and of the potential forms on smooth manufactured fields."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from rigs.fields.manufactured import _Field, check, errors, exact
from stringflux.solver.constants import NU0
from stringflux.solver.section.forms import air_flux, curl, potential_form, potential_gradient


def test_flux_form() -> None:
    """A_φ = r u: A to order 3, B to order 2."""

    def load(v: Any, w: Any) -> Any:
        br, bz = curl(_Field(*exact(w.x)), w)
        cr, cz = curl(v, w)
        return NU0 * (br * cr + bz * cz) * w.x[0]

    def distance(basis: Any, u: Any) -> tuple[Any, Any]:
        x = np.asarray(basis.global_coordinates())
        value, dr, dz = exact(x)
        e, er, ez = np.asarray(u) - value, u.grad[0] - dr, u.grad[1] - dz
        return (x[0] * e) ** 2 * x[0], ((x[0] * ez) ** 2 + (2 * e + x[0] * er) ** 2) * x[0]

    check(*errors(air_flux.assemble, load, distance))


@pytest.mark.parametrize("m", [0, 1, 2])
def test_potential_form(m: int) -> None:
    """φ = r^m v of azimuthal order m: φ to order 3, H to order 2."""

    def assemble(basis: Any) -> Any:
        one = np.ones((basis.nelems, 1))
        return potential_form(m).assemble(basis, mu_t=2 * one, mu_z=3 * one)

    def load(v: Any, w: Any) -> Any:
        ur, uf, uz = potential_gradient(m, _Field(*exact(w.x)), w)
        vr, vf, vz = potential_gradient(m, v, w)
        return (2 * (ur * vr + uf * vf) + 3 * uz * vz) * w.x[0]

    def distance(basis: Any, u: Any) -> tuple[Any, Any]:
        x = np.asarray(basis.global_coordinates())
        value, dr, dz = exact(x)
        e, er, ez = np.asarray(u) - value, u.grad[0] - dr, u.grad[1] - dz
        r = x[0]
        slope = er**2 + ez**2 if m == 0 else r ** (2 * m - 2) * ((m * e + r * er) ** 2 + (m * e) ** 2 + (r * ez) ** 2)
        return (r**m * e) ** 2 * r, slope * r

    check(*errors(assemble, load, distance))
