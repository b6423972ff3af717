r"""How the magnets pull a string, and what that does to its pitch.

Force on the string with its magnetisation M held fixed, the pole's answer to the string included::

    F = ∫ (M·∇) B dV = ∇ W,      W = ∫ M·B₀ dV − ½ μ₀ Qᵀ S Q       (gradient with the string's position)

(∇(M·B₀) with M following the field would be 1.2 to 2 times too large.) For the stiffness M does follow::

    k_z = −dF_z/dz,   k_y = −dF_y/dy            N/m; k_z < 0: the pull grows as the string comes closer

The field reaches over some 2 % of the string's length, so k acts as a spring at the pickup, x_p from the
bridge, on mode shapes sin(nπx/L) with the modal stiffness K = ½ μ L ω²::

    Δf/f = ½ k sin²(nπ x_p/L) / K

(first order in k; the exact equation of a string with a point spring is in the tests). μ: kg/m, L: m.
Without memory the steel follows its static curve for F, and in a vibration answers on slopes between the static and
the reversible one; with it F and k are those of a light swing (:mod:`.heard`).

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import StringShape
from stringflux.solver.seam import StringField

from .line_fields import Span
from .linkage import STEP, step_of
from .magnetisation import Layer
from .model import StringModel, string_model
from .numerics import SHIPPED, StringNumerics

_REACH = 1.75 * STEP  # a step between forces that make a stiffness, half a step between energies that make a force
CENT = 2 ** (1 / 1200) - 1


@dataclass(frozen=True, kw_only=True)
class Vibration:
    """What of a string's vibration meets the magnets.

    Attributes
    ----------
    frequency : float
        Of the fundamental, Hz.
    unit_mass, length : float
        kg/m, and the sounding length in m.
    bridge_distance : float
        From the pickup to the bridge, m.
    """

    frequency: float
    unit_mass: float
    length: float
    bridge_distance: float

    def shift(self, stiffness: float, mode: int = 1) -> float:
        """Relative change of a mode's frequency by a spring of `stiffness` N/m at the pickup.

        Examples
        --------
        >>> v = Vibration(frequency=100.0, unit_mass=1e-3, length=0.65, bridge_distance=0.325)
        >>> round(v.shift(-1.0), 6)  # ½ k/K with K = ½ μ L ω²
        -0.003897
        """
        omega = 2 * np.pi * self.frequency * mode
        modal = 0.5 * self.unit_mass * self.length * omega**2
        shape = np.sin(mode * np.pi * self.bridge_distance / self.length)
        return float(0.5 * stiffness * shape**2 / modal)


@dataclass(frozen=True, kw_only=True)
class Pull:
    """Pull of the magnets on one string.

    Attributes
    ----------
    force_y, force_z : float
        On the string at rest, N; negative z is towards the pole.
    stiffness_y, stiffness_z : float
        −dF_y/dy and −dF_z/dz of a light swing, N/m.
    curve_y, curve_z, reversible_y, reversible_z : float
        The same of a steel without memory, on its static curve and on its reversible slope, N/m.
    """

    force_y: float
    force_z: float
    stiffness_y: float
    stiffness_z: float
    curve_y: float
    curve_z: float
    reversible_y: float
    reversible_z: float

    @property
    def softer(self) -> tuple[float, float]:
        """What the memory of the metal makes of the stiffness across and up: parts of those on the curve."""
        return (self.stiffness_y / self.curve_y if self.curve_y else 1.0,
                self.stiffness_z / self.curve_z if self.curve_z else 1.0)


@dataclass(frozen=True, kw_only=True)
class Detuning:
    """What a pull does to the fundamental.

    Attributes
    ----------
    cents_y, cents_z : float
        Shift of the vibration across and of the one up and down.
    split : float
        f_y − f_z, Hz: how often the two beat.
    """

    cents_y: float
    cents_z: float
    split: float


def force(model: StringModel, y: Array, z: Array, moment: Array, across: Array) -> Array:
    """F_y and F_z (2, b) in N on strings at y, z (b,) with moments per length held fixed.

    Parameters
    ----------
    moment : array (b, n)
        Axial, at the inner nodes, A·m.
    across : array (b, 2, n + 2)
        Across and normal, at all nodes, A·m.
    """
    h = step_of(model) / 2  # half of it changes F by less than 1e-3
    out = []
    for dy, dz in ((h, 0.0), (0.0, h)):
        there, back = (model.setting(y + s * dy, z + s * dz).held(moment, across) for s in (1, -1))
        out.append((there - back) / (2 * h))
    return np.stack(out)


def pull_of(model: StringModel) -> Pull:
    """The pull at rest and its stiffness, without memory; the model's fields must reach two steps about its place."""
    y0, z0 = model.shape.y, model.shape.axis_height
    step = step_of(model)
    y = y0 + step * np.array([0.0, 1.0, -1.0, 0.0, 0.0])
    z = z0 + step * np.array([0.0, 0.0, 0.0, 1.0, -1.0])
    setting = model.setting(y, z)
    static = setting.static()
    F = force(model, y, z, static.moment, static.moment_across)
    near = setting.near(static.pick(0))
    G = force(model, y, z, near.moment, near.moment_across)
    (ky, kz), (ry, rz) = _stiffness(F, step), _stiffness(G, step)
    return Pull(force_y=float(F[0, 0]), force_z=float(F[1, 0]), stiffness_y=ky, stiffness_z=kz, curve_y=ky,
                curve_z=kz, reversible_y=ry, reversible_z=rz)


def _stiffness(F: Array, step: float) -> tuple[float, float]:
    return float(-(F[0, 1] - F[0, 2]) / (2 * step)), float(-(F[1, 3] - F[1, 4]) / (2 * step))


def detuning(pull: Pull, vibration: Vibration) -> Detuning:
    """Shift of the fundamental in both polarisations by the stiffness."""
    y, z = vibration.shift(pull.stiffness_y), vibration.shift(pull.stiffness_z)
    return Detuning(cents_y=float(1200 * np.log2(1 + y)), cents_z=float(1200 * np.log2(1 + z)),
                    split=vibration.frequency * (y - z))


def stiffness_over_heights(model: StringModel, heights: Array) -> Array:
    """k_y and k_z (2, b) on the static curve with the axis at each of `heights` (b,), m."""
    z0, y0 = np.asarray(heights), np.full(len(heights), model.shape.y)
    ends = []
    step = step_of(model)
    for dy, dz in ((step, 0.0), (-step, 0.0), (0.0, step), (0.0, -step)):
        y, z = y0 + dy, z0 + dz
        state = model.at(y, z)
        ends.append(force(model, y, z, state.moment, state.moment_across))
    return np.stack([-(ends[0][0] - ends[1][0]), -(ends[2][1] - ends[3][1])]) / (2 * step)


def gap_of_one_cent(field: StringField, shape: StringShape, layers: tuple[Layer, ...], vibration: Vibration,
                    heights: tuple[float, float], numerics: StringNumerics = SHIPPED, count: int = 8,
                    softer: tuple[float, float] = (1.0, 1.0)) -> float:
    """Height of the axis above which the pull shifts the fundamental by less than a cent, either way.

    Parameters
    ----------
    heights : (float, float)
        Where to look, m; the row's fields must be tabulated there.
    numerics : StringNumerics
    count : int
        Places computed; between them log |Δf| goes by a polynomial (12 places move the answer by 5 µm).
    softer : (float, float)
        Parts of the stiffness on the curve, across and up, that the string meets: :attr:`Pull.softer` at rest. They
        fall with the gap, so the answer is on the far side.

    Returns
    -------
    float
        m; −inf if the shift is below a cent everywhere, +inf if above.
    """
    low, high = heights[0] + _REACH + shape.outer_radius, heights[1] - _REACH - shape.outer_radius
    room = _REACH + shape.outer_radius
    span = Span(y=(shape.y - room, shape.y + room), z=(low - room, high + room), nz=14)
    model = string_model(field, shape, layers, span, numerics)
    t = -np.cos(np.pi * (np.arange(count) + 0.5) / count)
    z = (low + high) / 2 + (high - low) / 2 * t
    stiffness = np.array(softer)[:, None] * stiffness_over_heights(model, z)
    shifts = np.array([[vibration.shift(float(k)) for k in row] for row in stiffness])
    worst = np.max(np.abs(shifts), axis=0)
    if not np.any(worst):
        return -np.inf  # nothing pulls
    log = np.log(worst / CENT)
    poly = np.polynomial.Chebyshev.fit(z, log, count - 1, domain=[low, high])
    return _root(lambda h: float(poly(h)), float(z[0]), float(z[-1]))


def _root(excess: Callable[[float], float], low: float, high: float) -> float:
    """Where a falling function passes zero."""
    if excess(low) < 0:
        return -np.inf
    if excess(high) > 0:
        return np.inf
    return float(brentq(excess, low, high, xtol=1e-7))
