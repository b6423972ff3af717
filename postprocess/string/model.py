"""One string over a solved row: its magnetisation and its flux linkage at any position.

The linkage is the string's own part, by reciprocity::

    λ(y, z) = ∫ M·b dV over the string,     b = field of the coil at one ampere, poles in place

(all turns; the static flux of the magnets is another, far larger number and does not move with the
string). Axial parts use fields averaged round the surface, where the charge sits; the part across uses the
mean over the section. The pole's answer to the string's axial *and* transverse magnetisation is always on.

The charge sits on the outside: of a plain string, or just below the crests of a magnetic wrap, core and wrap
together (:func:`.layers.charge_radius`). A core under a wrap that is not magnetic keeps its own surface.

References
----------
Derived here.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, replace

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import SolveError
from stringflux.geometry.reading.check_strings import LEAST_GAP
from stringflux.geometry.shapes.row import StringShape
from stringflux.solver.constants import MU0
from stringflux.solver.seam import Answer, Place, StringField

from .grid import StringGrid, self_potential, string_grid
from .layers import charge_radius
from .line_fields import LineFields, Span, line_fields
from .magnetisation import ROUGH, TOLERANCE, AxialState, Layer, across_factor, solve_reversible, solve_static
from .numerics import SHIPPED, StringNumerics

LEVEL = 0.018
"""Slope under which a string is laid level for its swings and its map: at 0.0175 (1°) S of a swing over that on the
curve differs by up to 1.2e-4, λ by up to 1.8e-4, both as the square of the slope."""


@dataclass(frozen=True, kw_only=True, eq=False)
class StringState:
    """A string at b positions.

    Attributes
    ----------
    linkage : array (b,)
        λ in Wb, all turns.
    gross : array (b,)
        ∫ |M||b| dV, what λ would be if nothing in it cancelled, Wb.
    axial : AxialState
    across : array (b, 2, n + 2)
        Field across the string as it acts on it, y and normal, A/m.
    moment : array (b, n)
        Axial moment per length of all layers at the inner nodes, A·m.
    moment_across : array (b, 2, n + 2)
        Moment per length across the string, y and normal, A·m.
    """

    linkage: Array
    gross: Array
    axial: AxialState
    across: Array
    moment: Array
    moment_across: Array

    def pick(self, i: int) -> StringState:
        """Position i alone (b = 1)."""
        one = slice(i, i + 1)
        axial = AxialState(h=self.axial.h[one], m=self.axial.m[:, one], steps=self.axial.steps)
        return StringState(linkage=self.linkage[one], gross=self.gross[one], axial=axial, across=self.across[one],
                           moment=self.moment[one], moment_across=self.moment_across[one])


@dataclass(frozen=True, kw_only=True, eq=False)
class Outside:
    """What acts on a string at b positions but its own charges, the pole's answer to its part across included.

    Attributes
    ----------
    along : array (b, n)
        Axial field at the inner nodes, A/m.
    across : array (b, 2, n + 2)
        Field across, y and normal, A/m.
    drive : array (b, k)
        What the part across excites in the pole's modes.
    """

    along: Array
    across: Array
    drive: Array


@dataclass(frozen=True, kw_only=True, eq=False)
class StringModel:
    """A string, its grid and the tabulated fields."""

    shape: StringShape
    grid: StringGrid
    layers: tuple[Layer, ...]
    fields: LineFields
    pole: Place
    answer: Answer
    radius: float  # where the charges sit, m
    field: StringField
    span: Span
    numerics: StringNumerics = SHIPPED

    def setting(self, y: Array, z: Array) -> StringSetting:
        """Everything at positions y, z (b,) of the axis that does not depend on the steel's curve."""
        return StringSetting(self, y, z)

    def at(self, y: Array, z: Array) -> StringState:
        """Follow the steel's static curve to positions y, z (b,)."""
        return self.setting(y, z).static()


def string_model(field: StringField, shape: StringShape, layers: tuple[Layer, ...], span: Span,
                 numerics: StringNumerics = SHIPPED) -> StringModel:
    """Set a string over a solved row.

    Parameters
    ----------
    field : StringField
    shape : StringShape
    layers : tuple of Layer
        Core first, then the wrap if it is magnetic.
    span : Span
        Positions to cover; it is widened by the string's radius.
    numerics : StringNumerics
    """
    index = field.nearest(shape.y)
    pole = field.places[index]
    clear = max(shape.axis_height - shape.outer_radius - pole.face, LEAST_GAP)
    grid = string_grid(clear, numerics.reach, mirrored=field.mirrored and shape.slope == 0.0, refine=numerics.refine,
                       edge=pole.radius)
    return StringModel(
        shape=shape, grid=grid, layers=layers, pole=pole, answer=field.answers[index],
        fields=line_fields(field, grid.x, shape.slope, span),
        radius=charge_radius(shape, layers), field=field, span=span, numerics=numerics,
    )


def laid_level(field: StringField, shape: StringShape) -> StringShape:
    """The string level over the bodies, where it leans by less than :data:`LEVEL` and they are mirrored along it: λ
    over its place is even in the lean, and half of a level string stands for all of it."""
    return replace(shape, slope=0.0) if field.mirrored and abs(shape.slope) < LEVEL else shape


def around(shape: StringShape, reach: float) -> Span:
    """The box of ± reach about the rest position, with room for the averages round the surface."""
    room = reach + shape.outer_radius
    return Span(y=(shape.y - room, shape.y + room),
                z=(shape.axis_height - room, shape.axis_height + room))


class StringSetting:
    """Fields and kernels of one string at b positions."""

    def __init__(self, model: StringModel, y: Array, z: Array) -> None:
        self.model = model
        g, shape = model.grid, model.shape
        centre = model.fields.at(y, z)
        self.surface = model.fields.averaged(y, z, model.radius)
        self.axial = g.averaged(self.surface[:, [0, 3]])  # along, of B₀ and of b, (b, 2, n + 2)
        section = (centre + self.surface) / 2  # mean over the section: half way between axis and surface
        self.across0, self.across_b = section[:, 1:3] / MU0, section[:, 4:6]  # H₀ and b, y and normal
        x, mid = g.x, g.middle
        py, pz = y[:, None] - model.pole.y, z[:, None] - model.pole.face

        def place(along: Array) -> tuple[Array, Array, Array]:
            X, Y, Z = np.broadcast_arrays(along, py, pz + shape.slope * along)
            return X, Y, Z

        self.S = model.answer.matrix(g.mirrored)
        self.F = model.answer.factor(*place(mid), g.mirrored)
        self.FS = self.F @ self.S
        self.Fy, self.Fz = model.answer.gradient(*place(x), g.mirrored)
        answered = self.FS @ np.swapaxes(self.F, -1, -2)
        potential = self_potential(g, model.radius) + answered
        _refuse_indefinite(potential, model.shape.y)
        self._kernel = g.field_of(potential)

    def first(self, n: int) -> StringSetting:
        """The first n of its positions."""
        out = copy(self)
        for name in ("surface", "axial", "across0", "across_b", "F", "FS", "Fy", "Fz", "_kernel"):
            setattr(out, name, getattr(self, name)[:n])
        return out

    def static(self, layers: tuple[Layer, ...] | None = None, begin: Array | None = None) -> StringState:
        """The string on the static curve of its layers (of others with the same radii); `begin` is an axial field, of
        another such state, to begin the search with."""
        return self._settle(layers or self.model.layers, None, begin=begin)

    def outside(self, begin: Array | None = None) -> Outside:
        """What acts from outside in the last of the passes that :meth:`static` makes."""
        layers = self.model.layers
        before = self._settle(layers, None, begin=begin, without=1) if self.model.numerics.passes > 1 else None
        across = self.across0 if before is None else before.across
        drive = self._dipole_modes(_across_moment(layers, across, None if before is None else before.axial, None))
        return Outside(along=self.axial[:, 0, 1:-1] / MU0 + self._answered(drive), across=across, drive=drive)

    @property
    def kernel(self) -> Array:
        """Axial field at the inner nodes per moment there, the pole's answer included, (b, n, n), 1/m²."""
        return self._kernel

    def near(self, rest: StringState, layers: tuple[Layer, ...] | None = None,
             current: float = 0.0) -> StringState:
        """Small movements about a rest state (b = 1) on the reversible slope, with `current` A in the coil."""
        return self._settle(layers or self.model.layers, rest, current)

    def held(self, moment: Array, across: Array) -> Array:
        """∫ M·B₀ dV − ½ μ₀ Qᵀ S Q, J, at every position for magnetisations held fixed, (b,).

        Q is what the string's charges and dipoles give to the pole's modes, so the second term is the pole's
        answer to the string itself. The gradient with the position is the force.
        moment : (n,) or (b, n);  across : (2, n + 2) or (b, 2, n + 2), in A·m.
        """
        g = self.model.grid
        b = len(self.surface)
        moment = np.broadcast_to(moment, (b, g.x.size - 2))
        across = np.broadcast_to(across, (b, 2, g.x.size))
        work = (np.einsum("n,bcn,bcn->b", g.weight, across, MU0 * self.across0)
                + np.einsum("n,bn,bn->b", g.weight[1:-1], moment, self.axial[:, 0, 1:-1]))
        Q = self.modes(moment, across)
        own = np.einsum("bk,kl,bl->b", Q, self.S, Q)
        return np.asarray(work - (MU0 if g.mirrored else MU0 / 2) * own)

    def modes(self, moment: Array, across: Array) -> Array:
        """Q (b, k): the pole's mode coefficients of the string's charges and dipoles (half of a mirrored one)."""
        charge = -np.diff(np.pad(moment, ((0, 0), (1, 1))))
        return np.asarray(np.einsum("bsk,bs->bk", self.F, charge) + self._dipole_modes(across))

    def _dipole_modes(self, across: Array) -> Array:
        g = self.model.grid
        moment = across * (g.weight / (2.0 if g.mirrored else 1.0))
        return np.asarray(np.einsum("bnk,bn->bk", self.Fy, moment[:, 0])
                          + np.einsum("bnk,bn->bk", self.Fz, moment[:, 1]))

    def _answered(self, drive: Array) -> Array:
        """Axial field (b, n) of the pole's modes that are excited so (b, k), A/m."""
        ell = np.diff(self.model.grid.x)
        phi = np.einsum("bsk,bk->bs", self.FS, drive)
        return np.asarray((phi[:, :-1] - phi[:, 1:]) / ((ell[:-1] + ell[1:]) / 2))

    def _settle(self, layers: tuple[Layer, ...], rest: StringState | None, current: float = 0.0,
                begin: Array | None = None, without: int = 0) -> StringState:
        """Axial magnetisation and the field across, the pole's answer to both included; `without` so many passes."""
        g = self.model.grid
        own_field = (self.axial[:, 0, 1:-1] + current * self.axial[:, 1, 1:-1]) / MU0
        free = self.across0 + (current / MU0) * self.across_b
        across = free
        state: AxialState | None = None
        about = None if rest is None else _reversible_moment(layers, rest)
        for left in reversed(range(without, self.model.numerics.passes)):
            drive = self._dipole_modes(_across_moment(layers, across, state, about))
            h0 = own_field + self._answered(drive)
            if rest is None:
                modulus = np.hypot(across[:, 0], across[:, 1])[:, 1:-1]
                state = solve_static(layers, self._kernel, h0, modulus, begin if state is None else state.h,
                                     ROUGH if left else TOLERANCE)
            else:
                state = solve_reversible(layers, self._kernel, h0, rest.axial)
            total = np.tensordot([layer.area for layer in layers], state.m, 1)
            charge = -np.diff(np.pad(total, ((0, 0), (1, 1))))
            answer = (np.einsum("bsk,bs->bk", self.F, charge) + drive) @ self.S
            across = free - np.stack(
                [np.einsum("bnk,bk->bn", f, answer) for f in (self.Fy, self.Fz)], axis=1)
        if state is None:
            raise ValueError("at least one pass is needed")
        moment = _across_moment(layers, across, state, about)
        linkage = np.einsum("n,bcn,bcn->b", g.weight, moment, self.across_b)
        linkage = linkage + np.einsum("n,bn,bn->b", g.weight[1:-1], total, self.axial[:, 1, 1:-1])
        gross = np.einsum("n,bn,bn->b", g.weight, _modulus(np.pad(total, ((0, 0), (1, 1))), moment),
                          _modulus(self.axial[:, 1], self.across_b))
        return StringState(linkage=linkage, gross=gross, axial=state, across=across, moment=total,
                           moment_across=moment)


def _modulus(along: Array, across: Array) -> Array:
    """Of vectors with a part along (b, n + 2) and two across (b, 2, n + 2)."""
    return np.asarray(np.sqrt(along**2 + np.sum(across**2, axis=1)))


def _refuse_indefinite(potential: Array, y: float) -> None:
    """The energy ½ qᵀΦq of a string's charges with the bodies' answer is positive, whatever they are.

    Raises
    ------
    SolveError
    """
    try:
        np.linalg.cholesky(potential)
    except np.linalg.LinAlgError as error:
        raise SolveError(
            f"string at y = {y * 1e3:.1f} mm: the answer of the bodies below to its own field is larger than that "
            "field, so there is no state of it; raise the string, or try --solver solid or another --quality"
        ) from error


def _across_moment(layers: tuple[Layer, ...], across: Array, state: AxialState | None,
                   reversible: tuple[Array, Array] | None) -> Array:
    """Moment per length across the string, (b, 2, n + 2), A·m: on the static curve, or constant and slope."""
    if reversible is None:
        return _static_moment(layers, across, state)
    constant, slope = reversible
    return np.asarray(constant + slope * across)


def _reversible_moment(layers: tuple[Layer, ...], rest: StringState) -> tuple[Array, Array]:
    """Its constant, (1, 2, n + 2), and its slope with the field across, (1, 1, n + 2), about a rest state."""
    slope = np.zeros_like(rest.across[:, :1])
    for i, layer in enumerate(layers):
        chi = layer.law.reversible(np.pad(np.abs(rest.axial.m[i]), ((0, 0), (1, 1)), mode="edge"))
        slope = slope + layer.area * (chi / (1 + chi / 2))[:, None]
    return rest.moment_across - slope * rest.across, slope


def _static_moment(layers: tuple[Layer, ...], across: Array, state: AxialState | None) -> Array:
    modulus = np.hypot(across[:, 0], across[:, 1])
    h = np.zeros_like(modulus)
    if state is not None:
        h[:, 1:-1] = state.h
    total = np.zeros_like(modulus)
    for layer in layers:
        total = total + layer.area * across_factor(layer.law, h, modulus)
    return np.asarray(total[:, None] * across)
