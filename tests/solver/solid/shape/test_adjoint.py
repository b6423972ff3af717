"""Fields of a build at points as functions of its nodes: gradient against differences, values against the solver."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from rigs.fields.moved_builds import BUILDS, MATERIALS, solved, velocity
from stringflux.geometry.errors import CaseError
from stringflux.solver.constants import MU0
from stringflux.solver.solid.shape.adjoint import FieldWeights, node_derivative
from stringflux.solver.solid.shape.state import BuildState, MovingBuild

POINTS = np.array([[0.0, 0.5e-3, 3e-3, -2e-3], [0.0, 2e-3, -4e-3, 1e-3], [3e-3, 2.5e-3, 4e-3, 3e-3]])
STEP = 1e-6  # m; more would reach over bends in the curve of saturated steel
DIFFERENCES = 2e-4  # of the gradient, whose stated limit is 1e-3; found: 6e-5


@lru_cache(maxsize=8)
def moving(name: str) -> MovingBuild:
    return MovingBuild(solved(name), MATERIALS)


def weights(seed: int, *, bias: bool) -> FieldWeights:
    w = np.random.default_rng(seed).standard_normal(POINTS.shape)
    return FieldWeights(points=POINTS, bias=w if bias else 0 * w, signal=0 * w if bias else w)


def figure(build: MovingBuild, state: BuildState, w: FieldWeights) -> float:
    bias, signal = build.fields(state, POINTS)
    return float(np.sum(w.bias * bias) + np.sum(w.signal * signal))


@pytest.mark.slow
@pytest.mark.parametrize("bias", [True, False], ids=["bias", "signal"])
@pytest.mark.parametrize("name", BUILDS)
def test_gradient(name: str, bias: bool) -> None:
    """All nodes moved at once, inside, on faces and in the air; three ways, held to the largest of them."""
    build = moving(name)
    w = weights(5, bias=bias)
    by_node = node_derivative(build, build.start, w)
    found, true = [], []
    for seed in range(3):
        v = velocity(build.start.space, seed)
        up, down = (figure(build, build.at(build.start.nodes + s * STEP * v), w) for s in (1, -1))
        found.append(float(np.sum(by_node * v)))
        true.append((up - down) / (2 * STEP))
    assert found == pytest.approx(true, abs=DIFFERENCES * np.max(np.abs(true)))


def test_away_from_the_start() -> None:
    """The gradient of a build whose nodes have been moved."""
    build = moving("blade")
    v, u, w = velocity(build.start.space, 7), velocity(build.start.space, 8), weights(6, bias=False)
    there = build.start.nodes + 2e-4 * v
    up, down = (figure(build, build.at(there + s * STEP * u), w) for s in (1, -1))
    found = float(np.sum(node_derivative(build, build.at(there), w) * u))
    assert found == pytest.approx((up - down) / (2 * STEP), rel=DIFFERENCES)


@pytest.mark.parametrize("name", BUILDS)
def test_the_start_is_the_solved_build(name: str) -> None:
    """B₀ and b of the same mesh. The solver leaves out the least charges, and gives steel the coil's field as a
    gradient: 3e-4 of b at most on these coarse meshes."""
    build, field = moving(name), solved(name).field
    bias, signal = MU0 * build.fields(build.start, POINTS)
    for found, true, within in ((bias, field.bias(POINTS), 1e-4),
                                (signal + build.coil_field(POINTS), field.reciprocal(POINTS), 1e-3)):
        assert found == pytest.approx(true, abs=within * np.max(np.abs(true)))


def test_the_bias_counts_in_the_slope_of_the_signal(monkeypatch: pytest.MonkeyPatch) -> None:
    """Steel's permeability follows its bias: left out, the gradient would miss."""
    build, w = moving("pair"), weights(5, bias=False)
    v = velocity(build.start.space, 0)
    whole = float(np.sum(node_derivative(build, build.start, w) * v))
    monkeypatch.setattr("stringflux.solver.solid.shape.adjoint.slope_with_bias", lambda material, b: None)
    less = float(np.sum(node_derivative(build, build.start, w) * v))
    assert abs(less - whole) > 10 * DIFFERENCES * abs(whole)


def test_magnets_charged_before_are_refused() -> None:
    with pytest.raises(CaseError, match="history: received 'before'"):
        MovingBuild(solved("rod", "before"), MATERIALS)
