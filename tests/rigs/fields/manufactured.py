"""Manufactured fields on a section, and how a solution closes in on them."""

from __future__ import annotations

from typing import Any

import numpy as np
from skfem import Basis, ElementTriP2, LinearForm, MeshTri, condense, solve

LEVELS = (2, 3, 4, 5)


def exact(x: Any) -> tuple[Any, Any, Any]:
    """A smooth field without symmetry in z, and its derivatives: e^{-z} cos(1.3 r) (1 + r²/3)."""
    r, z = x[0], x[1]
    e, c, s, p = np.exp(-z), np.cos(1.3 * r), np.sin(1.3 * r), 1 + r**2 / 3
    return e * c * p, e * (-1.3 * s * p + c * 2 * r / 3), -e * c * p


class _Field:
    """A function as the forms take one: value and gradient."""

    __array_ufunc__ = None  # array * field is left to the field

    def __init__(self, value: Any, dr: Any, dz: Any) -> None:
        self.value, self.grad = value, (dr, dz)

    def __mul__(self, other: Any) -> Any:
        return self.value * other

    __rmul__ = __mul__


def errors(form: Any, load: Any, distance: Any) -> tuple[list[float], list[float]]:
    """Weighted L2 errors of the field and of its derivatives, level by level."""
    of_field, of_slope = [], []
    for level in LEVELS:
        basis = Basis(MeshTri().refined(level), ElementTriP2(), intorder=8)
        boundary = basis.get_dofs().flatten()
        values = exact(basis.doflocs)[0]
        u = solve(*condense(form(basis), LinearForm(load).assemble(basis), x=values, D=boundary))
        a, b = distance(basis, basis.interpolate(u))
        of_field.append(float(np.sqrt(np.sum(a * basis.dx))))
        of_slope.append(float(np.sqrt(np.sum(b * basis.dx))))
    return of_field, of_slope


def check(of_field: list[float], of_slope: list[float]) -> None:
    """P2: order 3 in the field and 2 in its derivatives; asked for 2.8 and 1.8, and a small last error."""
    assert np.log2(of_field[-2] / of_field[-1]) > 2.8
    assert np.log2(of_slope[-2] / of_slope[-1]) > 1.8
    assert of_field[-1] < 2e-6
    assert of_slope[-1] < 4e-4
