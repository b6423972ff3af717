"""Blocks of magnets of 1 T, and the force on one in a known field."""

from __future__ import annotations

from typing import Any

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.bodies import Box, SolidBody
from stringflux.solver.constants import MU0
from stringflux.solver.materials import ConstantPermeability, linear_magnet

MATERIALS: Any = {"m": linear_magnet(name="m", remanence=1.0, mu_recoil=1.0),
                  "s": ConstantPermeability(name="s", mu_r=5000.0)}


def upper(gap: float) -> Box:
    return Box(low=(-2e-3, -5e-3, gap), high=(6e-3, 4e-3, gap + 5e-3))


def magnet(name: str, form: Any, way: tuple[float, float, float] = (0.0, 0.0, 1.0)) -> SolidBody:
    return SolidBody(name=name, material="m", form=form, magnetisation=way)


def force_on_box(box: Box, way: tuple[float, float, float], source: Any) -> Array:
    """∮ σ B dS of a block with J = 1 T: closed forms of B, Gauss's points on every side."""
    x, w = np.polynomial.legendre.leggauss(6)
    out = np.zeros(3)
    for axis in range(3):
        rest = [k for k in range(3) if k != axis]
        at, weight = [], []
        for k in rest:
            ends = np.linspace(box.low[k], box.high[k], 31)
            at.append(((ends[1:] + ends[:-1])[:, None] + np.diff(ends)[:, None] * x).ravel() / 2)
            weight.append((np.diff(ends)[:, None] * w).ravel() / 2)
        for sign, level in ((-1, box.low[axis]), (1, box.high[axis])):
            if way[axis]:
                p = np.empty((at[0].size, at[1].size, 3))
                p[..., axis], p[..., rest[0]], p[..., rest[1]] = level, at[0][:, None], at[1]
                field = source.getB(p.reshape(-1, 3)).reshape(p.shape)
                out += sign * way[axis] / MU0 * np.einsum("ijk,i,j->k", field, *weight)
    return out


def apart(found: Array, exact: Array) -> float:
    return float(np.linalg.norm(found - exact) / np.linalg.norm(exact))
