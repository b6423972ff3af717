"""The pull against exact bodies, by the energy of a linear string, and its effect on pitch by a second route."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.optimize import brentq

from rigs.fields.bench_rig import LINEAR_100, Wire, bench_row
from stringflux.geometry.arrays import Array
from stringflux.postprocess.string.linkage import rest_model
from stringflux.postprocess.string.model import StringModel
from stringflux.postprocess.string.pull import (
    CENT,
    Vibration,
    detuning,
    force,
    gap_of_one_cent,
    pull_of,
    stiffness_over_heights,
)
from stringflux.solver.constants import MU0
from stringflux.solver.materials import find_material

STEEL = find_material("string-steel")
PLAIN = Wire(0.215e-3, 3e-3, STEEL)
G3 = Vibration(frequency=196.0, unit_mass=1.143e-3, length=0.648, bridge_distance=0.1)


def rest(wire: Wire) -> StringModel:
    return rest_model(bench_row().field, wire.shape, wire.layers)


@dataclass(frozen=True)
class Gradient:
    """B₀ = (0, −g y, B + g (z − z₀)), the same all along the string; no coil."""

    B: float
    g: float
    z0: float
    n: int

    def at(self, y: Array, z: Array) -> Array:
        out = np.zeros((y.size, 6, self.n))
        out[:, 1] = -self.g * y[:, None]
        out[:, 2] = (self.B + self.g * (z - self.z0))[:, None]
        return out

    def averaged(self, y: Array, z: Array, radius: float) -> Array:
        return self.at(y, z)


class NoAnswer:
    """Air in place of the pole."""

    def matrix(self, mirrored: bool) -> Array:
        return np.zeros((1, 1))

    def factor(self, x: Array, y: Array, z: Array, mirrored: bool) -> Array:
        return np.zeros((*x.shape, 1))

    def gradient(self, x: Array, y: Array, z: Array, mirrored: bool) -> tuple[Array, Array]:
        return np.zeros((*x.shape, 1)), np.zeros((*x.shape, 1))


def test_uniform_gradient_across_a_cylinder() -> None:
    """Force per length of a thin cylinder across B with gradient g: π a² χ/(1 + χ/2) (B/μ0) g (exact)."""
    model = rest(Wire(0.2e-3, 3e-3, LINEAR_100))
    B, g = 0.05, 3.0
    length = 2 * model.grid.x[-1]
    fake = replace(model, fields=Gradient(B, g, 3e-3, model.grid.x.size), answer=NoAnswer())  # type: ignore[arg-type]
    pull = pull_of(fake)
    per_length = np.pi * 0.2e-3**2 * 99 / (1 + 99 / 2) / MU0
    assert pull.force_z == pytest.approx(per_length * B * g * length, rel=1e-6)
    assert pull.force_y == pytest.approx(0.0, abs=1e-9 * pull.force_z)
    # with M following, F = c (−g y, B + g δ)·∇ of itself: c g² y across and c g (B + g δ) up
    assert pull.stiffness_z == pytest.approx(-per_length * g * g * length, rel=1e-6)
    assert pull.stiffness_y == pytest.approx(-per_length * g * g * length, rel=1e-6)


@pytest.mark.parametrize("wire", [Wire(0.215e-3, 3e-3), Wire(0.3e-3, 2.5e-3, y=1e-3)])
def test_linear_string_by_its_energy(wire: Wire) -> None:
    """Constant μ: F = ½ ∇ ∫ M·B₀ dV, now with M following (exact for a linear string and a linear pole)."""
    model = rest(wire)
    d = 0.1e-3
    expected = []
    for dy, dz in ((d, 0.0), (0.0, d)):
        setting = model.setting(wire.y + dy * np.array([1, -1]), wire.height + dz * np.array([1, -1]))
        state = setting.static()
        W = 0.5 * (np.einsum("n,bcn,bcn->b", model.grid.weight, state.moment_across, MU0 * setting.across0)
                   + np.einsum("n,bn,bn->b", model.grid.weight[1:-1], state.moment, setting.axial[:, 0, 1:-1]))
        expected.append((W[0] - W[1]) / (2 * d))
    pull = pull_of(model)
    # the string's answer to its own field is symmetric up to the grid's averages along x: 0.2 %
    scale = abs(expected[1])
    assert [pull.force_y, pull.force_z] == pytest.approx(expected, rel=4e-3, abs=2e-3 * scale)


def test_gradient_with_m_following_is_too_large() -> None:
    """∇(M·B₀) with M following is 1.2–2 times the force: why M is held."""
    model = rest(PLAIN)
    d = 0.1e-3
    setting = model.setting(np.zeros(2), PLAIN.height + d * np.array([1, -1]))
    state = setting.static()
    W = (np.einsum("n,bcn,bcn->b", model.grid.weight, state.moment_across, MU0 * setting.across0)
         + np.einsum("n,bn,bn->b", model.grid.weight[1:-1], state.moment, setting.axial[:, 0, 1:-1]))
    assert 1.2 < (W[0] - W[1]) / (2 * d) / pull_of(model).force_z < 2.0


def test_signs_over_a_centred_pole() -> None:
    pull = pull_of(rest(PLAIN))
    assert pull.force_z < 0
    assert abs(pull.force_y) < 1e-6 * abs(pull.force_z)
    for z, y in ((pull.stiffness_z, pull.stiffness_y), (pull.reversible_z, pull.reversible_y)):
        assert z < 0 < y
    beside = pull_of(rest(Wire(0.215e-3, 3e-3, STEEL, y=1.5e-3)))
    assert beside.force_y < 0  # drawn back over the pole


def test_pole_answer_pulls_too() -> None:
    """Without the pole's answer to the string the pull is smaller."""
    model = rest(Wire(0.3e-3, 2.5e-3, STEEL))
    without = replace(model, answer=NoAnswer())  # type: ignore[arg-type]
    assert abs(pull_of(without).force_z) < abs(pull_of(model).force_z)


def test_force_is_the_slope_of_the_held_energy_along_any_path() -> None:
    """∮ of a force with M held is zero round a small square: a gradient."""
    model = rest(PLAIN)
    state = model.at(np.zeros(1), np.array([PLAIN.height]))
    s = 0.05e-3
    y = np.array([0.0, s, 0.0, -s]) + 0.02e-3
    z = PLAIN.height + np.array([-s, 0.0, s, 0.0])
    many = (np.repeat(state.moment, 4, 0), np.repeat(state.moment_across, 4, 0))
    F = force(model, y, z, *many)
    around = 2 * s * (F[0, 0] + F[1, 1] - F[0, 2] - F[1, 3])  # midpoint rule on the four sides
    assert abs(around) < 1e-5 * 2 * s * np.max(np.abs(F))


@pytest.mark.parametrize(("mode", "stiffness"), [(1, -3.0), (1, 2.0), (3, -3.0)])
def test_shift_against_a_string_with_a_point_spring(mode: int, stiffness: float) -> None:
    """Exact: T κ sin κL + k sin κa sin κ(L − a) = 0 (ideal string, spring at a). The shift is of first order
    in k; its square over a few modes is what is left."""
    v = G3
    tension = v.unit_mass * (2 * v.length * v.frequency) ** 2
    a, L = v.bridge_distance, v.length

    def f(kappa: float) -> float:
        return float(tension * kappa * np.sin(kappa * L)
                     + stiffness * np.sin(kappa * a) * np.sin(kappa * (L - a)))

    first = mode * np.pi / L
    exact = brentq(f, 0.9 * first, 1.1 * first, xtol=1e-13) / first - 1
    assert v.shift(stiffness, mode) == pytest.approx(exact, rel=10 * abs(stiffness) * L / tension)
    assert np.sign(v.shift(stiffness, mode)) == np.sign(stiffness)


def test_detuning_by_hand() -> None:
    pull = pull_of(rest(PLAIN))
    d = detuning(pull, G3)
    modal = 0.5 * G3.unit_mass * G3.length * (2 * np.pi * G3.frequency) ** 2
    part = 0.5 * np.sin(np.pi * G3.bridge_distance / G3.length) ** 2 / modal
    assert d.cents_z == pytest.approx(1200 * np.log2(1 + part * pull.stiffness_z))
    assert d.split == pytest.approx(G3.frequency * part * (pull.stiffness_y - pull.stiffness_z))
    assert d.cents_z < 0 < d.cents_y


def test_gap_of_one_cent_is_where_the_shift_is_one_cent() -> None:
    row = bench_row()
    low, high = 1.0e-3, 7e-3
    height = gap_of_one_cent(row.field, PLAIN.shape, PLAIN.layers, G3, (low, high))
    assert low < height < high
    there = rest(replace(PLAIN, height=height))
    k = pull_of(there)
    # the height is interpolated between eight places: a few µm
    assert max(abs(G3.shift(k.stiffness_z)), abs(G3.shift(k.stiffness_y))) == pytest.approx(CENT, rel=1e-2)
    assert stiffness_over_heights(there, np.array([height]))[1, 0] == pytest.approx(k.stiffness_z, rel=1e-9)
    heavy = replace(G3, unit_mass=1.0)
    assert gap_of_one_cent(row.field, PLAIN.shape, PLAIN.layers, heavy, (low, high)) == -np.inf
    light = replace(G3, unit_mass=1e-5)
    assert gap_of_one_cent(row.field, PLAIN.shape, PLAIN.layers, light, (low, high)) == np.inf
