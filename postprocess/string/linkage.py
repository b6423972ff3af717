"""Sensitivity of one string and its linkage map.

The derivatives at rest come from λ at five positions 0.1 mm apart, an eighth of the gap where that is less
(fourth-order differences of a smooth function: no solver noise, the fields are tabulated once). The map covers
± 2 mm, clipped above the pole.

A string midway between poles of opposite polarity hears nothing of its movement up and down: it lies along b and is
magnetised across it. What is computed there is what the model leaves open, ::

    doubt of S = |S − S₀| + ε |d/dz ∫ |M||b| dV|         (of λ likewise, without d/dz)

S₀ without the answer of the pole below, for that of its neighbour, as far away and as large, is left out, and without
the other strings: a coil hears a string by what the pickup does, and not by the strings beside it alone. ε: the
error of B₀ and b in parts of their moduli. A slope within its doubt is none. Over its pole S is 0.6 to 0.9 of that
derivative (the shipped cases); midway between two rods it is 0.0055 of it, whichever the solver and the quality, and
S₀ is 0.

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.reading.check_strings import LEAST_GAP
from stringflux.geometry.shapes.row import StringShape
from stringflux.solver.interpolation import barycentric
from stringflux.solver.seam import Across, Answer, StringField

from ..records.prediction import FIELD_ERROR
from .line_fields import Span, line_fields
from .magnetisation import Layer
from .model import StringModel, StringSetting, StringState, around, laid_level, string_model
from .numerics import SHIPPED, StringNumerics
from .whole import alone

STEP = 0.1e-3  # m, at most
MAP_REACH = 2e-3
CLEARANCE = 0.3e-3  # least distance of the string's underside from the pole in the map
LOWEST = 0.13e-3  # over a face, m: where fields are needed for the slopes at the least gap
PLAIN = 0.3
"""Of |d/dz ∫ |M||b| dV|: an S above it is no matter of a neighbour's answer, and S₀ is not computed."""
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
        ∂λ/∂y is nan where it was not asked for.
    zz : float
        ∂²λ/∂z², V·s/m².
    rest : StringState
    doubt, doubt_linkage : float
        What the model leaves open of a slope, V·s/m, and of λ, Wb.
    """

    linkage: float
    z: float
    y: float
    zz: float
    rest: StringState
    doubt: float
    doubt_linkage: float

    def times(self, f: float, growing: float) -> Slopes:
        """All slopes f times as large, f itself `growing` with z (1/m); λ as it is."""
        return replace(self, z=f * self.z, y=f * self.y, zz=f * self.zz + growing * self.z, doubt=f * self.doubt)

    @property
    def heard(self) -> bool:
        """Whether the coil hears the string move up and down; where it does not, `z` and `zz` are noise."""
        return abs(self.z) > self.doubt

    @property
    def heard_across(self) -> bool:
        """Whether it hears the string move across."""
        return abs(self.y) > self.doubt

    @property
    def linked(self) -> bool:
        """Whether λ is more than its doubt."""
        return abs(self.linkage) > self.doubt_linkage

    @property
    def gap_slope(self) -> float:
        """d(20 log10 |S|)/dz, dB/m; nan for a string that is not heard."""
        return float(20 / np.log(10)) * self.zz / self.z if self.heard else float("nan")


class RestStencil:
    """The string at rest and at small displacements up and across, ready for several steels."""

    def __init__(self, model: StringModel) -> None:
        s = _STENCIL
        self._step = step_of(model)
        y = model.shape.y + self._step * np.concatenate([0 * s, s[[0, 1, 3, 4]]])
        z = model.shape.axis_height + self._step * np.concatenate([s, 0 * s[:4]])
        self._setting = model.setting(y, z)
        self._up = self._setting.first(s.size)
        self._found: Array | None = None

    @property
    def surface(self) -> Array:
        """B₀ (T) and b (T/A) along the string at rest, averaged round its surface, (6, n + 2)."""
        return np.asarray(self._setting.surface[2])

    def static(self) -> Slopes:
        """λ and its slopes on the static curve."""
        state = self._setting.static()
        self._found = state.axial.h[:_STENCIL.size]
        return _slopes(self._setting, state, None)

    def slope_of(self, layers: tuple[Layer, ...]) -> float:
        """∂λ/∂z on the static curve of other layers of the same radii, V·s/m."""
        return float(_FIRST @ self._up.static(layers, self._found).linkage) / self._step

    def reversible(self, rest: StringState, layers: tuple[Layer, ...] | None = None) -> float:
        """∂λ/∂z for small movements on the steel's reversible slope, V·s/m."""
        return float(_FIRST @ self._up.near(rest, layers).linkage) / self._step


def step_of(model: StringModel) -> float:
    """Between the positions that slopes are taken from, m."""
    return step_over(model.shape, model.pole.face)


def step_over(shape: StringShape, face: float) -> float:
    """The same from the height of the face below."""
    gap = shape.axis_height - shape.outer_radius - face
    return min(STEP, max(gap, LEAST_GAP) / 8) if gap > 0 else STEP


def rest_slopes(model: StringModel) -> Slopes:
    """What :meth:`RestStencil.static` gives, without ∂λ/∂y."""
    y, z = np.full(_STENCIL.size, model.shape.y), model.shape.axis_height + step_of(model) * _STENCIL
    setting = model.setting(y, z)
    return _slopes(setting, setting.static(), None)


def curve_slopes(model: StringModel, heights: Array, begin: Array | None = None) -> Array:
    """∂λ/∂z on the static curve with the axis at heights (k,), m, by the stencil of those at rest; (k,), V·s/m;
    `begin` as of :meth:`.StringSetting.static`."""
    step = step_of(model)
    z = (heights[:, None] + step * _STENCIL).ravel()
    linkage = model.setting(np.full(z.size, model.shape.y), z).static(begin=begin).linkage.reshape(-1, _STENCIL.size)
    return np.asarray(linkage @ _FIRST / step)


def _slopes(setting: StringSetting, state: StringState, layers: tuple[Layer, ...] | None) -> Slopes:
    """Slopes of a string at the positions of the stencil, five up and, perhaps, four more across."""
    step = step_of(setting.model)
    up, gross = state.linkage[:5], state.gross[:5]
    across = np.concatenate([state.linkage[5:7], up[2:3], state.linkage[7:]])
    z, scale = float(_FIRST @ up) / step, abs(float(_FIRST @ gross)) / step
    doubt, doubt_linkage = FIELD_ERROR * scale, FIELD_ERROR * float(gross[2])
    if 0 < abs(z) < PLAIN * scale:
        bare = _unanswered(setting).static(layers).linkage
        doubt += abs(z - float(_FIRST @ bare) / step)
        doubt_linkage += abs(float(up[2] - bare[2]))
    return Slopes(linkage=float(up[2]), rest=state.pick(2), z=z, zz=float(_SECOND @ up) / step**2,
                  y=float(_FIRST @ across) / step if across.size == 5 else float("nan"),
                  doubt=doubt, doubt_linkage=doubt_linkage)


def _unanswered(setting: StringSetting) -> StringSetting:
    """The first five positions of a stencil, up, without the answer of the pole below and without other strings."""
    model = setting.model
    bare = alone(model.field)
    fields = model.fields if bare is model.field else line_fields(bare, model.grid.x, model.shape.slope, model.span)
    model = replace(model, fields=fields, answer=_Silent(model.answer))
    return model.setting(np.full(_STENCIL.size, model.shape.y), model.shape.axis_height + step_of(model) * _STENCIL)


@dataclass(frozen=True)
class _Silent:
    """An answer that is none."""

    of: Answer

    @property
    def across(self) -> Across | None:
        return self.of.across

    def factor(self, x: Array, y: Array, z: Array, mirrored: bool, /) -> Array:
        return self.of.factor(x, y, z, mirrored)

    def gradient(self, x: Array, y: Array, z: Array, mirrored: bool, /) -> tuple[Array, Array]:
        return self.of.gradient(x, y, z, mirrored)

    def matrix(self, mirrored: bool, /) -> Array:
        return np.zeros_like(self.of.matrix(mirrored))


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


def linkage_map(field: StringField, model: StringModel, ny: int = 7, nz: int = 7,
                rest: StringState | None = None) -> LinkageMap:
    """Compute the map on Chebyshev–Lobatto positions about rest, whose state is where the search begins."""
    shape = model.shape
    low = max(shape.axis_height - MAP_REACH, model.pole.face + CLEARANCE + shape.outer_radius)
    low = min(low, shape.axis_height - 0.05e-3)
    high = shape.axis_height + MAP_REACH
    y = shape.y + MAP_REACH * _lobatto(ny)
    z = (low + high) / 2 + (high - low) / 2 * _lobatto(nz)
    room = shape.outer_radius
    span = Span(y=(y[0] - room, y[-1] + room), z=(z[0] - room, z[-1] + room), ny=ny + 2, nz=nz + 2)
    wide = string_model(field, laid_level(field, shape), model.layers, span, model.numerics)
    Y, Z = np.meshgrid(y, z, indexing="ij")
    nodes = wide.grid.x.size - 2  # of a string laid level half of those that it has where it leans
    state = wide.setting(Y.ravel(), Z.ravel()).static(begin=None if rest is None else rest.axial.h[:, -nodes:])
    return LinkageMap(y=y, z=z, linkage=state.linkage.reshape(ny, nz))


def band_over_heights(shapes: list[StringShape], faces: list[float]) -> tuple[float, float]:
    """Lowest and highest height over the top plate at which a string's map needs the fields, m."""
    low = min(max(s.axis_height - MAP_REACH, min(f + CLEARANCE + s.outer_radius, s.axis_height - 0.05e-3))
              - s.outer_radius for s, f in zip(shapes, faces, strict=True))
    high = max(s.axis_height + MAP_REACH + s.outer_radius for s in shapes)
    return low, high


def rest_model(field: StringField, shape: StringShape, layers: tuple[Layer, ...],
               numerics: StringNumerics = SHIPPED) -> StringModel:
    """The string at rest, with its fields tabulated closely about that place."""
    face = field.places[field.nearest(shape.y)].face
    return string_model(field, shape, layers, around(shape, stencil_reach(shape, face)), numerics)


def stencil_reach(shape: StringShape, face: float) -> float:
    """How far about rest the fields are needed for the slopes there, m."""
    return 2.5 * step_over(shape, face)


def level_model(field: StringField, shape: StringShape, layers: tuple[Layer, ...],
                numerics: StringNumerics = SHIPPED) -> StringModel:
    """The same, laid level where it leans so little that λ and its slopes do not mind."""
    return rest_model(field, laid_level(field, shape), layers, numerics)


def _lobatto(n: int) -> Array:
    return np.asarray(-np.cos(np.pi * np.arange(n) / (n - 1)))
