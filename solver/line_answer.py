r"""The answer of long bodies (blades, bars) to a string's own field, as the planar and the 3-D solver both give it.

Along a body the answer is the same at every y, so it is two sets of modes of x and z alone, even and odd in x::

    G(x, x') = W(x)ᵀ S W(x')

with W tabulated as splines over (|x|, z); x, z count from (0, face). How S and W come about each solver says itself.

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from scipy.interpolate import NdBSpline, make_interp_spline
from scipy.linalg import block_diag

from stringflux.geometry.arrays import Array

from .seam import Across

_DEGREE = 5


class LinesAside(Protocol):
    """What strings further across do to all modes, even ones first."""

    def imaged(self) -> LinesAside:
        """That of the mirror image at −y."""

    def driven(self, x: Array, y: Array, z: Array, charge: Array, dipole: Array, /) -> Array:
        """As of :class:`.seam.Across`, not mirrored."""


@dataclass(frozen=True, kw_only=True, eq=False)
class LineAnswer:
    """Modes of what lies under a string, for positions relative to (0, y, face); y itself does not count.

    Attributes
    ----------
    even, odd : NdBSpline
        W of both parts as functions of (|x|, z).
    response : (array, array)
        S of both parts, symmetric.
    mixed : array, optional
        S between the even and the odd part, where the bodies are not alike on both sides of x = 0.
    aside : LinesAside, optional
        What strings further across do to the modes; the planar solver, which knows no y, has none.
    """

    even: NdBSpline
    odd: NdBSpline
    response: tuple[Array, Array]
    mixed: Array | None = None
    aside: LinesAside | None = None

    @property
    def across(self) -> Across | None:
        """By :attr:`aside`."""
        return None if self.aside is None else _Halved(self.aside, len(self.response[0]))

    def imaged(self) -> LineAnswer:
        """That of the mirror image at −y."""
        return self if self.aside is None else replace(self, aside=self.aside.imaged())

    def factor(self, x: Array, y: Array, z: Array, mirrored: bool) -> Array:
        """F (…, n, k) with G = F S F'ᵀ; with `mirrored` every charge also sits at −x."""
        return self._columns(x, z, mirrored, (0, 0))

    def gradient(self, x: Array, y: Array, z: Array, mirrored: bool) -> tuple[Array, Array]:
        """∂F/∂y, which is 0 along the body, and ∂F/∂z, arrays (…, n, k)."""
        dz = self._columns(x, z, mirrored, (0, 1))
        return np.zeros_like(dz), dz

    def matrix(self, mirrored: bool) -> Array:
        """S (k, k) that goes with :meth:`factor`."""
        if mirrored:
            return 2.0 * self.response[0]
        S = np.asarray(block_diag(*self.response))
        if self.mixed is not None:
            n = self.response[0].shape[0]
            S[:n, n:] = self.mixed
            S[n:, :n] = self.mixed.T
        return S

    def _columns(self, x: Array, z: Array, mirrored: bool, nu: tuple[int, int]) -> Array:
        at = np.stack([np.abs(x).ravel(), z.ravel()], axis=-1)
        even = self.even(at, nu=nu).reshape(*x.shape, -1)
        if mirrored:
            return np.asarray(even)
        odd = np.sign(x)[..., None] * self.odd(at, nu=nu).reshape(*x.shape, -1)
        return np.concatenate([even, odd], axis=-1)


@dataclass(frozen=True)
class _Halved:
    """The same, or of a mirrored string what its even modes, so many, have of both its halves."""

    aside: LinesAside
    even: int
    between: bool = True

    def driven(self, x: Array, y: Array, z: Array, charge: Array, dipole: Array, mirrored: bool) -> Array:
        every = self.aside.driven(x, y, z, charge, dipole)
        return 2 * every[:self.even] if mirrored else every


def along_string(low: float, reach: float) -> Array:
    """Places along half a string, as dense as the answer is sharp."""
    step = 0.35 * low
    count = int(np.ceil(np.arcsinh(reach / (4 * low)) / np.arcsinh(step / (4 * low))))
    return np.asarray(reach * np.sinh(np.linspace(0, np.arcsinh(reach / (4 * low)), count + 1)) / (reach / (4 * low)))


def answer_spline(x: Array, z: Array, values: Array) -> NdBSpline:
    """The spline over x (nx,) and z (nz,), m, through modes (nx, nz, k)."""
    along_z = make_interp_spline(z, values, k=_DEGREE, axis=1)
    along_x = make_interp_spline(x, np.moveaxis(np.asarray(along_z.c), 0, 1), k=_DEGREE, axis=0)
    return NdBSpline((along_x.t, along_z.t), np.ascontiguousarray(along_x.c), _DEGREE)
