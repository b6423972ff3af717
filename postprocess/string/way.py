"""A string's fields and kernels at any place on a straight way through its rest, up and down or sideways.

All of a :class:`.model.StringSetting` is smooth in the string's place, so it is computed at a few Chebyshev places
(in ln of the height over the face, as :mod:`.lattice`) and what stands between them is a small matrix product. The
pole's answer to the string's part across, which hardly knows of the metal's memory, is taken on the static curve: all
but the last pass of :meth:`.model.StringSetting.static`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.solver.interpolation import barycentric, chebyshev

from .grid import StringGrid
from .model import StringModel

_LEFT_OUT = 1e-8  # of what stands between the places


@dataclass(frozen=True, kw_only=True, eq=False)
class Stand:
    """What acts on a string at b places.

    Attributes
    ----------
    outside, across : arrays (b, n)
        Axial field at the inner nodes but that of the string's charges, and modulus of the field across, A/m.
    kernel : array (b, n, n)
        Axial field per moment, 1/m².
    """

    outside: Array
    across: Array
    kernel: Array


@dataclass(frozen=True, kw_only=True, eq=False)
class Listening:
    """What is needed for λ at b places.

    Attributes
    ----------
    left : array (b, 2, n + 2)
        Field across without the answer to the string's axial charges, A/m.
    answered : array (b, 2, n + 2, n + 1)
        What those charges take away of it, 1/m².
    along, across : arrays (b, n), (b, 2, n + 2)
        b of the coil, T/A.
    """

    left: Array
    answered: Array
    along: Array
    across: Array


class Way:
    """A string's places between `low` and `high`, m from its rest.

    Parameters
    ----------
    model : StringModel
        With fields that reach as far, and the string's radius further.
    sideways : bool
        Across the strings in place of up and down.
    begin : array, optional
        As of :meth:`.StringSetting.static`.
    """

    def __init__(self, model: StringModel, low: float, high: float, *, sideways: bool = False,
                 begin: Array | None = None) -> None:
        self.grid: StringGrid = model.grid
        self.low, self.high = low, high
        self._sideways, self._rest = sideways, model.shape.axis_height
        self._floor = model.fields.near.floor
        ends = self._coordinate(np.array([low, high]))
        # sideways the fields may change within the height over the face; up and down as in line_fields
        out = 2 * (self._rest - self._floor) / (high - low) if sideways else np.pi / float(ends[1] - ends[0])
        count = max(5, int(np.ceil(-np.log(_LEFT_OUT) / np.log(out + np.hypot(out, 1.0)))))
        self._nodes = chebyshev(float(ends[0]), float(ends[1]), count)
        moved = self._nodes if sideways else self._floor + np.exp(self._nodes) - self._rest
        y = model.shape.y + (moved if sideways else 0 * moved)
        z = model.shape.axis_height + (0 * moved if sideways else moved)
        setting = model.setting(y, z)
        outside = setting.outside(begin)
        answer = outside.drive @ setting.S
        gradients = np.stack([setting.Fy, setting.Fz], axis=1)
        self._standing = outside.along, outside.across[..., 1:-1], setting.kernel
        self._listening = (
            setting.across0 - np.einsum("bcnk,bk->bcn", gradients, answer),
            (gradients @ setting.S) @ np.swapaxes(setting.F, -1, -2)[:, None],
            setting.axial[:, 1, 1:-1], setting.across_b,
        )

    def stand(self, moved: Array) -> Stand:
        """The string at places `moved` (b,) m from its rest."""
        outside, across, kernel = self._between(moved, self._standing)
        return Stand(outside=outside, across=np.hypot(across[:, 0], across[:, 1]), kernel=kernel)

    def listening(self, moved: Array) -> Listening:
        """What the coil hears there."""
        left, answered, along, across = self._between(moved, self._listening)
        return Listening(left=left, answered=answered, along=along, across=across)

    def _between(self, moved: Array, tables: tuple[Array, ...]) -> list[Array]:
        share = barycentric(self._nodes, self._coordinate(moved))
        return [np.tensordot(share, table, 1) for table in tables]

    def _coordinate(self, moved: Array) -> Array:
        return moved if self._sideways else np.log(self._rest + moved - self._floor)
