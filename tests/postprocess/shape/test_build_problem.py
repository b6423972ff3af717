"""A build whose nodes move: what its strings hear against the main chain, gradients against differences."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from rigs.fields.moved_builds import MATERIALS, solved, velocity
from stringflux.geometry.errors import CaseError
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.geometry.shapes.row import StringShape
from stringflux.postprocess.shape.build_problem import BuildProblem, build_problem, can_follow_build
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.linkage import band_over_heights, laid_level, rest_model, rest_slopes
from stringflux.postprocess.string.numerics import StringNumerics
from stringflux.solver.seam import REACH, Over
from stringflux.solver.solid.shape.nodal import body_volume

FIGURES = ("S_1", "linkage_1", "bias_1")
STEP = 1e-6  # m; more would reach over bends in the curve of saturated steel
DIFFERENCES = 1e-4  # of the gradient, whose stated limit is 1e-3; found: 1e-5
CHAINS = 3e-4  # of S and λ; found: 2e-5, and 2e-4 where the main chain's answer does not know how far across it lies
PLACES = [("blade", 0.0), ("blade", 6e-3), ("aside", -4e-3), ("rod", 0.5e-3), ("pair", 3e-3)]


def string(y: float) -> StringShape:
    return StringShape(y=y, axis_height=2.5e-3, core_radius=0.2e-3, slope=0.008)


@lru_cache(maxsize=8)
def problem(name: str, y: float) -> BuildProblem:
    shape = string(y)
    return build_problem(solved(name), MATERIALS, [shape], [layers_of(shape, MATERIALS)], [0.0])


@pytest.mark.slow
@pytest.mark.parametrize(("name", "y"), PLACES)
def test_gradient(name: str, y: float) -> None:
    """By central differences, the nodes moved everywhere in two random ways."""
    made = problem(name, y)
    found = made.solve(made.nodes)
    ways = [velocity(made.build.start.space, seed) for seed in range(2)]
    beside = [[made.value(made.nodes + s * STEP * v) for s in (1, -1)] for v in ways]
    for figure in FIGURES:
        by_node = made.gradient(found, {figure: 1.0})
        true = [(up[figure] - down[figure]) / (2 * STEP) for up, down in beside]
        assert [float(np.sum(by_node * v)) for v in ways] == pytest.approx(
            true, abs=DIFFERENCES * np.max(np.abs(true))), figure


@pytest.mark.slow
@pytest.mark.parametrize(("name", "y"), PLACES)
def test_values_are_those_of_the_main_chain(name: str, y: float) -> None:
    """On the same mesh; what differs is how strings' answers are told, and how their fields are sampled."""
    shape, layers = string(y), layers_of(string(y), MATERIALS)
    low, high = band_over_heights([shape], [0.0])
    field = solved(name).over([Over(y=y, face=0.0, low=low, high=high)], MATERIALS, QUALITIES["draft"], REACH).field
    true = rest_slopes(rest_model(field, laid_level(field, shape), layers))
    values = problem(name, y).value(problem(name, y).nodes)
    assert values["S_1"] == pytest.approx(abs(true.z), rel=CHAINS)
    assert values["linkage_1"] == pytest.approx(true.linkage, rel=CHAINS)


def test_several_strings_and_sums() -> None:
    """One pass back for a sum of figures is the sum of the passes; the mean of two strings' S is one of them."""
    shapes = [string(0.0), string(6e-3)]
    made = build_problem(solved("blade"), MATERIALS, shapes, [layers_of(s, MATERIALS) for s in shapes], [0.0, 0.0])
    values, slopes = made.value_and_gradient(made.nodes, ("S_1", "S_2", "sensitivity", "magnet_volume"))
    assert values["sensitivity"] == pytest.approx((values["S_1"] + values["S_2"]) / 2, rel=1e-12)
    whole = made.gradient(made.solve(made.nodes), {"sensitivity": 2.0, "magnet_volume": -3.0})
    parts = slopes["S_1"] + slopes["S_2"] - 3 * slopes["magnet_volume"]
    assert whole == pytest.approx(parts, abs=1e-6 * np.max(np.abs(whole)))
    alone = problem("blade", 6e-3)
    assert values["S_2"] == pytest.approx(alone.value(alone.nodes)["S_1"], rel=1e-9)


def test_the_volume_of_magnets() -> None:
    """Of the shipped box, exactly; growing evenly dV = 3 V dε (Euler)."""
    made = problem("blade", 0.0)
    found = made.solve(made.nodes)
    assert found.values["magnet_volume"] == pytest.approx(10e-3 * 22e-3 * 4e-3, rel=1e-9)
    by_node = made.gradient(found, {"magnet_volume": 1.0})
    assert float(np.sum(by_node * made.nodes)) == pytest.approx(3 * found.values["magnet_volume"], rel=1e-9)
    assert body_volume(found.state.space, 0)[0] == pytest.approx(3e-3 * 20e-3 * 8e-3, rel=1e-9)


def test_the_answer_of_the_bodies_counts_in_the_gradient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Left out, the gradient over soft steel would miss."""
    made = problem("blade", 0.0)
    found = made.solve(made.nodes)
    v = velocity(made.build.start.space, 2)
    whole = float(np.sum(made.gradient(found, {"S_1": 1.0}) * v))
    monkeypatch.setattr("stringflux.solver.solid.shape.adjoint._Sweep._answer", lambda *a: None)
    less = float(np.sum(made.gradient(found, {"S_1": 1.0}) * v))
    assert abs(less - whole) > 10 * DIFFERENCES * abs(whole)


def test_what_is_refused() -> None:
    made = problem("rod", 0.5e-3)
    with pytest.raises(CaseError, match="there is no 'gain'"):
        made.value_and_gradient(made.nodes, ("gain",))
    assert can_follow_build("after", StringNumerics())
    assert not can_follow_build("before", StringNumerics())
    assert not can_follow_build("after", StringNumerics(passes=3))
