"""Checks on a changing shape: its gradient by differences, and how far its figures scatter with the mesh."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array

from .problem import ShapeProblem


def differences(problem: ShapeProblem, p: Array, figures: Sequence[str] = ("sensitivity",),
                step: float = 2e-6) -> dict[str, Array]:
    """Gradients by central differences of `step` m: 2 k values, slow, for checks only."""
    p = np.asarray(p, dtype=float)
    rows = []
    for one in np.eye(p.size):
        up, down = (problem.value(p + sign * step * one) for sign in (1.0, -1.0))
        rows.append([(up[name] - down[name]) / (2 * step) for name in figures])
    return {name: np.array(rows)[:, i] for i, name in enumerate(figures)}


@dataclass(frozen=True, kw_only=True, eq=False)
class Noise:
    """How smooth a figure is along a line of designs.

    Attributes
    ----------
    scatter : float
        Root mean square distance from a smooth curve through the values, SI.
    range : float
        How far the figure moves along the line, SI.
    steps, values : arrays (n,)
        Places along the line, m, and the figure there.
    """

    scatter: float
    range: float
    steps: Array
    values: Array

    @property
    def share(self) -> float:
        """Scatter as a part of the range."""
        return self.scatter / self.range


def noise(problem: ShapeProblem, p: Array, direction: Array | None = None, *, figure: str = "sensitivity",
          reach: float = 0.1e-3, count: int = 17, degree: int = 6) -> Noise:
    """Follow a figure along a line of shapes.

    Parameters
    ----------
    p : array (k,)
        Middle of the line, m.
    direction : array (k,), optional
        Its largest entry counts; all parameters alternately up and down if left out.
    reach : float
        How far the largest entry goes each way, m.
    degree : int
        Of the polynomial that the values are held against.
    """
    p = np.asarray(p, dtype=float)
    line = np.where(np.arange(p.size) % 2 == 0, 1.0, -0.5) if direction is None else np.asarray(direction, float)
    line = line / np.max(np.abs(line))
    s = np.linspace(-1.0, 1.0, count)
    values = np.array([problem.value(p + reach * x * line)[figure] for x in s])
    smooth = np.polynomial.Polynomial.fit(s, values, degree)(s)
    free = count - degree - 1
    return Noise(scatter=float(np.sqrt(np.sum((values - smooth) ** 2) / free)),
                 range=float(np.ptp(values)), steps=reach * s, values=values)
