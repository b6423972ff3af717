"""The plane through the axis of a coil that a magnet passes, as shapes of a moving picture.

The eye is at negative y, x to the right: counter-clockwise turns, seen from above, go away from it on the right.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.keys import sense_of
from stringflux.geometry.demonstrations.falling import FallingMagnet

from ..falling.passage import Passage
from .moving import Motion, Role, Shape, View, box, label

FRAMES = 201


@dataclass(frozen=True, kw_only=True, eq=False)
class FallingLines:
    """Field lines.

    Attributes
    ----------
    sets : tuple of tuple of arrays (2, k)
        About the magnet's middle, one set; or with a core one for each of `places`, m.
    places : array (k,), optional
        Heights of the magnet's middle, ascending, m.
    """

    sets: tuple[tuple[Array, ...], ...]
    places: Array | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class Frames:
    """The part of a passage in which the magnet is in the picture, evenly spaced in time; arrays (n,), SI."""

    time: Array
    z: Array
    flux: Array
    linkage: Array
    e: Array


def window(case: FallingMagnet) -> tuple[float, float, float, float]:
    """u from, u to, z from, z to, m."""
    wide = 0.9 * case.coil.outer_diameter + 0.25 * case.magnet.diameter
    half = max(case.coil.length / 2 + 1.7 * case.magnet.length, 1.1 * wide)
    low, high = -half, half
    if case.core is not None:
        high = max(half, case.nearest + 1.6 * case.magnet.length)
        low = min(-0.8 * case.coil.length, case.core_top - case.core.length - 0.2 * wide)
        wide = max(wide, 0.32 * (high - low))
    return -wide, wide, low, high


def frames(case: FallingMagnet, found: Passage) -> Frames:
    """From when the magnet comes into the picture until it has left it."""
    low, high = window(case)[2:]
    half = case.magnet.length / 2
    seen = np.flatnonzero((found.z < high + half) & (found.z > low - half))
    time = np.linspace(found.t[seen[0]], found.t[seen[-1]], FRAMES)
    z, linkage, e = (np.interp(time, found.t, series) for series in (found.z, found.linkage, found.e))
    return Frames(time=time, z=z, flux=linkage / found.turns, linkage=linkage, e=e)


def view(case: FallingMagnet, shown: Array, lines: FallingLines, title: str = "", way: int = 0) -> View:
    """The picture with the magnet's middle at heights (n,) at every time.

    Parameters
    ----------
    way : int
        What the winding's signs say: 0 which way counts positive, ±1 which way a current would flow, seen from above
        counter-clockwise positive.
    """
    motion = Motion.of(shown.size, z=shown)
    carried: Motion | None
    if lines.places is None:
        phase, carried = np.zeros(shown.size, dtype=np.int64), motion
    else:
        phase, carried = np.abs(shown[:, None] - lines.places).argmin(axis=1), None
    return View(title=title, window=window(case), shapes=(*_standing(case, way), *_magnet(case, motion)),
                lines=lines.sets, phase=phase, carried=carried)


def _standing(case: FallingMagnet, way: int) -> list[Shape]:
    coil, tube, out = case.coil, case.tube, []
    sense = way or sense_of(coil.winding)
    for side in (1, -1):
        away = side * sense > 0
        out.append(Shape(role="into" if away else "out", label="⊗" if away else "⊙", outline=_cut(
            side, coil.inner_diameter / 2, coil.outer_diameter / 2, -coil.length / 2, coil.length / 2)))
        if tube is not None:
            out.append(Shape(role="copper", outline=_cut(
                side, tube.inner_diameter / 2, tube.outer_diameter / 2, tube.upper - tube.length, tube.upper)))
    if case.core is not None:
        r = case.core.diameter / 2
        out.append(Shape(role="steel", outline=box(-r, case.core_top - case.core.length, r, case.core_top)))
    return out


def _cut(side: int, inner: float, outer: float, low: float, high: float) -> Array:
    """What the plane cuts of a ring, on one side of the axis."""
    left, right = sorted((side * inner, side * outer))
    return box(left, low, right, high)


def _magnet(case: FallingMagnet, motion: Motion) -> list[Shape]:
    r, half = case.magnet.diameter / 2, case.magnet.length / 2
    up, down = ("S", "N") if case.magnet.down == "north" else ("N", "S")
    roles: dict[str, Role] = {"N": "north", "S": "south"}
    return [Shape(role=roles[up], outline=box(-r, 0.0, r, half), motion=motion),
            Shape(role=roles[down], outline=box(-r, -half, r, 0.0), motion=motion),
            label(up, 0.0, half / 2, motion), label(down, 0.0, -half / 2, motion)]
