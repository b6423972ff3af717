"""What scatters and why, and the case file of one pickup of a batch."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.stats import truncnorm

from rigs.cases.scattered import NONE, one, read
from rigs.cases.strings_at_rest import string_places, undersides
from stringflux.cases.files.load import find_case, load_case, read_toml, shipped_cases
from stringflux.cases.studies.tolerance.causes import causes_of
from stringflux.cases.studies.tolerance.deviated import deviated
from stringflux.cases.studies.tolerance.statistics import sobol_sample
from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.postprocess.coil.winding import winding

FULL = str(Path(__file__).parents[3] / "full_case.toml")

ROWS = [name for name in shipped_cases() if load_case(name).is_plain_row]
"""Cases that `tolerance` takes."""




def with_scatter(name: str, **scatter: Any) -> tuple[Case, dict[str, Any]]:
    """A shipped case in which only this scatters."""
    document = read_toml(find_case(name)) | {"scatter": NONE | scatter}
    return read(document), document




@pytest.mark.parametrize("name", [*ROWS, FULL])
def test_without_deviations_it_is_the_case_itself(name: str) -> None:
    case, document = load_case(name), read_toml(find_case(name))
    causes = causes_of(case)
    made = read(deviated(case, document, causes, np.zeros(causes.size)))
    assert made.placed_poles() == case.placed_poles()
    assert made.racetrack() == case.racetrack()
    np.testing.assert_allclose(undersides(made), undersides(case), rtol=0, atol=1e-11)  # picometres are written
    np.testing.assert_allclose(string_places(made), string_places(case), rtol=0, atol=1e-11)
    assert winding(made).resistance == pytest.approx(winding(case).resistance, rel=1e-12)


@pytest.mark.parametrize("name", [*ROWS, FULL])
def test_every_pickup_of_a_batch_is_a_possible_case(name: str) -> None:
    case, document = load_case(name), read_toml(find_case(name))
    causes = causes_of(case)
    for t in causes.deviations(sobol_sample(16, causes.size, seed=1)):
        read(deviated(case, document, causes, t))


def test_usual_limits_have_their_reasons() -> None:
    causes = causes_of(load_case("baritone-six"))
    assert all(c.reason and c.limit > 0 and not c.given for c in causes.active)
    limits = {c.name: c for c in causes.active}
    # the step of ± 0.0001 in over 42 AWG's 0.06334 mm
    assert limits["wire"].limit == pytest.approx(2.54e-3 / 0.06334, rel=1e-3)
    assert "NEMA" in limits["wire"].reason
    assert len(limits["coercivity_each"].items) == 6
    assert causes.off == {"charge, each magnet": "the magnets were charged together"}
    assert {c.name for c in causes_of(load_case("bass-four")).active} >= {"charge_each"}  # charged one by one


def test_a_case_may_give_all_limits() -> None:
    causes = causes_of(load_case(FULL))
    assert all(c.given for c in causes.active)
    assert causes.correlation == 0.3
    assert {c.name for c in causes.active if c.even} == {"wire", "charge"}


def test_the_steel_of_strings_scatters_as_far_as_its_table_leaves_open() -> None:
    limits = {c.name: c for c in causes_of(load_case("baritone-six")).active}
    assert limits["pinning"].limit == 0.5  # string-steel: 600 of 1200 A/m; upwards it is more
    assert "string-steel and string-nickel-steel" in limits["pinning"].reason
    assert limits["pinning_each"].items == (1, 2, 3, 4, 5, 6)
    document = read_toml(find_case("bench-single"))
    document["strings"]["steel"] = "mine"
    document["materials"] = {"mine": {"kind": "string steel", "saturation": "1.95 T", "initial_susceptibility": 700,
                                      "reversible_susceptibility": 90, "pinning": "1000 A/m"}}
    assert "the case says" in causes_of(read(document)).off["pinning of the steel, all strings"]
    document["strings"]["state"] = "curve"
    off = causes_of(read(document)).off
    assert off["pinning of the steel, each string"] == "no string has a steel that remembers"


def test_every_string_has_its_own_steel() -> None:
    document = read_toml(find_case("bass-four")) | {"scatter": NONE | {"pinning": 0.4, "pinning_each": 0.1}}
    document["string"][2]["pinning_scale"] = 1.5
    case = read(document)
    causes = causes_of(case)
    made = read(deviated(case, document, causes, one(causes, pinning=0.5, pinning_each_3=1.0)))
    np.testing.assert_allclose([s.pinning_scale for s in made.string], [1.2, 1.2, 1.95, 1.2], rtol=1e-12)
    assert [g.like for g in causes.groups] == [None, 0]  # the runs of all strings serve each by itself


def test_what_is_no_magnet_does_not_scatter_as_one() -> None:
    document = read_toml(find_case("bench-single"))
    document["materials"] = {"line": {"kind": "linear magnet", "remanence": "1 T", "recoil_permeability": 1.05}}
    document["pole"][0]["part"][0]["material"] = "line"
    case = read(document)
    causes = causes_of(case)
    assert "remanence" in {c.name for c in causes.active}
    assert set(causes.off) == {"coercivity, batch", "coercivity, each magnet", "charge, each magnet"}
    read(deviated(case, document, causes, np.full(causes.size, -1.0)))


def test_distributions_keep_their_limits() -> None:
    causes = causes_of(with_scatter("baritone-six", turns=0.01, wire=0.02, charge=0.05, charge_each=0.1,
                                    even=["wire", "charge"])[0])
    t = causes.deviations(sobol_sample(4096, causes.size, seed=1))
    at = causes.places()
    normal, even = t[:, at["turns", 0]], t[:, at["wire", 0]]
    assert np.abs(t).max() <= 1.0
    assert normal.std() == pytest.approx(truncnorm.std(-3, 3) / 3, rel=0.005)
    assert even.std() == pytest.approx(1 / np.sqrt(3), rel=0.005)
    below_even, below = t[:, at["charge", 0]], t[:, at["charge_each", 1]]
    assert below.max() <= 0 >= below_even.max()
    assert below_even.mean() == pytest.approx(-0.5, abs=0.002)
    assert np.sqrt(np.mean(below**2)) == pytest.approx(truncnorm.std(-3, 3) / 3, rel=0.005)


@pytest.mark.parametrize("rho", [0.6, -1.0, 0.0])
def test_remanence_and_coercivity_go_together_as_told(rho: float) -> None:
    scatter = {"remanence": 0.05, "coercivity": 0.1, "remanence_each": 0.02, "coercivity_each": 0.04}
    causes = causes_of(with_scatter("baritone-six", **scatter, correlation=rho)[0])
    t, at = causes.deviations(sobol_sample(4096, causes.size, seed=1)), causes.places()
    for pair in ((("remanence", 0), ("coercivity", 0)), (("remanence_each", 3), ("coercivity_each", 3))):
        first, other = (t[:, at[key]] for key in pair)
        # the cut at three sigma takes 0.3 % off; 4096 points are good for 0.01
        assert np.corrcoef(first, other)[0, 1] == pytest.approx(rho, abs=0.015)
        assert other.std() == pytest.approx(truncnorm.std(-3, 3) / 3, rel=0.01)
    apart = np.corrcoef(t[:, at["remanence_each", 3]], t[:, at["coercivity_each", 4]])[0, 1]
    assert apart == pytest.approx(0, abs=0.02)


def test_a_high_pole_comes_nearer_to_its_string() -> None:
    case, document = with_scatter("baritone-six", height="0.1 mm", gap="0.2 mm", gap_each="0.3 mm")
    causes = causes_of(case)
    made = read(deviated(case, document, causes, one(causes, height_2=1.0, gap=-0.5, gap_each_3=1.0)))
    gaps = [low - face for low, face in zip(undersides(made), made.row.faces(), strict=True)]
    before = [low - face for low, face in zip(undersides(case), case.row.faces(), strict=True)]
    np.testing.assert_allclose(np.subtract(gaps, before), [-1e-4, -2e-4, 2e-4, -1e-4, -1e-4, -1e-4], atol=1e-11)
    # the string stays
    assert undersides(made)[1] == pytest.approx(undersides(case)[1] - 1e-4, abs=1e-11)
    assert made.row.faces()[1] == pytest.approx(case.row.faces()[1] + 1e-4, abs=1e-11)


def test_magnets_take_what_is_the_batchs_and_what_is_their_own() -> None:
    case, document = with_scatter("bass-four", remanence=0.05, remanence_each=0.02, coercivity=0.1,
                                  coercivity_each=0.04, charge=0.1, charge_each=0.2)
    causes = causes_of(case)
    t = one(causes, remanence=1.0, remanence_each_2=-1.0, coercivity=-1.0, coercivity_each_3=0.5, charge=-1.0,
            charge_each_4=-0.5)
    made = read(deviated(case, document, causes, t))
    magnets = [next(p.state for p in place.shape.parts if p.polarity) for place in made.placed_poles()]
    np.testing.assert_allclose([m.remanence for m in magnets], [1.05, 1.03, 1.05, 1.05], rtol=1e-12)
    np.testing.assert_allclose([m.coercivity for m in magnets], [0.9, 0.9, 0.92, 0.9], rtol=1e-12)
    np.testing.assert_allclose([m.charge for m in magnets], [0.9, 0.9, 0.9, 0.81], rtol=1e-12)
    steel = [p.state for place in made.placed_poles() for p in place.shape.parts if not p.polarity]
    assert {(p.remanence, p.coercivity, p.charge) for p in steel} == {(1.0, 1.0, 1.0)}


@pytest.mark.parametrize("measured", ["", "6.1 kohm"])
def test_resistance_goes_with_turns_and_the_wires_section(measured: str) -> None:
    case, document = with_scatter("baritone-six", turns=0.02, wire=0.03)
    if measured:
        document["coil"]["resistance"] = measured
        case = read(document)
    causes = causes_of(case)
    made = read(deviated(case, document, causes, one(causes, turns=1.0, wire=-1.0)))
    assert winding(made).resistance == pytest.approx(winding(case).resistance * 1.02 / 0.97**2, rel=1e-9)
    assert made.coil.turns == pytest.approx(1.02 * case.coil.turns)


@pytest.mark.parametrize(
    ("scatter", "said"),
    [
        ({"gaps": "0.1 mm"}, 'scatter: "gaps" is not a key here (did you mean "gap"'),
        ({"gap": 0.1}, "scatter, gap: received the bare number 0.1; write a length with its unit"),
        ({"turns": "1 %"}, "scatter, turns: received"),
        ({"remanence": 0.5}, "scatter, remanence: received 0.5; write a number without a unit from 0 to 0.25"),
        ({"correlation": 2}, "scatter, correlation: received 2"),
        ({"even": ["weight"]}, 'scatter, even 1: received "weight"'),
    ],
)
def test_the_table_says_what_is_wrong(scatter: dict[str, Any], said: str) -> None:
    with pytest.raises(CaseError) as error:
        with_scatter("bench-single", **scatter)
    assert said in str(error.value)


@pytest.mark.parametrize("key", ["fill", "wound_build", "wound_builds"])
def test_other_turns_take_other_room_up_to_the_window(key: str) -> None:
    case, document = with_scatter("bench-single", turns=0.01)
    track = case.racetrack()
    for share, most in ((0.5, np.inf), (1.0, track.build)):  # a window half full, and a full one
        d = case.coil.winding_wire().overall[1]
        wound = max(share * track.build, 1.2 * case.coil.turns * np.pi / 4 * d**2 / 0.9 / (track.top - track.bottom))
        fill = case.coil.turns * np.pi / 4 * d**2 / (wound * (track.top - track.bottom))
        said = {"fill": float(fill), "wound_build": f"{wound * 1e3:.9f} mm", "wound_builds": [
            {"height": "0 mm", "build": f"{0.96 * wound * 1e3:.9f} mm"},
            {"height": "9 mm", "build": f"{wound * 1e3:.9f} mm"}]}
        coil = document["coil"] | {key: said[key]}
        own = document | {"coil": coil}
        read_case = read(own)
        causes = causes_of(read_case)
        for t in (-1.0, 1.0):
            made = read(deviated(read_case, own, causes, np.full(causes.size, t)))
            assert made.coil.turns == pytest.approx(case.coil.turns * (1 + 0.01 * t), rel=1e-9)
            assert made.racetrack().build == pytest.approx(min(wound * (1 + 0.01 * t), most), rel=1e-6)
