"""Sensitivity of one string and its linkage map.

The derivatives at rest come from λ at five positions 0.1 mm apart (fourth-order differences of a smooth
function: no solver noise, the fields are tabulated once). The map covers ± 2 mm, clipped above the pole.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes import StringShape

from .lattice import barycentric
from .line_fields import Span
from .string_field import StringField
from .string_magnetisation import Layer
from .string_model import StringModel, StringState, around, string_model

STEP = 0.1e-3
MAP_REACH = 2e-3
CLEARANCE = 0.3e-3  # least distance of the string's underside from the pole in the map
_STENCIL = np.array([-2.0, -1.0, 0.0, 1.0, 2.0])
_FIRST = np.array([1.0, -8.0, 0.0, 8.0, -1.0]) / 12
_SECOND = np.array([-1.0, 16.0, -30.0, 16.0, -1.0]) / 12


@dataclass(frozen=True, kw_only=True, eq=False)
class Slopes:
    """Derivatives of λ at rest.

    Attributes
    ----------
    linkage : float
        λ, Wb.
    z, y : float
        ∂λ/∂z and ∂λ/∂y, V·s/m.
    zz : float
        ∂²λ/∂z², V·s/m².
    rest : StringState
    """

    linkage: float
    z: float
    y: float
    zz: float
    rest: StringState

    @property
    def gap_slope(self) -> float:
        """d(20 log10 |S|)/dz, dB/m."""
        return float(20 / np.log(10)) * self.zz / self.z


class RestStencil:
    """The string at rest and at small displacements up and across, ready for several steels."""

    def __init__(self, model: StringModel) -> None:
        s = _STENCIL
        y = model.shape.y + STEP * np.concatenate([0 * s, s[[0, 1, 3, 4]]])
        z = model.shape.axis_height + STEP * np.concatenate([s, 0 * s[:4]])
        self._setting = model.setting(y, z)
        self._found: Array | None = None

    @property
    def surface(self) -> Array:
        """B₀ (T) and b (T/A) along the string at rest, averaged round its surface, (6, n + 2)."""
        return np.asarray(self._setting.surface[2])

    def static(self, layers: tuple[Layer, ...] | None = None) -> Slopes:
        """λ and its slopes on the static curve."""
        state = self._setting.static(layers, self._found)
        self._found = state.axial.h
        up = state.linkage[:5]
        across = np.concatenate([state.linkage[5:7], up[2:3], state.linkage[7:]])
        return Slopes(
            linkage=float(up[2]), rest=state.pick(2), z=float(_FIRST @ up) / STEP,
            y=float(_FIRST @ across) / STEP, zz=float(_SECOND @ up) / STEP**2,
        )

    def reversible(self, rest: StringState, layers: tuple[Layer, ...] | None = None) -> float:
        """∂λ/∂z for small movements on the steel's reversible slope, V·s/m."""
        return float(_FIRST @ self._setting.near(rest, layers).linkage[:5]) / STEP


def rest_slopes(model: StringModel) -> tuple[float, float, float]:
    """λ at rest, ∂λ/∂z and ∂²λ/∂z² on the static curve: what :meth:`RestStencil.static` gives, without ∂λ/∂y."""
    y = np.full(_STENCIL.size, model.shape.y)
    up = model.at(y, model.shape.axis_height + STEP * _STENCIL).linkage
    return float(up[2]), float(_FIRST @ up) / STEP, float(_SECOND @ up) / STEP**2


@dataclass(frozen=True, kw_only=True, eq=False)
class LinkageMap:
    """λ over positions of the axis.

    Attributes
    ----------
    y, z : arrays (ny,), (nz,)
        Positions, m.
    linkage : array (ny, nz)
        Wb.
    """

    y: Array
    z: Array
    linkage: Array

    def slope_z(self, z: float) -> Array:
        """∂λ/∂z at height z for every y of the map, V·s/m (ny,)."""
        h = 1e-5
        weights = (barycentric(self.z, np.array([z + h])) - barycentric(self.z, np.array([z - h])))[0]
        return np.asarray(self.linkage @ weights / (2 * h))


def linkage_map(field: StringField, model: StringModel, ny: int = 7, nz: int = 7) -> LinkageMap:
    """Compute the map on Chebyshev–Lobatto positions about rest."""
    shape = model.shape
    low = max(shape.axis_height - MAP_REACH, model.pole.face + CLEARANCE + shape.outer_radius)
    low = min(low, shape.axis_height - 0.05e-3)
    high = shape.axis_height + MAP_REACH
    y = shape.y + MAP_REACH * _lobatto(ny)
    z = (low + high) / 2 + (high - low) / 2 * _lobatto(nz)
    room = shape.outer_radius
    span = Span(y=(y[0] - room, y[-1] + room), z=(z[0] - room, z[-1] + room), ny=ny + 2, nz=nz + 2)
    wide = model.with_fields(field, span)
    Y, Z = np.meshgrid(y, z, indexing="ij")
    state = wide.at(Y.ravel(), Z.ravel())
    return LinkageMap(y=y, z=z, linkage=state.linkage.reshape(ny, nz))


def band_over_heights(shapes: list[StringShape], faces: list[float]) -> tuple[float, float]:
    """Lowest and highest height over the top plate at which a string's map needs the fields, m."""
    low = min(max(s.axis_height - MAP_REACH, min(f + CLEARANCE + s.outer_radius, s.axis_height - 0.05e-3))
              - s.outer_radius for s, f in zip(shapes, faces, strict=True))
    high = max(s.axis_height + MAP_REACH + s.outer_radius for s in shapes)
    return low, high


def rest_model(field: StringField, shape: StringShape, layers: tuple[Layer, ...],
               refine: float = 1.0) -> StringModel:
    """The string at rest, with its fields tabulated closely about that place."""
    return string_model(field, shape, layers, around(shape, 2.5 * STEP), refine)


def _lobatto(n: int) -> Array:
    return np.asarray(-np.cos(np.pi * np.arange(n) / (n - 1)))
