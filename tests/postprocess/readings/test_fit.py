"""The fit of readings: what it finds, how sure it is, and what it refuses."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pytest

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError
from stringflux.postprocess.readings.fit import fit_readings
from stringflux.postprocess.readings.problem import Parameter, Problem, prediction_doubt
from stringflux.postprocess.readings.reading import Reading, levelled, residuals


def parameter(name: str, start: float = 0.0, sigma: float | None = None, high: float = 50.0) -> Parameter:
    return Parameter(name=name, words=name, start=start, scale=1.0, low=-50.0, high=high, sigma=sigma)


def reading(value: float = 0.0, quantity: str = "field", string: int | None = None, u: float = 0.1) -> Reading:
    return Reading(line=1, quantity=quantity, value=value, uncertainty=u, string=string, pole=1, distance=0.0)


@dataclass(frozen=True)
class Linear:
    """f = A θ, for parameters a, b, …"""

    matrix: Array
    names: tuple[str, ...] = ("a", "b")

    def predict(self, readings: Sequence[Reading], state: Mapping[str, float]) -> Array:
        return np.asarray(self.matrix @ np.array([state.get(n, 0.0) for n in self.names]))


LINE = Linear(np.stack([np.ones(8), np.linspace(-1, 1, 8)], axis=1))


def drawn(model: Linear, truth: Sequence[float], seed: int, scatter: float = 0.1, **kind: object) -> list[Reading]:
    noise = scatter * np.random.default_rng(seed).normal(size=model.matrix.shape[0])
    return [reading(float(v), **kind) for v in model.matrix @ np.array(truth) + noise]  # type: ignore[arg-type]


def test_a_linear_model_is_solved_as_the_normal_equations_say() -> None:
    data = drawn(LINE, (1.5, -0.7), 1)
    fit = fit_readings(LINE, data, [parameter("a"), parameter("b")])
    exact, *_ = np.linalg.lstsq(LINE.matrix, np.array([r.value for r in data]), rcond=None)
    half = 1.959964 * 0.1 * np.sqrt(np.diag(np.linalg.inv(LINE.matrix.T @ LINE.matrix)))
    # where the solver stops, 1e-3 of a half-width of 1
    np.testing.assert_allclose([f.value for f in fit.fitted], exact, atol=2e-3)
    assert fit.freedom == 6
    assert fit.widened == pytest.approx(max(1.0, (fit.chi_square / 6) ** 0.5))
    if fit.widened == 1.0:
        got = [(f.interval[1] - f.interval[0]) / 2 for f in fit.fitted]
        np.testing.assert_allclose(got, half, rtol=1e-6)


def test_intervals_hold_the_truth_about_as_often_as_they_say() -> None:
    inside = 0
    for seed in range(10):
        fit = fit_readings(LINE, drawn(LINE, (1.5, -0.7), seed), [parameter("a"), parameter("b")])
        inside += sum(f.interval[0] <= t <= f.interval[1] for f, t in zip(fit.fitted, (1.5, -0.7), strict=True))
    # 20 intervals of 95 %: fewer than 16 inside happens once in 3000 times
    assert inside >= 16


def test_scatter_beyond_the_uncertainties_widens_the_intervals() -> None:
    calm = fit_readings(LINE, drawn(LINE, (1.0, 0.0), 3, scatter=0.02), [parameter("a")])
    wild = fit_readings(LINE, drawn(LINE, (1.0, 0.0), 3, scatter=1.0), [parameter("a")])
    assert calm.widened == 1.0
    assert wild.widened > 3
    assert np.diff(wild.fitted[0].interval) > 3 * np.diff(calm.fitted[0].interval)


def test_a_doubt_shares_what_it_may() -> None:
    """One mean of n readings, an asked offset and a doubt of the same effect: the prior alone parts them."""
    model = Linear(np.ones((6, 2)))
    data = [reading(2.0)] * 6
    fit = fit_readings(model, data, [parameter("a")], [parameter("b", sigma=0.3)])
    # asked parameters are free, so the doubt stays at its start and only widens the interval
    assert fit.fitted[0].value == pytest.approx(2.0, abs=2e-3)
    assert fit.doubts[0].value == pytest.approx(0.0, abs=2e-3)
    half = (fit.fitted[0].interval[1] - fit.fitted[0].interval[0]) / 2
    assert half == pytest.approx(1.959964 * np.hypot(0.1 / 6**0.5, 0.3), rel=1e-3)


def test_doubt_of_the_prediction() -> None:
    model = Linear(np.array([[1.0, 2.0], [0.0, 3.0]]))
    doubt = prediction_doubt(model, [reading(), reading()], [parameter("a", sigma=0.3), parameter("b", sigma=0.1)])
    np.testing.assert_allclose(doubt, [np.hypot(0.3, 0.2), 0.3], rtol=1e-9)


@pytest.mark.parametrize(
    ("matrix", "said"),
    [
        (np.array([[1.0, 1.0], [2.0, 2.0], [0.5, 0.5]]), "trades against"),
        (np.array([[1.0, 0.01], [2.0, 0.0], [0.5, 0.0]]), "b: when it changes by"),
        (np.array([[1.0, 0.5]]), "trades against"),
    ],
)
def test_what_readings_do_not_determine_is_refused(matrix: Array, said: str) -> None:
    data = [reading(1.0)] * len(matrix)
    with pytest.raises(CaseError, match=f"^--fit: the readings do not determine .*{said}"):
        fit_readings(Linear(matrix), data, [parameter("a"), parameter("b")])
    fit = fit_readings(Linear(matrix), data, [parameter("a"), parameter("b")], drop=True)
    assert len(fit.fitted) == 1
    assert len(fit.refused) == 1


@dataclass(frozen=True)
class Alnico:
    """A face field that follows the charge below 0.7 and not at all above, times the coercivity."""

    def predict(self, readings: Sequence[Reading], state: Mapping[str, float]) -> Array:
        charge = min(state.get("charge", 1.0) / 0.7, 1.0)
        return np.full(len(readings), 10.0 * charge * state.get("coercivity", 1.0))


CHARGE = Parameter(name="charge", words="charge", start=1.0, scale=0.2, low=0.05, high=1.0, slow=True)


def test_a_nearly_full_charge_is_refused_and_a_low_one_found() -> None:
    with pytest.raises(CaseError, match=r"charge above 0\.8.*fit coercivity instead"):
        fit_readings(Alnico(), [reading(10.0)] * 3, [CHARGE])
    fit = fit_readings(Alnico(), [reading(10.0 * 0.45 / 0.7)] * 3, [CHARGE])
    assert fit.fitted[0].value == pytest.approx(0.45, abs=1e-3)


def test_the_level_of_outputs_is_free() -> None:
    data = drawn(LINE, (7.0, -0.7), 4, quantity="output", string=2)
    np.testing.assert_allclose(levelled(data, LINE.predict(data, {"b": -0.7})),
                               levelled(data, LINE.predict(data, {"a": 3.0, "b": -0.7})), rtol=1e-12)
    assert np.mean(residuals(data, np.zeros(8))) == pytest.approx(0.0, abs=1e-9)  # equal weights
    fit = fit_readings(LINE, data, [parameter("b")])
    assert fit.freedom == 6
    assert fit.fitted[0].value == pytest.approx(-0.7, abs=0.2)
    with pytest.raises(CaseError, match="a: when it changes by"):
        fit_readings(LINE, data, [parameter("a")])


def test_two_strings_have_two_levels() -> None:
    data = [reading(v, "output", s) for v, s in ((1.0, 1), (2.0, 1), (5.0, 2), (8.0, 2))]
    np.testing.assert_allclose(levelled(data, np.zeros(4)), [1.5, 1.5, 6.5, 6.5])


def test_jacobian_at_a_bound_looks_the_other_way() -> None:
    p = Parameter(name="a", words="a", start=1.0, scale=0.2, low=0.0, high=1.0, slow=True)
    J = Problem(LINE, drawn(LINE, (0.5, 0.0), 2), [p]).jacobian(np.zeros(1))
    np.testing.assert_allclose(J[:, 0], -np.full(8, 0.2 / 0.1), rtol=1e-9)
