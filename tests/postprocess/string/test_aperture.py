"""The aperture weights against slopes of λ, and against a bent string that goes through the full chain."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import pytest

from rigs.fields.bench_rig import LINEAR_100, Wire, bench_row
from stringflux.geometry.arrays import Array
from stringflux.postprocess.string.aperture import Aperture, aperture
from stringflux.postprocess.string.linkage import RestStencil, rest_model
from stringflux.postprocess.string.model import StringModel
from stringflux.solver.materials import find_material
from stringflux.solver.row.field import RowField
from stringflux.solver.row.string_answer import StringAnswer

STEEL = find_material("string-steel")
# Averages along the grid's segments on one side, finite differences of λ on the other.
SLOPE = 4e-3
# Of the answer to a bend with half-waves of 15 mm: 0.02 dB.
BENT = 3e-3


def rest(wire: Wire) -> StringModel:
    return rest_model(bench_row().field, wire.shape, wire.layers)


@lru_cache
def weights(wire: Wire) -> Aperture:
    return aperture(rest(wire))


@pytest.mark.parametrize("wire", [
    Wire(0.215e-3, 3e-3, LINEAR_100),
    Wire(0.215e-3, 3e-3, STEEL),
    Wire(0.55e-3, 2.6e-3, STEEL, y=1e-3),
    Wire(0.215e-3, 3e-3, STEEL, y=0.5e-3, slope=0.01),
])
def test_integral_is_the_slope_of_the_linkage(wire: Wire) -> None:
    """∫ w dx = ∂λ/∂z on the reversible slope; and ∂λ/∂y for the weight across."""
    w = weights(wire)
    stencil = RestStencil(rest(wire))
    assert w.slope_z == pytest.approx(stencil.reversible(stencil.static().rest), rel=SLOPE)
    assert np.sum(w.length) == pytest.approx(w.x[-1] - w.x[0])


def test_integral_across_is_the_slope_across() -> None:
    """Constant μ: both slopes are one, so ∫ w_y dx = ∂λ/∂y of the static stencil."""
    wire = Wire(0.215e-3, 3e-3, LINEAR_100, y=1e-3)
    assert weights(wire).slope_y == pytest.approx(RestStencil(rest(wire)).static().y, rel=SLOPE)


@dataclass(frozen=True)
class BentFields:
    """B₀ and b at the nodes of a string bent by u(x), up (axis 1) or across (0); along, across, normal to it."""

    field: RowField
    x: Array
    u: Array
    axis: int

    def at(self, y: Array, z: Array) -> Array:
        slope = np.gradient(self.u, self.x, edge_order=2)
        out = np.empty((y.size, 6, self.x.size))
        for i, (yi, zi) in enumerate(zip(y, z, strict=True)):
            dy, dz = (self.u, 0 * self.u) if self.axis == 0 else (0 * self.u, self.u)
            p = np.stack([self.x, yi + dy, zi + dz])
            for j, B in ((0, self.field.bias(p)), (3, self.field.reciprocal(p))):
                turned = B.copy()  # to first order in the slope
                turned[0] = B[0] + slope * B[1 + self.axis]
                turned[1 + self.axis] = B[1 + self.axis] - slope * B[0]
                out[i, j:j + 3] = turned
        return out

    def averaged(self, y: Array, z: Array, radius: float) -> Array:
        ring = [self.at(y + radius, z), self.at(y - radius, z), self.at(y, z + radius), self.at(y, z - radius)]
        return np.asarray(sum(ring) / 4)


@dataclass(frozen=True)
class BentAnswer:
    """The pole's answer to a string bent by u(x) = a cos(πx/ℓ)."""

    inner: StringAnswer
    a: float
    half_wave: float
    axis: int

    def matrix(self, mirrored: bool) -> Array:
        return self.inner.matrix(mirrored)

    def _bent(self, x: Array, y: Array, z: Array) -> tuple[Array, Array, Array]:
        u = self.a * np.cos(np.pi * x / self.half_wave)
        return (x, y + u, z) if self.axis == 0 else (x, y, z + u)

    def factor(self, x: Array, y: Array, z: Array, mirrored: bool) -> Array:
        return self.inner.factor(*self._bent(x, y, z), mirrored)

    def gradient(self, x: Array, y: Array, z: Array, mirrored: bool) -> tuple[Array, Array]:
        at = self._bent(x, y, z)
        slopes = list(self.inner.gradient(*at, mirrored))
        tilt = -self.a * np.pi / self.half_wave * np.sin(np.pi * x / self.half_wave)
        d = 1e-6
        along = (self.inner.factor(at[0] + d, at[1], at[2], mirrored)
                 - self.inner.factor(at[0] - d, at[1], at[2], mirrored)) / (2 * d)
        slopes[self.axis] = slopes[self.axis] - tilt[..., None] * along
        return slopes[0], slopes[1]


def bent_slope(wire: Wire, half_wave: float, axis: int = 1) -> float:
    """(λ(+a) − λ(−a))/2a of the string bent to ± a cos(πx/ℓ), small motions about its straight rest."""
    model = rest(wire)
    x, a = model.grid.x, 0.02e-3
    here = (np.array([wire.y]), np.array([wire.height]))
    state = model.at(*here)
    ends = []
    for s in (a, -a):
        bent = replace(model, fields=BentFields(bench_row().field, x, s * np.cos(np.pi * x / half_wave), axis),
                       answer=BentAnswer(model.answer, s, half_wave, axis))  # type: ignore[arg-type]
        ends.append(float(bent.setting(*here).near(state).linkage[0]))
    return (ends[0] - ends[1]) / (2 * a)


def weighted(wire: Wire, half_wave: float, axis: int = 1) -> float:
    w = weights(wire)
    return float(np.sum(w.length * (w.up if axis else w.across) * np.cos(np.pi * w.x / half_wave)))


@pytest.mark.parametrize("half_wave", [20e-3, 15e-3])
@pytest.mark.parametrize("wire", [Wire(0.215e-3, 3e-3, STEEL), Wire(0.5e-3, 2.6e-3, STEEL, y=0.7e-3)])
def test_bent_string_through_the_full_chain(wire: Wire, half_wave: float) -> None:
    straight = weights(wire).slope_z
    assert weighted(wire, half_wave) == pytest.approx(bent_slope(wire, half_wave), abs=BENT * abs(straight))


def test_bent_across() -> None:
    wire = Wire(0.215e-3, 3e-3, STEEL, y=1e-3)
    straight = abs(weights(wire).slope_y)
    assert weighted(wire, 15e-3, 0) == pytest.approx(bent_slope(wire, 15e-3, 0), abs=BENT * straight)


def test_bend_of_15_mm_is_weakened_a_little() -> None:
    """Constant μ, computed by a review of the method: −0.1 dB at half-waves of 20 mm, −0.2 dB at 15 mm; with the
    profile of b_z alone −1.1 and −2.9 dB."""
    wire = Wire(0.215e-3, 3e-3, LINEAR_100)
    w = weights(wire)
    x = np.linspace(0, 66e-3, 400)  # beyond the string's ends
    b = bench_row().field.reciprocal(np.stack([x, 0 * x, 0 * x + wire.height]))[2]
    for half_wave, ours, by_profile in ((20e-3, -0.1, -1.1), (15e-3, -0.2, -2.9)):
        profile = np.trapezoid(b * np.cos(np.pi * x / half_wave), x) / np.trapezoid(b, x)
        assert 20 * np.log10(weighted(wire, half_wave) / w.slope_z) == pytest.approx(ours, abs=0.05)
        assert 20 * np.log10(profile) == pytest.approx(by_profile, abs=0.1)


def test_mean_of_a_constant_is_the_constant() -> None:
    assert weights(Wire(0.215e-3, 3e-3, STEEL)).mean(lambda x: np.full((2, x.size), 3.0)) == pytest.approx([3, 3])
