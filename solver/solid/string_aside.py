r"""What strings further across do to the modes of a string's answer.

The answer to a string A is charges q_k on the bodies for each of its modes, G(x, x') = W(x)ᵀ S W(x') for x, x' on A.
For x' on another string those charges are looked at from there::

    G(x, x') = W(x)ᵀ R(x'),    R_k(x') = Σ q_k /(4π |x' − r|) over the bodies' unknowns,    R = S W on A itself

so A alone has to have modes. R is smooth: it and its gradient are found on a few places along each string, and go
between them by splines.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.interpolate import BSpline, make_interp_spline

from stringflux.geometry.arrays import Array

from .charges import Charges

_STEP = 0.25  # between places along a string, in asinh x: λ and S over a blade are within 1e-4 of those at 0.1
_WIDE = 6e-3  # m: over a lesser distance R changes on any string that lies close over bodies
_ROUND = 5e-3  # m, in which the half length of string looked at is counted


@dataclass(frozen=True, kw_only=True, eq=False)
class StringsAside:
    """The charges of an answer's modes, as strings further across see them.

    Attributes
    ----------
    charges : Charges
        q of every mode, even ones first, of the whole build.
    y, face : float
        Where the modes were made, m.
    even : int
        How many modes are even in x and the others odd, of bodies alike on both sides of x = 0; else 0.
    side : int
        −1 for the mirror image at −y.
    """

    charges: Charges
    y: float
    face: float
    even: int
    side: int = 1
    _kept: dict[_Line, BSpline] = field(default_factory=dict, repr=False)

    def imaged(self) -> StringsAside:
        """That of the mirror image at −y."""
        return replace(self, side=-self.side)

    def driven(self, x: Array, y: Array, z: Array, charge: Array, dipole: Array) -> Array:
        """Σ R charge + ∇R·dipole, (k, s), of straight strings along x, none of them in the place of the answer.

        Parameters
        ----------
        x, y, z : arrays (n,)
            From the place of the answer, m.
        charge : array (n, s)
            A·m.
        dipole : array (n, s, 3)
            A·m².
        """
        lines = [(y == at, _line(x[y == at], self.y + self.side * float(at), self.face + z[y == at]))
                 for at in np.unique(y)]
        self._tabulate([line for _, line in lines])
        out = np.zeros((len(self.charges.values), charge.shape[1]))
        for mine, line in lines:
            R = self._kept[line](np.arcsinh(x[mine] / self._near(line)))
            out += R[:, 0].T @ charge[mine]
            for axis, sign in enumerate((1, self.side, 1)):
                out += sign * R[:, 1 + axis].T @ dipole[mine, :, axis]
        return out

    def _near(self, line: _Line) -> float:
        """How far from it what it sees changes over, m."""
        return min(float(np.hypot(line.y - self.y, line.height - self.face)), _WIDE)

    def _tabulate(self, lines: Sequence[_Line]) -> None:
        """Keep R along what is not known yet of lines."""
        new = [line for line in lines if line not in self._kept]
        if new:
            near = [self._near(line) for line in new]
            self._kept.update(zip(new, _splines(self.charges, self.even, new, near), strict=True))


@dataclass(frozen=True, kw_only=True)
class _Line:
    """A string in the frame of the bodies: y, height over x = 0, dz/dx, and how far out it is looked at, m."""

    y: float
    height: float
    slope: float
    reach: float


def _line(x: Array, y: float, z: Array) -> _Line:
    """That on which points lie; those of one string find the same."""
    first, last = int(np.argmin(x)), int(np.argmax(x))
    slope = float((z[last] - z[first]) / max(x[last] - x[first], 1e-12))
    return _Line(y=round(y, 9), height=round(float(z[first] - slope * x[first]), 9), slope=round(slope, 9),
                 reach=_ROUND * float(np.ceil(round(float(np.max(np.abs(x))) / _ROUND, 6))))


def _splines(charges: Charges, even: int, lines: Sequence[_Line], near: Sequence[float]) -> list[BSpline]:
    """R and its gradient (…, 4, k) along each over asinh(x/near); as of :class:`StringsAside`, so many are even."""
    places = []
    for line, unit in zip(lines, near, strict=True):
        half = np.arcsinh(line.reach / unit)
        t = np.linspace(0, half, max(3, int(np.ceil(half / _STEP))) + 1)
        places.append(t if even and line.slope == 0.0 else np.concatenate([-t[:0:-1], t]))
    points = [np.stack([x, np.full_like(x, line.y), line.height + line.slope * x])
              for line, x in ((line, unit * np.sinh(t)) for line, unit, t in zip(lines, near, places, strict=True))]
    potential, H = charges.potential_and_field(np.concatenate(points, axis=1))
    every = np.concatenate([potential[:, None], -H], axis=1).transpose(2, 1, 0)
    out = []
    for t, values in zip(places, np.split(every, np.cumsum([len(t) for t in places])[:-1]), strict=True):
        if t[0] == 0:
            sign = np.where(np.arange(values.shape[2]) < even, 1.0, -1.0) * np.array([1, -1, 1, 1])[:, None]
            t, values = np.concatenate([-t[:0:-1], t]), np.concatenate([sign * values[:0:-1], values])
        out.append(make_interp_spline(t, values, k=5))
    return out
