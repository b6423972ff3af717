"""The search on goals whose best is known in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.cases.studies.shape.methods import (
    Search,
    SearchEnd,
    feasible,
    front,
    lowest,
    lowest_of_one,
    undominated,
)
from stringflux.geometry.arrays import Array

BOX = np.zeros(2), np.ones(2)


def nothing(x: Array) -> Array:
    return np.zeros(0)


def bowl(centre: Array) -> Search:
    """|x − c|² in the unit square, no limits."""
    return Search(evaluate=lambda x: (np.array([(x - centre) @ (x - centre)]), (2 * (x - centre))[None]),
                  limits=nothing, low=BOX[0], high=BOX[1])


def two_bowls() -> Search:
    """Distances² to (0.2, 0.5) and (0.8, 0.5): the front is the line between, √f₁ + √f₂ = 0.6."""
    centres = np.array([[0.2, 0.5], [0.8, 0.5]])

    def evaluate(x: Array) -> tuple[Array, Array]:
        d = x - centres
        return np.sum(d**2, axis=1), 2 * d

    return Search(evaluate=evaluate, limits=nothing, low=BOX[0], high=BOX[1])


def test_lowest_inside_and_on_the_box() -> None:
    inside = lowest(bowl(np.array([0.3, 0.6])), np.array([0.9, 0.1]))
    assert inside.x == pytest.approx([0.3, 0.6], abs=1e-3)  # √ of the goal's tolerance
    assert not inside.bound
    outside = lowest(bowl(np.array([1.5, 0.6])), np.array([0.1, 0.1]))
    assert outside.x == pytest.approx([1.0, 0.6], abs=1e-3)
    assert outside.bound


def test_limits_are_kept() -> None:
    """Nearest point to (0.9, 0.9) with x + y ≤ 1, from a start that breaks the limit: (½, ½)."""
    search = Search(evaluate=bowl(np.array([0.9, 0.9])).evaluate, limits=lambda x: np.array([1 - x.sum()]),
                    low=BOX[0], high=BOX[1])
    start = np.array([0.95, 0.9])
    assert search.kept(feasible(search, start))
    found = lowest(search, start)
    assert found.x == pytest.approx([0.5, 0.5], abs=1e-3)
    assert search.kept(found.x)


def test_ceiling_on_the_other_goal_binds() -> None:
    search = two_bowls()
    found = lowest(search, np.array([0.5, 0.2]), 0, ceiling=0.04)
    assert found.goals[1] == pytest.approx(0.04, rel=1e-4)  # the ceiling itself
    assert np.sqrt(found.goals[0]) == pytest.approx(0.4, rel=1e-3)  # 0.6 − √0.04


def test_front_of_two_bowls() -> None:
    search = two_bowls()
    found = front(lambda x, goal, ceiling: lowest(search, x, goal, ceiling), np.array([0.4, 0.9]), 7)
    goals = np.array([f.goals for f in found])
    assert len(found) == 7
    assert np.all(np.diff(goals[:, 0]) > 0)
    assert np.all(np.diff(goals[:, 1]) < 0)
    # 1e-3: √ of the tolerance of a goal that ends at 0
    assert np.sum(np.sqrt(np.maximum(goals, 0)), axis=1) == pytest.approx(np.full(7, 0.6), abs=2e-3)


def test_dominated_points_are_left_out() -> None:
    def at(a: float, b: float) -> SearchEnd:
        return SearchEnd(x=np.zeros(1), goals=np.array([a, b]), steps=0, evaluations=0, bound=False)

    kept = undominated([at(3, 1), at(1, 3), at(2, 3.5), at(2, 2)])
    assert [tuple(f.goals) for f in kept] == [(1, 3), (2, 2), (3, 1)]


def test_one_parameter_finds_the_deeper_of_two_hollows() -> None:
    """−e^{−(t−¼)²/0.01} − 1.5 e^{−(t−¾)²/0.01}: the deeper one lies at ¾, whatever the start."""

    def evaluate(x: Array) -> tuple[Array, Array]:
        depths = np.array([1.0, 1.5]) * np.exp(-((x[0] - np.array([0.25, 0.75])) ** 2) / 0.01)
        return np.array([-depths.sum()]), np.zeros((0, 1))

    search = Search(evaluate=evaluate, limits=lambda x: np.array([0.74 - x[0]]), low=np.zeros(1), high=np.ones(1))
    assert lowest_of_one(search).x == pytest.approx([0.74], abs=1e-3)  # the limit holds it just before the bottom
    free = Search(evaluate=evaluate, limits=nothing, low=np.zeros(1), high=np.ones(1))
    assert lowest_of_one(free).x == pytest.approx([0.75], abs=1e-3)
