"""What can be made: limits of a search, dimensionless and ≥ 0 where they are kept, and what a shape comes to."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError
from stringflux.geometry.shapes.profiles import Edge

from .profile import ProfileCurve

_ROUND = 1e-5  # relative: what a search leaves, far below what can be measured


class FormKind(Protocol):
    """What limits see of a family of shapes, of poles or of a body."""

    @property
    def curve(self) -> ProfileCurve | None:
        """Of a free profile."""

    def turned(self, p: Array, step: float, lean: float = 0.0, /) -> tuple[Array, Edge]:
        """Lengths in whole steps, leant by so many, and the edge that makes; of a body none."""

    def volume(self, p: Array, turned: Edge | None = None, /) -> float:
        """m³."""

    def depth(self, p: Array, turned: Edge | None = None, /) -> float:
        """From the highest point of what is cut to its lowest, m."""

    def bends(self, p: Array, /) -> Array:
        """Curvatures that a smallest radius holds for, 1/m."""


@dataclass(frozen=True, kw_only=True)
class Making:
    """Limits of the workshop.

    Attributes
    ----------
    least_radius : float
        Smallest radius of curvature of the curve, hollow or not, m. Corners of a bevel and the rim are corners.
    step : float
        Of the lathe's dials, in radius and height, m.
    least_volume, most_volume : float
        Of the whole pole, m³.
    deepest : float
        How far the tip may be cut below its highest point, m.
    """

    least_radius: float = 0.5e-3
    step: float = 0.05e-3
    least_volume: float = 0.0
    most_volume: float = np.inf
    deepest: float = 2e-3

    def __post_init__(self) -> None:
        for name, most in (("least_radius", 20e-3), ("step", 0.5e-3), ("deepest", 20e-3)):
            if not 0 <= getattr(self, name) <= most:
                raise CaseError(f"{name}: received {getattr(self, name):g} m; write 0 to {most:g} m")
        if self.step == 0:
            raise CaseError("step: received 0 m; write a length above 0")
        if not 0 <= self.least_volume < self.most_volume:
            raise CaseError(f"least_volume: received {self.least_volume:g} m³; write 0 or more, and below "
                            f"most_volume, {self.most_volume:g} m³")


@dataclass(frozen=True, kw_only=True)
class MadeShape:
    """What a shape comes to.

    Attributes
    ----------
    radius : float
        Smallest radius of curvature, m; inf where there is no curve.
    volume : float
        m³.
    depth : float
        From the highest point of the tip to its lowest, m.
    """

    radius: float
    volume: float
    depth: float


def made(form: FormKind, p: Array) -> MadeShape:
    """What the curve at p comes to, before the lathe's steps."""
    bend = np.max(np.abs(form.bends(p)), initial=0.0)
    return MadeShape(radius=float(1 / bend) if bend > 0 else np.inf, volume=form.volume(p), depth=form.depth(p))


def turned(form: FormKind, making: Making, p: Array) -> tuple[Array, Edge, MadeShape, bool]:
    """Lengths and edge in the lathe's steps, what they come to, and whether that keeps the limits.

    Rounded to the nearest step if that keeps them; else leant to one side or the other, if one of those does.
    """
    nearest = None
    for lean in (0.0, -0.5, 0.5):
        lengths, edge = form.turned(p, making.step, lean)
        comes = MadeShape(radius=made(form, lengths).radius, volume=form.volume(lengths, edge),
                          depth=form.depth(lengths, edge))
        kept = (making.least_volume * (1 - _ROUND) <= comes.volume <= making.most_volume * (1 + _ROUND)
                and comes.depth <= making.deepest + _ROUND * making.step
                and comes.radius >= making.least_radius * (1 - _ROUND))
        if nearest is None or kept:
            nearest = (lengths, edge, comes, kept)
        if kept:
            break
    if nearest is None:
        raise ValueError("at least one way to round is needed")
    return nearest


def limits(form: FormKind, making: Making) -> Callable[[Array], Array]:
    """g(p) ≥ 0 where all limits are kept."""

    def g(p: Array) -> Array:
        parts = [1 - making.least_radius * sign * form.bends(p) for sign in (1, -1)]
        if form.curve is not None:
            z = form.curve.between(p) / making.deepest
            parts += [-z, 1 + z]  # nowhere over the face: the strings' gap; nowhere too deep
        if making.least_volume > 0 or np.isfinite(making.most_volume):  # of a body it takes its whole case: 0.05 s
            size = form.volume(p)
            parts += [np.array([size / making.least_volume - 1])] if making.least_volume > 0 else []
            parts += [np.array([1 - size / making.most_volume])] if np.isfinite(making.most_volume) else []
        return np.concatenate(parts)

    return g
