"""The demonstration "three coils": L against the closed form, S against the pickup's, the string's L too."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from stringflux.cases import load_case, solve
from stringflux.cases.cli import main
from stringflux.cases.demonstrations.settings import LessonSettings
from stringflux.cases.demonstrations.three_coils import at_rest, bare, three_coils, with_charge
from stringflux.cases.pickup import Pickup
from stringflux.geometry.errors import CaseError, InputError
from stringflux.postprocess.demonstrations.coils import ThreeCoils
from stringflux.postprocess.demonstrations.three_coils_shown import _proportion
from stringflux.postprocess.string.heard import heard_model
from stringflux.postprocess.string.magnetisation import Layer
from stringflux.solver.coil import air
from stringflux.solver.constants import MU0
from stringflux.solver.materials import string_metal

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("shared_solutions")]

CASES = ("bench-single", "baritone-six")


@pytest.fixture(scope="module", params=CASES)
def one(request: pytest.FixtureRequest) -> tuple[Pickup, ThreeCoils]:
    pickup = solve(load_case(request.param), quality="draft")
    return pickup, three_coils(pickup, LessonSettings(string=1, amplitude=0.3e-3))[0]


def test_bare_coil_is_the_closed_form(one: tuple[Pickup, ThreeCoils]) -> None:
    pickup, found = one
    assert found.bare.inductance == pytest.approx(air.inductance(pickup.case.racetrack()), rel=1e-9)
    assert found.inductance_air == pytest.approx(found.bare.inductance, rel=1e-9)
    assert (found.bare.core, found.core.core) == ("air", "steel-1008")
    assert found.bare.inductance < found.magnet.inductance < found.core.inductance
    assert found.magnet.inductance == pytest.approx(pickup.solved.inductance())


def test_sensitivity_is_that_of_the_pickup(one: tuple[Pickup, ThreeCoils]) -> None:
    pickup, found = one
    assert found.magnet.sensitivity == pytest.approx(pickup.loop(1).sensitivity, rel=1e-9)
    n = (found.time.size - 1) // 2
    first = 2 * abs(np.fft.fft(found.magnet.emf[:n])[1]) / n
    speed = 2 * np.pi * found.frequency * found.amplitude
    assert first / speed == pytest.approx(pickup.loop(1, 0.3e-3).sensitivity, rel=1e-3)


def test_without_a_magnet_nothing_is_heard(one: tuple[Pickup, ThreeCoils]) -> None:
    _, found = one
    for coil in (found.bare, found.core):
        assert (coil.magnet_flux, coil.string_flux, coil.sensitivity) == (0.0, 0.0, 0.0)
        assert not np.any(coil.emf)


def test_weaker_magnets_end_in_nothing(one: tuple[Pickup, ThreeCoils]) -> None:
    """S falls with the charge, and ends in proportion to it or faster: the walls in the steel are held."""
    pickup, found = one
    assert np.all(np.diff(found.charged) > 0)
    weak = [with_charge(pickup, share).loop(1).sensitivity for share in (0.01, 0.001)]
    assert weak[0] < found.charged[1] / 8
    assert weak[1] < weak[0] / 9


def test_string_adds_most_to_the_steel_core(one: tuple[Pickup, ThreeCoils]) -> None:
    """More field reaches it there for one ampere; over the magnet its steel is nearly saturated."""
    _, found = one
    assert 0 < found.bare.string_inductance < found.core.string_inductance < 0.05 * found.core.inductance
    share = [c.string_inductance / c.inductance for c in found.coils]
    assert share[2] < share[1]


def test_hardly_magnetic_string_adds_what_its_law_says() -> None:
    """For χ ≪ 1 nothing acts back: ΔL = (χ/μ₀) ∫ b² dV, b that of the coil alone along the string's axis."""
    chi = 1e-4
    pickup = bare(solve(load_case("bench-single"), quality="draft"))
    solved = pickup.solved
    shape = solved.strings[0].shape
    metal = string_metal(solved.materials, shape.steel)
    law = replace(metal, law="linear", chi_initial=chi, chi_reversible=chi, saturation=np.inf)
    area = np.pi * shape.core_radius**2
    model = heard_model(solved.solution().field, shape, (Layer(area=area, law=law),))
    rest, added = at_rest(model)
    assert rest == 0.0
    x = np.linspace(-60e-3, 60e-3, 4001)
    b = air.field(pickup.case.racetrack(), np.array([x, 0 * x, 0 * x + shape.axis_height]))
    wanted = chi / MU0 * area * np.trapezoid(np.sum(b**2, axis=0), x)
    assert added == pytest.approx(wanted, rel=5e-3)  # fields are means over the section, which is 0.4 mm wide


def test_refusals(capsys: pytest.CaptureFixture[str]) -> None:
    pickup = solve(load_case("bench-single"), quality="draft")
    with pytest.raises(InputError, match="string"):
        pickup.demonstrate("three-coils", string=3)
    with pytest.raises(CaseError, match="nothing magnetises the strings"):
        bare(pickup).demonstrate("three-coils")
    for line, word in ((["side-by-side-six"], "one row of poles in one coil"),
                       (["--drive", "pluck"], "makes nothing of it")):
        assert main(["demonstrate", "three-coils", *line, "--quality", "draft"]) == 2
        said = capsys.readouterr().err.strip().splitlines()
        assert word in said[-1]
        assert said[-1].startswith("stringflux: ")


@pytest.mark.parametrize(("charged", "word"), [
    ((0.0, 0.7, 0.9, 1.0), "saturated"), ((0.0, 0.22, 0.48, 1.0), "goes with the magnet"),
    ((0.0, 0.1, 0.3, 1.0), "less than half"),
])
def test_words_go_by_what_half_the_charge_leaves(charged: tuple[float, ...], word: str) -> None:
    pickup = solve(load_case("bench-single"), quality="draft")
    found, _ = three_coils(pickup, LessonSettings())
    assert word in _proportion(replace(found, charged=np.array(charged)))
