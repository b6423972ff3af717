"""The temperature of a case: copper, magnets, what is said and what is refused."""

from __future__ import annotations

import pytest

from stringflux.cases import load_case, solve
from stringflux.cases.solved.materials import case_materials
from stringflux.cases.solved.temperature import temperature_notes
from stringflux.geometry.errors import CaseError

pytestmark = pytest.mark.usefixtures("shared_solutions")

COPPER = 1 + 0.00393 * 40  # IEC 60028, from 20 to 60 °C
WARM = {"conditions.temperature": "60 degC"}


def test_a_warm_pickup() -> None:
    """R by copper's coefficient, the field of a rod in air by its magnet's."""
    cold = solve(load_case("bench-single"), quality="draft")
    warm = cold.with_(WARM)
    assert warm.winding()[0].resistance == pytest.approx(cold.winding()[0].resistance * COPPER)
    assert warm.winding()[0].temperature == 60.0
    assert warm.winding(20.0)[0].resistance == pytest.approx(cold.winding()[0].resistance)
    fields = [p.prediction().poles[0].field for p in (cold, warm)]
    assert fields[1] / fields[0] == pytest.approx(1 - 40 * 2e-4, rel=1e-5)
    assert warm.solved.resistance() == pytest.approx(cold.solved.resistance() * COPPER)
    assert warm.prediction().coil.inductance == pytest.approx(cold.prediction().coil.inductance, rel=1e-9)
    r = [float(p.impedance().terminals.circuit.resistance) for p in (cold, warm)]
    assert r[1] == pytest.approx(r[0] * COPPER)


def test_linear_magnets_follow_their_remanence() -> None:
    case = load_case("bench-single", {"pole.1.part.1.material": "ceramic-8"})
    cold, warm = (solve(c, quality="draft").prediction().poles[0].field for c in (
        case, load_case("bench-single", {"pole.1.part.1.material": "ceramic-8", **WARM})))
    assert warm / cold == pytest.approx(1 - 0.002 * 40, rel=1e-4)


def test_what_is_said() -> None:
    assert not _said("bench-single", {})
    (warm,) = _said("bench-single", WARM)
    assert warm == ("at 60 °C the copper has 16 % more resistance than at 20 °C; alnico-5 0.8 % less remanence (-1.2 "
                    "to +0.4 % by what is known of it); poles of steel and strings are taken as at 20 °C.")
    _, cold = _said("bench-single", {"pole.1.part.1.material": "ceramic-5", "conditions.temperature": "-20 degC"})
    assert cold.startswith("at -20 °C the knee of ceramic-5 stands at ")
    assert "that part does not come back" in cold
    assert len(_said("bench-single", {"pole.1.part.1.material": "ceramic-5", **WARM})) == 1


def _said(case: str, changes: dict[str, str]) -> tuple[str, ...]:
    read = load_case(case, changes)
    return temperature_notes(read, case_materials(read))


def test_beyond_the_table() -> None:
    case = load_case("bench-single", {"pole.1.part.1.material": "ndfeb-38", "conditions.temperature": "100 degC"})
    with pytest.raises(CaseError, match="conditions, temperature: received 100 degC; what is known of 'ndfeb-38'"):
        case_materials(case)
