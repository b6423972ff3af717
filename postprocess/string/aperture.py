r"""The aperture: over which length of a string the coil listens.

For a small bend u(x) of the string about its rest, up (or across)::

    δλ = ∫ w(x) u(x) dx
    w  = −b_z dP/dx − B_z dP_b/dx + m·∂_z b + m_b·∂_z B + d/dx(m_n b_x + m_b,n B_x)

P, m: the string's moment per length at rest, along and across (A·m). P_b, m_b: its answer to the coil's field b
per ampere in the wire (m). The string's linear operator is symmetric, so this one answer stands for every change
of the magnetisation that a bend can make. B and b here are what acts on the string from outside: magnets and
coil, with the pole's answer to P, m and to P_b, m_b. The last term is the tilt of a bent string: its part across
turns with it. Left out is what the string's charges make across a *curved* string. It vanishes for every straight one
and would add 0.13 % at half-waves of 20 mm and 0.24 % at 15 mm (∅ 0.43 mm; 0.4 and 0.75 % for ∅ 1 mm).

Small motions run on the steel's reversible slope, so P_b is taken on it: ∫ w dx = ∂λ/∂z of that slope.
Checked in the tests against a bent string that goes through everything else.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.solver.constants import MU0

from .grid import StringGrid
from .magnetisation import Layer
from .model import StringModel, StringSetting

_STEP = 0.05e-3  # between fields whose difference is a gradient, m


@dataclass(frozen=True, kw_only=True, eq=False)
class Aperture:
    """Weights along one string.

    Attributes
    ----------
    x : array (n,)
        Nodes along the string, both halves, m; 0 is over the row.
    up, across : arrays (n,)
        w(x) for a bend up and across, V·s/m².
    length : array (n,)
        What each node stands for, m: ∫ f dx = Σ length · f.
    """

    x: Array
    up: Array
    across: Array
    length: Array

    @property
    def slope_z(self) -> float:
        """∫ w dx = ∂λ/∂z for small motions, V·s/m."""
        return float(self.length @ self.up)

    @property
    def slope_y(self) -> float:
        """∂λ/∂y for small motions, V·s/m."""
        return float(self.length @ self.across)

    @property
    def sideways(self) -> bool:
        """Whether motion across is heard louder than up and down, as midway between poles of opposite polarity."""
        return abs(self.slope_y) > abs(self.slope_z)

    @property
    def main(self) -> Array:
        """w of the motion that is heard louder (n,)."""
        return self.across if self.sideways else self.up

    @property
    def one_sided(self) -> float:
        """|∫ w dx| over ∫ |w| dx: 1 where all of the string counts with one sign, 0 where its parts cancel."""
        return float(abs(self.length @ self.main) / (self.length @ np.abs(self.main)))

    def mean(self, shape: Callable[[Array], Array]) -> Array:
        """Mean of a displacement over the aperture, ∫ w φ dx / ∫ w dx, w of the motion that is heard louder.

        Parameters
        ----------
        shape : callable
            φ at places x (n,): (…, n).
        """
        return np.asarray(shape(self.x) @ (self.length * self.main) / (self.length @ self.main))


def aperture(model: StringModel, layers: tuple[Layer, ...] | None = None) -> Aperture:
    """Weights of a string at rest.

    Parameters
    ----------
    model : StringModel
        With fields that reach 0.1 mm about its place.
    layers : tuple of Layer, optional
        With another reversible slope.
    """
    h = _STEP
    y = model.shape.y + h * np.array([0.0, 1.0, -1.0, 0.0, 0.0])
    z = model.shape.axis_height + h * np.array([0.0, 0.0, 0.0, 1.0, -1.0])
    rest = model.at(y[:1], z[:1])
    here = model.setting(y[:1], z[:1])
    idle, driven = (here.near(rest, layers, current=current) for current in (0.0, 1.0))
    setting = model.setting(y, z)
    own = _Part(setting, idle.moment[0], idle.moment_across[0])
    answer = _Part(setting, driven.moment[0] - idle.moment[0], driven.moment_across[0] - idle.moment_across[0])
    field, coil = _External(model, setting, own, bias=True), _External(model, setting, answer, bias=False)
    weights = []
    for axis in (1, 0):  # normal, then across
        w = _weight(model.grid, own, coil, axis) + _weight(model.grid, answer, field, axis)
        weights.append(w)
    x, length = model.grid.x, model.grid.weight
    if model.grid.mirrored:
        x, length = np.concatenate([-x[:0:-1], x]), np.concatenate([length[:0:-1] / 2, length[:1], length[1:] / 2])
        weights = [np.concatenate([w[:0:-1], w]) for w in weights]
    return Aperture(x=x, up=weights[0], across=weights[1], length=length)


class _Part:
    """Moments per length of the string: of its rest, or of its answer to the coil."""

    def __init__(self, setting: StringSetting, along: Array, across: Array) -> None:
        self.along, self.across = along, across
        modes = setting.modes(along[None], across[None] * np.ones((len(setting.surface), 1, 1)))
        self.answered = modes[0] @ setting.S  # the pole's modes, as the string at rest excites them


class _External:
    """B₀ or b about the string with the pole's answer to what goes with it, at five positions."""

    def __init__(self, model: StringModel, setting: StringSetting, part: _Part, *, bias: bool) -> None:
        first = 0 if bias else 3
        phi = setting.F[0] @ part.answered
        ell = np.diff(model.grid.x)
        along = setting.surface[0, first].copy()
        along[1:-1] += MU0 * (phi[:-1] - phi[1:]) / ((ell[:-1] + ell[1:]) / 2)
        self.along = along
        at_nodes = MU0 * np.stack([setting.Fy @ part.answered, setting.Fz @ part.answered], axis=1)
        sections = MU0 * setting.across0 if bias else setting.across_b
        self.across = sections - at_nodes  # (5, 2, n + 2), mean over the section
        self.round = setting.surface[0, first + 1:first + 3] - at_nodes[0]  # where the charges sit, (2, n + 2)


def _weight(grid: StringGrid, part: _Part, field: _External, axis: int) -> Array:
    """The terms of w that hold `part`'s moments, at the nodes of the grid."""
    weight = np.zeros_like(grid.x)
    charge = -np.diff(np.pad(part.along, (1, 1)))
    b = (field.round[axis, 1:] + field.round[axis, :-1]) / 2
    weight[:-1] += charge * b / 2  # the charge of a segment moves with both its ends
    weight[1:] += charge * b / 2
    weight /= grid.weight / (2.0 if grid.mirrored else 1.0)
    there, back = (1, 2) if axis == 0 else (3, 4)
    gradient = (field.across[there] - field.across[back]) / (2 * _STEP)
    tilt = np.gradient(part.across[axis] * field.along, grid.x)
    return np.asarray(weight + np.sum(part.across * gradient, axis=0) + tilt)
