"""One design: its figures are those of the commands, and what is not wanted is not computed."""

from __future__ import annotations

import math
from collections.abc import Iterator

import pytest

from rigs.cases.small_case import document, task
from stringflux.cases.files.load import built_in_uses
from stringflux.cases.jobs.prediction import predict
from stringflux.cases.kept.store import Store
from stringflux.cases.solved.solve_row import forget_meshes
from stringflux.cases.solving import solve
from stringflux.cases.studies.designs.evaluate import evaluate
from stringflux.cases.studies.designs.outputs import COMMON, FIGURES, figure_of, wanted_figures
from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.read import read_case
from stringflux.postprocess.plucked.modes import Pluck

SAME = 1e-9  # one turn scaled against all turns: rounding, times the differences that make a slope


@pytest.fixture(scope="module", autouse=True)
def nothing_remembered() -> Iterator[None]:
    forget_meshes()
    yield
    forget_meshes()


@pytest.fixture(scope="module")
def case() -> Case:
    return read_case(document(), materials=built_in_uses())


def test_the_common_figures_are_those_of_a_prediction(store: Store, case: Case) -> None:
    found = evaluate(task(), store)
    assert found.failure == ""
    assert {name for name in found.values if name in FIGURES} == set(COMMON)
    told = predict(case, quality="draft", maps=False)
    for s in told.strings:
        assert found.values[f"string_{s.number}_sensitivity"] == pytest.approx(s.sensitivity, rel=SAME)
        assert found.values[f"string_{s.number}_gap_slope"] == pytest.approx(s.gap_slope, rel=1e-7)
        assert found.values[f"string_{s.number}_balance"] == pytest.approx(s.balance, abs=1e-8)
    for p in told.poles:
        assert found.values[f"pole_{p.number}_face_field"] == pytest.approx(p.field, rel=SAME)
    assert found.values["inductance"] == pytest.approx(told.coil.inductance, rel=SAME)
    assert found.values["balance"] == pytest.approx(-min(s.balance for s in told.strings), abs=1e-8)
    # a rod and a disc
    volume = math.pi / 4 * (4.8e-3**2 * 15e-3 + 5e-3**2 * 4e-3)
    assert found.values["magnet_volume"] == pytest.approx(volume, rel=SAME)


@pytest.mark.slow
def test_output_pull_and_hum_are_those_of_their_commands(store: Store, case: Case) -> None:
    found = evaluate(task(want=("output", "pull", "hum_per_output", "hum_area")), store)
    assert found.failure == ""
    played = solve(case, quality="draft").signal(Pluck(displacement=1e-3))
    for p in played:
        assert found.values[f"string_{p.number}_output"] == pytest.approx(p.signal.rms, rel=1e-7)
    cents = [s.detuning for s in solve(case, quality="draft").pull()]
    for i, d in enumerate(cents, start=1):  # its table reaches higher, so the last digits differ
        assert found.values[f"string_{i}_pull"] == pytest.approx(max(d.cents_y, d.cents_z, key=abs), rel=1e-3)
    hum = solve(case, quality="draft").hum()
    assert found.values["hum_area"] == pytest.approx(math.hypot(*hum.area.total), rel=SAME)
    level = 20 * math.log10(hum.area.voltage(0.06e-6, 50.0) / found.values["output"])
    assert found.values["hum_per_output"] == pytest.approx(level, abs=1e-6)


@pytest.mark.slow
def test_every_figure_can_be_wanted_and_every_column_is_known(store: Store) -> None:
    found = evaluate(task(want=tuple(FIGURES)), store)
    assert found.failure == ""
    assert {name for name in found.values if name in FIGURES} == set(FIGURES)
    for column, value in found.values.items():
        assert figure_of(column).unit or column == "turns"
        assert math.isfinite(value), column
    per = {name for name in FIGURES if FIGURES[name].per}
    assert {c.split("_", 2)[2] for c in found.values if c not in FIGURES} == per


def test_a_column_of_one_string_is_computed_when_wanted(store: Store) -> None:
    found = evaluate(task(want=("string_2_sensitivity",)), store)
    assert set(found.values) == {"sensitivity", "string_1_sensitivity", "string_2_sensitivity"}


def test_what_is_not_wanted_is_not_computed() -> None:
    store = Store(None, code="1")
    found = evaluate(task(want=("resistance", "magnet_volume")), store)
    assert found.failure == ""
    assert not store.counts
    evaluate(task(want=("inductance",)), store)
    assert not any(kind in ("rest", "rms", "pull", "faces", "eddies") for kind, _ in store.counts)


def test_turns_scale_without_another_solve(store: Store) -> None:
    one = evaluate(task(want=("sensitivity", "inductance", "hum_area")), store)
    made = sum(n for (_, what), n in store.counts.items() if what == "made")
    two = evaluate(task(want=("sensitivity", "inductance", "hum_area"), coil__turns=2500), store)
    assert sum(n for (_, what), n in store.counts.items() if what == "made") == made
    assert two.values["sensitivity"] == pytest.approx(one.values["sensitivity"] / 2, rel=1e-12)
    assert two.values["inductance"] == pytest.approx(one.values["inductance"] / 4, rel=1e-12)
    assert two.values["hum_area"] == pytest.approx(one.values["hum_area"] / 2, rel=1e-12)


@pytest.mark.parametrize(("changes", "word"), [
    ({"strings__gap": "-3 mm"}, "gap"),
    ({"pole__1__part__1__material": "alnico-55"}, "alnico-5"),
    ({"coil__turns": 0}, "turns"),
])
def test_an_impossible_design_is_a_sentence(store: Store, changes: dict[str, object], word: str) -> None:
    found = evaluate(task(number=7, **changes), store)
    assert found.number == 7
    assert not found.values
    assert word in found.failure
    assert "\n" not in found.failure


def test_a_figure_without_its_input_is_a_sentence(store: Store) -> None:
    data = document()
    del data["strings"]["bridge_distance"]
    without = evaluate(task(want=("output",)).__class__(number=0, document=data, quality="draft", want=("output",)))
    assert "bridge_distance" in without.failure


def test_unknown_figures_name_near_ones() -> None:
    with pytest.raises(CaseError, match="did you mean inductance"):
        wanted_figures(("inductnce",))
    with pytest.raises(CaseError, match="received the figure"):
        figure_of("string_3_inductance")
    assert "did you mean" in evaluate(task(want=("sensitivty",))).failure
    assert figure_of("string_3_output").better == "more"
    assert figure_of("string_3_balance").better == ""
