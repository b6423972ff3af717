"""A front in a fit, and a profile that has to reach the face: goals in closed form, nothing is solved."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.cases import load_case
from stringflux.cases.studies.shape.forms import make_form
from stringflux.cases.studies.shape.goal_fit import best_of_fit, fitted
from stringflux.cases.studies.shape.limits import Making
from stringflux.cases.studies.shape.methods import Search
from stringflux.cases.studies.shape.model import ShapeModel
from stringflux.cases.studies.shape.numerics import SearchNumerics
from stringflux.cases.studies.shape.search import ShapeSearch
from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError, SolveError


def nothing(x: Array) -> Array:
    return np.zeros(0)


def unseen(i: int, count: int) -> None:
    pass


def test_fit_is_exact_where_goals_are_polynomials_and_so_are_its_slopes() -> None:
    fit = fitted(lambda x: np.array([x[0] ** 3 * x[1], 1 + x[1] ** 4]), 2, unseen)
    x = np.array([0.31, 0.77])
    assert fit.values(x) == pytest.approx([0.31**3 * 0.77, 1 + 0.77**4], abs=1e-12)
    assert fit.slopes(x) == pytest.approx(np.array([[3 * 0.31**2 * 0.77, 0.31**3], [0, 4 * 0.77**3]]), abs=1e-11)
    assert fit.scatter == pytest.approx([0, 0], abs=1e-12)


def test_fit_takes_places_and_degree_of_its_settings() -> None:
    few = SearchNumerics(places=(4, 3), degree=(3, 1))
    square = fitted(lambda x: np.array([x[0] ** 2]), 2, unseen, few)
    assert (square.grid.shape, square.coefficients.shape) == ((9, 2), (1, 2, 2))
    assert square.scatter[0] > 0.1  # no straight line is a parabola
    assert fitted(lambda x: np.array([x[0] ** 2]), 1, unseen, few).scatter[0] < 1e-12


def test_fit_smooths_what_meshes_add_by_chance() -> None:
    rng = np.random.default_rng(5)
    fit = fitted(lambda x: np.array([np.cos(x[0] - x[1])]) + 1e-3 * rng.standard_normal(1), 2, unseen)
    some = rng.uniform(size=(50, 2))
    off = np.array([fit.values(x)[0] - np.cos(x[0] - x[1]) for x in some])
    assert fit.scatter[0] == pytest.approx(1e-3, rel=0.5)  # of 24 that are left over: 15 % is one deviation
    assert float(np.std(off)) < 1e-3


def test_shapes_that_cannot_be_solved_are_left_out_unless_too_many() -> None:
    def solve(x: Array) -> Array:
        if x[0] > 0.95:
            raise SolveError("does not settle")
        return np.array([x[0] + x[1]])

    fit = fitted(solve, 2, unseen)
    assert len(fit.grid) == 42
    assert fit.values(np.array([0.4, 0.2])) == pytest.approx([0.6], abs=1e-9)

    def worse(x: Array) -> Array:
        return solve(2 * x)

    with pytest.raises(CaseError, match=r"of 49 shapes .* only \d+ can be solved \(does not settle\)"):
        fitted(worse, 2, unseen)


def test_best_of_a_shifted_fit_keeps_its_ceiling() -> None:
    """Distances² to (0.2, 0.5) and (0.8, 0.5), the second a little more than the fit knows."""
    fit = fitted(lambda x: np.array([np.sum((x - [c, 0.5]) ** 2) for c in (0.2, 0.8)]), 2, unseen)
    search = Search(evaluate=fit.shifted(np.zeros(2)), limits=nothing, low=np.zeros(2), high=np.ones(2))
    found = best_of_fit(fit, search, np.array([0.9, 0.9]), 0, 0.05, np.array([0.0, 0.01]))
    assert found.goals[1] == pytest.approx(0.05, rel=1e-4)
    assert found.x == pytest.approx([0.6, 0.5], abs=1e-3)  # 0.2 off, not √0.05


def test_profile_reaches_the_face_whatever_the_goal(monkeypatch: pytest.MonkeyPatch) -> None:
    """Less is better everywhere, most of all at the axis: it ends as a pit with its rim on the face."""
    form = make_form("profile", load_case("bench-single").pole[0], controls=4, deepest=2e-3, widest=6e-3,
                     soft=lambda m: False, cap="steel-1008")
    weights = np.array([4.0, 2.0, 1.5, 1.0])

    def values(self: ShapeModel, p: Array, names: object = None) -> dict[str, float]:
        return {"inductance": float(1 + 100 * weights @ p)}

    def slopes(self: ShapeModel, p: Array) -> tuple[dict[str, float], dict[str, Array]]:
        return values(self, p), {"inductance": 100 * weights}

    monkeypatch.setattr(ShapeModel, "values", values)
    monkeypatch.setattr(ShapeModel, "values_and_slopes", slopes)
    model = ShapeModel(case=load_case("bench-single"), form=form, poles=(1,), quality="draft", base=form.start,
                       goals=("inductance",))
    search = ShapeSearch(model, Making())
    best = search.best(search.start)
    assert form.curve is not None
    assert form.curve.between(best.p).max() == pytest.approx(0.0, abs=1e-8)
    assert best.p[-1] == 0.0
    assert best.p[0] < -1e-3
    assert best.moved["inductance"] < 0.5
