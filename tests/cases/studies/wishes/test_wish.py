"""Wishes as they are typed."""

from __future__ import annotations

import math

import pytest

from stringflux.cases import load_case
from stringflux.cases.studies.wishes.wish import read_wishes
from stringflux.geometry.errors import CaseError

NO_LEVELS: dict[tuple[str, str], float] = {}


@pytest.mark.parametrize(
    ("text", "name", "ends"),
    [
        ("peak=4.2kHz", "resonance", (3990, 4410)),
        ("4.2 kHz", "resonance", (3990, 4410)),
        ("peak = 4..5 kHz", "resonance", (4000, 5000)),
        ("resistance<8kohm", "resistance", (-math.inf, 8000)),
        ("inductance=3H±10%", "inductance", (2.7, 3.3)),
        ("field>=950G", "face_field", (0.095, math.inf)),
        ("turns<9000", "turns", (-math.inf, 9000)),
        ("hum<−40 dB", "hum_per_output", (-math.inf, -40)),
        ("balance=1dB", "balance", (0.5, 1.5)),
        ("gap_slope>-4 dB/mm", "gap_slope", (-4000, math.inf)),
        ("string_3_output>10mV", "string_3_output", (0.01, math.inf)),
    ],
)
def test_wishes_are_read(text: str, name: str, ends: tuple[float, float]) -> None:
    (wish,) = read_wishes([text], load_case("baritone-six"))
    assert (wish.name, wish.over) == (name, "")
    assert wish.ends(NO_LEVELS) == pytest.approx(ends)
    for end in filter(math.isfinite, ends):
        assert wish.miss(end, NO_LEVELS) == pytest.approx(0, abs=1e-12)
    assert wish.miss(math.nan, NO_LEVELS) == math.inf


def test_a_level_counts_over_another_case() -> None:
    (wish,) = read_wishes(["output>=+6.0206dB over bass-four"], load_case("baritone-six"))
    levels = {("output", "bass-four"): 0.01}
    assert wish.ends(levels)[0] == pytest.approx(0.02, rel=1e-5)
    assert wish.miss(0.01, levels) == pytest.approx(math.log(2), rel=1e-5)
    (bare,) = read_wishes(["+2dB over bass-four"], load_case("baritone-six"))
    assert (bare.name, bare.low, bare.high) == ("output", 1.5, 2.5)
    assert bare.aim(levels) == pytest.approx(0.01 * 10**0.1)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("peek=4kHz", 'did you mean "peak"'),
        ("peak=4.2", "has no unit"),
        ("peak<", "write for example"),
        ("turns<9 kilo", "a plain number after the sign"),
        ("output>2dB over nowhere", "neither a file nor a shipped case"),
        ("balance<2dB over bass-four", "only output and sensitivity are levels"),
        ("string_9_output>1mV", "gives no"),
        ("4.2", "write a resistance such as"),
        ("peak=1kHz±0%", "more than 0 after ±"),
    ],
)
def test_what_is_no_wish_is_one_sentence(text: str, words: str) -> None:
    with pytest.raises(CaseError, match=words) as caught:
        read_wishes([text], load_case("baritone-six"))
    assert str(caught.value).startswith("--want: ")


def test_what_a_case_says_too_little_for() -> None:
    with pytest.raises(CaseError, match="bridge_distance: it is missing"):
        read_wishes(["output>1mV"], load_case("bench-single").model_copy(update={
            "strings": load_case("bench-single").strings.model_copy(update={"bridge_distance": None})}))
    with pytest.raises(CaseError, match="no row of poles"):
        read_wishes(["field>900G"], load_case("blade-six"))
    with pytest.raises(CaseError, match="nothing is wanted"):
        read_wishes([], load_case("bench-single"))
    with pytest.raises(CaseError, match="twice"):
        read_wishes(["peak>4kHz"] * 2, load_case("bench-single"))
