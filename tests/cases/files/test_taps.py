"""A coil at one of its taps: its inner turns, with the space, wire and measured resistance that they have."""

from __future__ import annotations

from typing import Any

import pytest

from stringflux.cases import at_tap, load_case, solve
from stringflux.cases.cli import main
from stringflux.cases.files.taps import load_at_tap, tap_changes
from stringflux.geometry import Case, CaseError

pytestmark = pytest.mark.usefixtures("shared_solutions")

TAPPED = {"coil.taps": [2000, 3000]}
TWO = {"coil.taps": [1000], "second_coil.1.coil.taps": [1000, 2000]}


def at(tap: str, changes: dict[str, Any] | None = None, name: str = "bench-single") -> Case:
    return load_at_tap(name, TAPPED | (changes or {}), tap)[0]


def test_the_turns_keep_their_place() -> None:
    whole, part = load_case("bench-single", TAPPED).racetrack(), at("2000").racetrack()
    assert part.turns == 2000
    assert part.build / whole.build == pytest.approx(0.4, rel=1e-6)
    assert (part.inner_radius, part.top, part.bottom) == (whole.inner_radius, whole.top, whole.bottom)


def test_as_full_as_the_case_says() -> None:
    full = load_case("bench-single", {"coil.fill": 0.65})
    assert at("2000", {"coil.fill": 0.65}).racetrack().build == pytest.approx(0.4 * full.coil.wound, rel=1e-6)
    measured = at("2000", {"coil.wound_build": "4 mm"})
    assert measured.racetrack().build == pytest.approx(1.6e-3, rel=1e-6)
    builds = [{"height": "0 mm", "build": "3 mm"}, {"height": "11 mm", "build": "4 mm"}]
    cone = at("2000", {"coil.wound_builds": builds})
    assert cone.racetrack().builds == ((-12e-3, pytest.approx(1.2e-3)), (-1e-3, pytest.approx(1.6e-3)))


def test_what_was_measured_of_all_turns() -> None:
    made = at("2000", {"coil.resistance": "900 ohm", "coil.capacitance": "30 pF"})
    assert made.coil.capacitance is None
    (whole,) = solve(load_case("bench-single", TAPPED | {"coil.resistance": "900 ohm"})).winding()
    (alone,) = solve(made).winding()
    assert alone.resistance == pytest.approx(whole.taps[0].resistance, rel=1e-6)
    assert made.title.endswith("tap at 2000 turns")


def test_inductance_by_the_inner_part() -> None:
    pickup = solve(load_case("bench-single", TAPPED), quality="draft")
    share = at_tap(pickup, "2000").solved.inductance() / pickup.solved.inductance()
    (made,) = pickup.winding()
    assert made.taps[0].inductance_share < share < 0.4**2  # the poles are linked by all turns alike


def test_of_several_coils() -> None:
    case = load_case("stacked-six", TWO)
    names = case.coil_names()
    assert tap_changes(case, "2000")["second_coil.1.coil.turns"] == 2000
    assert tap_changes(case, f"{names[0]}: 1000")["coil.turns"] == 1000
    with pytest.raises(CaseError, match="which several coils have"):
        tap_changes(case, "1000")


@pytest.mark.parametrize(("tap", "says"), [
    ("2500", 'received "2500"; this case has taps at 2000 or 3000'),
    ("some", 'received "some"; this case has taps at 2000 or 3000'),
    (":2000", "this case has taps at"),
    ("nan", "this case has taps at"),
])
def test_refuses(tap: str, says: str) -> None:
    with pytest.raises(CaseError, match=says):
        at(tap)


def test_without_taps(capsys: pytest.CaptureFixture[str]) -> None:
    for command in ("predict", "impedance", "signal", "hum"):
        assert main([command, "bench-single", "--tap", "2000"]) == 2
        assert "this case has no taps" in capsys.readouterr().err


def test_every_command_is_at_the_tap(capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["bench-single", "--quality", "draft", "--set", "coil.taps=[2000]", "--tap", "2000"]
    for command in ("predict", "impedance", "signal", "hum"):
        assert main([command, *asked]) == 0
        assert "tap at 2000 turns" in capsys.readouterr().out
