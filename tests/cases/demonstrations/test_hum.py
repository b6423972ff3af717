"""The demonstration "hum": N·A·ωB against the command's areas and the closed form, and pairs that cancel."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.cases import load_case, solve
from stringflux.cases.cli import main
from stringflux.cases.demonstrations.hum import mains_hum
from stringflux.cases.demonstrations.settings import LessonSettings
from stringflux.cases.demonstrations.three_coils import bare
from stringflux.cases.pickup import Pickup
from stringflux.geometry.errors import InputError
from stringflux.postprocess.demonstrations.mains import left_of_pair

pytestmark = pytest.mark.usefixtures("shared_solutions")


@pytest.fixture(scope="module", params=["bench-single", "stacked-six"])
def pickup(request: pytest.FixtureRequest) -> Pickup:
    return solve(load_case(request.param), quality="draft")


def test_voltage_is_that_of_the_areas(pickup: Pickup) -> None:
    found = mains_hum(pickup, LessonSettings(field=2e-6, mains=60.0))
    hum = pickup.hum()
    loudest = hum.area if hum.residue is None else hum.residue.alone
    assert found.voltage == pytest.approx(loudest.voltage(2e-6, 60.0), rel=1e-9)
    assert found.area == pytest.approx(float(np.linalg.norm(loudest.total)), rel=1e-9)
    assert found.signal == hum.signal[0]
    np.testing.assert_allclose(found.hums / found.fields, found.voltage / found.field)


def test_curves_obey_the_law(pickup: Pickup) -> None:
    """e by differences of λ, its rms, ∫ e dt over half a period = −Δλ."""
    found = mains_hum(pickup, LessonSettings())
    np.testing.assert_allclose(found.linkage, found.turns * found.per_turn, rtol=1e-12)
    np.testing.assert_allclose(found.emf[1:-1], -np.gradient(found.linkage, found.time)[1:-1], rtol=2e-3,
                               atol=1e-6 * np.max(found.emf))
    assert np.sqrt(np.mean(found.emf[:-1] ** 2)) == pytest.approx(found.voltage, rel=1e-9)
    quarter = (found.time.size - 1) // 8
    half = slice(quarter, 3 * quarter + 1)
    assert np.trapezoid(found.emf[half], found.time[half]) == pytest.approx(
        found.linkage[quarter] - found.linkage[3 * quarter], rel=1e-3)


def test_pair_leaves_what_its_areas_leave(pickup: Pickup) -> None:
    found = mains_hum(pickup, LessonSettings())
    residue = pickup.hum().residue
    if residue is None:
        np.testing.assert_array_equal(found.other_emf, -found.emf)
        assert (found.left, found.level) == (0.0, -np.inf)
        return
    assert found.several
    np.testing.assert_allclose(found.left_emf, found.emf + found.other_emf, rtol=1e-6,
                               atol=1e-9 * np.max(found.emf))
    assert found.left <= found.field / 1e-6 * residue.voltage * (1 + 1e-9)  # which is in the worst direction
    assert found.level == pytest.approx(residue.level, abs=0.1)


def test_empty_coil_is_turns_times_area() -> None:
    """Of a round winding from a to b the mean area is π(a² + ab + b²)/3."""
    pickup = bare(solve(load_case("bench-single"), quality="draft"))
    found = mains_hum(pickup, LessonSettings(field=1e-6))
    a, b = 3e-3, 7e-3
    area = np.pi * (a * a + a * b + b * b) / 3
    assert found.turn_area == pytest.approx(area, rel=1e-9)
    assert found.voltage == pytest.approx(2 * np.pi * 50.0 * 5000 * area * 1e-6, rel=1e-9)
    assert found.signal == 0.0
    assert "The string" not in pickup.demonstrate("hum").text()


def test_sense_of_winding_turns_the_voltage() -> None:
    one = solve(load_case("bench-single"), quality="draft")
    found = [mains_hum(p, LessonSettings()) for p in (one, one.with_({"coil.winding": "clockwise"}))]
    np.testing.assert_allclose(found[1].emf, -found[0].emf, rtol=1e-9)
    assert found[0].emf[0] < 0, "B rises: e is against it"


def test_what_is_left_near_a_source_is_the_slope_of_the_field() -> None:
    for power in (1, 2, 3):
        assert left_of_pair(1e-3, 1.0, power) == pytest.approx(power * 1e-3, rel=1e-5)


def test_refusals(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(InputError, match="string"):
        solve(load_case("bench-single"), quality="draft").demonstrate("hum", string=3)
    for line, word in ((["--field", "0 T"], "above 0"), (["--field", "3mm"], "flux density"),
                       (["--amplitude", "1mm"], "makes nothing of it")):
        assert main(["demonstrate", "hum", *line, "--quality", "draft"]) == 2
        said = capsys.readouterr().err.strip().splitlines()
        assert word in said[-1]
        assert said[-1].startswith("stringflux: ")
