"""Every way to connect two coils, of one solution: laws between the rows."""

from __future__ import annotations

import math

import pytest

from stringflux.cases import load_case, solve
from stringflux.cases.cli import main
from stringflux.cases.files.load import built_in_uses, find_case, read_toml
from stringflux.cases.papers.connections import Connected, connections, ways
from stringflux.cases.solved.numerics import Numerics
from stringflux.geometry.case.model import Case
from stringflux.geometry.reading.read import read_case

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("shared_solutions")]


FEW = Numerics(band=(20.0, 1e3, 5e3, 20e3), frequencies=(20.0, 1e3, 5e3, 20e3))  # no figure here hangs on more


def two_of_six() -> Case:
    """Two coils side by side with two poles and strings each: a third of the six's unknowns, and the same laws."""
    data = read_toml(find_case("side-by-side-six"))
    (second,) = data["second_coil"]
    data["string"] = data["string"][2:4]
    data["body"][0]["across"] = "20.4 mm"
    for row, coil in ((data["row"], data["coil"]), (second["row"], second["coil"])):
        row["count"], coil["inner_length"] = 2, "16.4 mm"
    return read_case(data, materials=built_in_uses())


@pytest.fixture(scope="module")
def found() -> dict[str, Connected]:
    every = connections(solve(two_of_six(), quality="draft", numerics=FEW))
    return {c.name: c for c in every}


def test_rows_stand_to_each_other_as_the_connection_says(found: dict[str, Connected]) -> None:
    assert [n for n, c in found.items() if c.own] == ["series"]
    first, second, series = found["screws alone"], found["slugs alone"], found["series"]
    parallel, turned = found["parallel"], found["series, slugs reversed"]
    assert series.level == 0.0
    assert series.resistance == pytest.approx(first.resistance + second.resistance)
    assert 1 / parallel.resistance == pytest.approx(1 / first.resistance + 1 / second.resistance)
    # L₁ + L₂ ± 2M: without the sign they are twice the sum of those alone
    twice = 2 * (first.inductance + second.inductance)
    assert series.inductance + turned.inductance == pytest.approx(twice, rel=1e-3)
    assert turned.hum == pytest.approx(first.hum + second.hum, rel=1e-2)
    assert series.hum < 0.25 * first.hum  # the rows are not alike, so some is left
    ratio = 10 ** (first.level / 20) + 10 ** (second.level / 20)
    assert ratio == pytest.approx(1.0, abs=0.02)
    assert turned.level < -15.0
    assert series.hum_level < turned.hum_level - 40


def test_ways_of_two() -> None:
    assert list(ways(load_case("stacked-six"))) == ["series", "parallel", "upper alone", "lower alone",
                                                    "series, lower reversed", "parallel, lower reversed"]


def test_printed_and_refused(capsys: pytest.CaptureFixture[str], found: dict[str, Connected]) -> None:
    assert main(["impedance", "baritone-six", "--connections"]) == 2
    assert "one coil, which goes one way only" in capsys.readouterr().err
    assert math.isfinite(found["series"].hum_level)
