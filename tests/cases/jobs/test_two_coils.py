"""Two rods side by side, each in its coil: heard in phase and out of phase, through a load, and in a mix."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rigs.cases.envelope import result_of
from stringflux.cases.cli import main
from stringflux.cases.files.load import load_case
from stringflux.cases.jobs.plucked import vibrating_string
from stringflux.cases.jobs.prediction import predict
from stringflux.cases.output import pictures
from stringflux.cases.output.pictures import Pictures
from stringflux.cases.pickup_fields import nobody
from stringflux.cases.solved.materials import case_materials
from stringflux.cases.solved.numerics import Numerics
from stringflux.cases.solved.solve import solved_case
from stringflux.cases.solving import solve
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.postprocess.coil.controls import LoadedCoil, network
from stringflux.postprocess.plucked.modes import Damping, Pluck
from stringflux.postprocess.plucked.sensed import SensedString, sensed_string
from stringflux.postprocess.string.layers import layers_of
from stringflux.solver.coil.several import inductance_matrix_air

pytestmark = pytest.mark.usefixtures("shared_solutions")

APART = 18e-3
_ROD = """
material = "alnico-5"
diameter = "4.8 mm"
length = "17 mm"
"""
_COIL = """
inner_width = "5.4 mm"
inner_length = "5.4 mm"
outer_width = "14 mm"
bottom = "-12 mm"
top = "-1 mm"
turns = 3000
wire = "42 AWG"
"""
PAIR = f"""
[row]
count = 1
x = "9 mm"
face = "1.5 mm"

[[pole]]
[[pole.part]]{_ROD}polarity = "north up"

[coil]
name = "first"{_COIL}winding = "counter-clockwise"

[[second_coil]]
name = "second"

[second_coil.row]
count = 1
x = "-9 mm"
face = "1.5 mm"

[[second_coil.pole]]
[[second_coil.pole.part]]{_ROD}polarity = "south up"

[second_coil.coil]{_COIL}winding = "clockwise"

[strings]
scale = "25.5 in"
spacing = "10 mm"
gap = "2.5 mm"
bridge_distance = "100 mm"

[[string]]
gauge = "0.017 in"
pitch = "G3"
"""
SMALL = Pluck(displacement=2e-5, at=1 / 8, angle=np.pi / 2)
FEW = Numerics(band=(20.0, 1e3, 5e3, 20e3))  # skin in two rods of alnico is a smooth matter
WIDE = Pluck(displacement=0.5e-3, at=1 / 8, angle=np.pi / 4)


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("pair") / "pair.toml"
    path.write_text(PAIR, encoding="utf-8")
    return path


def turned(file: Path, **changes: Any) -> Case:
    return load_case(str(file), {f"connection.{k}": v for k, v in changes.items()})


@lru_cache
def heard(file: Path, how: str, against: bool) -> SensedString:
    return solve(turned(file, coils=how, reversed=["second"] if against else []), quality="draft").sensed()[0]


@lru_cache
def as_one(file: Path) -> SensedString:
    """Both coils as one field, with one map and one aperture."""
    case = turned(file)
    materials = case_materials(case)
    shape = placed_strings(case)[0].shape
    return sensed_string(solved_case(case, "draft").solution().field, shape, layers_of(shape, materials),
                         vibrating_string(placed_strings(case)[0], materials, Damping()), 0.1)


@pytest.mark.slow
def test_coil_by_coil_is_the_whole_in_phase(file: Path) -> None:
    each, whole = heard(file, "series", False), as_one(file)
    assert each.surface.coefficients == pytest.approx(whole.surface.coefficients, rel=1e-9, abs=1e-15)
    a, b = (s.play(SMALL).voltage for s in (each, whole))
    # one ratio of reversible and static slope for both, in place of one for each
    assert np.max(np.abs(a - b)) < 5e-3 * np.max(np.abs(b))
    assert each.play(WIDE).rms == pytest.approx(whole.play(WIDE).rms, rel=5e-3)
    assert not each.cancels


@pytest.mark.parametrize("changes", [{}, {"coils": "parallel"}, {"reversed": ["second"]}])
def test_coils_in_series_have_the_turns_that_b_is_made_of(file: Path, changes: dict[str, Any]) -> None:
    solved = solved_case(turned(file, **changes), "draft")
    made = solved.coils_in_series()
    assert inductance_matrix_air(made).sum() == pytest.approx(solved.solution().inductance_air)


def test_out_of_phase_is_the_difference_of_two_places(file: Path) -> None:
    """cos kd/2 in phase, sin kd/2 out of phase at the place of the pair, of every mode (d apart)."""
    plus, minus = heard(file, "series", False), heard(file, "series", True)
    assert minus.cancels
    S = np.array([c.slope() for c in plus.coils])
    assert S[0] == pytest.approx(S[1], rel=0.01)
    first, second = (c.means for c in plus.coils)
    sums = [np.sum([c.share * c.slope() * c.means for c in s.coils], axis=0) / S[0] for s in (plus, minus)]
    assert sums[0] == pytest.approx(first + second * S[1] / S[0])
    assert sums[1] == pytest.approx(first - second * S[1] / S[0])
    n = np.arange(1, 9)
    k = n * np.pi / 0.6477
    one = np.max(np.abs(sums[0]))  # two rows' worth, less what each loses of short waves
    assert sums[0][:8] == pytest.approx(2 * np.sin(k * 0.1) * np.cos(k * APART / 2), abs=0.06 * one)
    assert sums[1][:8] == pytest.approx(-2 * np.cos(k * 0.1) * np.sin(k * APART / 2), abs=0.06 * one)
    assert 0.02 < minus.play(WIDE).rms / plus.play(WIDE).rms < 0.5
    assert minus.distortion()[0].size == 0
    assert minus.reversible_level == pytest.approx(plus.reversible_level)


def test_in_parallel_half_of_each(file: Path) -> None:
    series, parallel = heard(file, "series", False), heard(file, "parallel", False)
    assert parallel.play(WIDE).voltage == pytest.approx(series.play(WIDE).voltage / 2, rel=0.02, abs=1e-5)
    assert [c.share for c in heard(file, "first", False).coils] == [1.0]


@pytest.mark.slow
def test_through_the_load(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The ways of two alike in series are their eddy currents alone; the amplifier hears less than the open coil."""
    case, plus = turned(file), heard(file, "series", False)
    ends = solved_case(case, "draft", numerics=FEW).at_ends(nobody)
    for way in ends.ways[0]:
        assert np.abs(way(np.array([20.0, 1e3, 5e3]))) == pytest.approx([1.0, 1.0, 0.98], abs=0.015)
    behind = LoadedCoil(coil=ends.coil, network=network(case.load))
    loaded = plus.play(WIDE, ways=ends.ways[0], responses=(behind,)).rms
    assert 0.8 < loaded / plus.play(WIDE).rms < 1.1
    arguments = ["signal", str(file), "--quality", "draft", "--loaded", "--pluck", "0.5 mm", "--json", "--set",
                 'connection.reversed=["second"]']
    assert main(arguments) == 0
    told = result_of(capsys.readouterr().out, "signal")["strings"][0]
    assert told["rms"] / loaded == pytest.approx(heard(file, "series", True).play(WIDE).rms / plus.play(WIDE).rms,
                                                 rel=0.4)  # high partials, which the load's peak lifts
    assert told["h2_at_1_mm"] is None


@pytest.mark.slow
def test_mixed_with_a_single_coil(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = """
    [[pickup]]
    name = "neck"
    case = "bench-single"
    bridge_distance = "160 mm"

    [[pickup]]
    name = "pair"
    case = "pair.toml"
    bridge_distance = "{place}"
    """
    mix = file.parent / "mix.toml"
    mix.write_text(text.format(place="60 mm"), encoding="utf-8")
    assert main(["mix", str(mix), "--quality", "draft", "--json"]) == 0
    found = result_of(capsys.readouterr().out, "mix")
    alone = [s["levels"][0] for s in found["selections"]]
    assert found["pickups"][1]["inductance"] > 0
    assert 0 < alone[3] < alone[2] or 0 < alone[2] < alone[3]
    # both rows of the pair are looked at: x = 0 between them is a place of no field
    assert max(found["left_out"].values()) < 0.05
    mix.write_text(text.format(place="130 mm"), encoding="utf-8")  # 30 mm off, its farther row 21 mm
    assert main(["mix", str(mix)]) == 2
    assert "it stands 21 mm from pickup 1" in capsys.readouterr().err


def test_fields_are_told_over_both_rows(file: Path) -> None:
    found = predict(turned(file), quality="draft", maps=False)
    string = found.strings[0]
    first, second = string.over
    assert (first.name, second.name, first.x, second.x) == ("first", "second", 9e-3, -9e-3)
    assert string.bias == pytest.approx(first.bias)
    assert second.bias[2] == pytest.approx(-first.bias[2], rel=0.02)
    assert first.bias[2] > 0.02
    assert [note.split(":")[0][:8] for note in found.notes] == ["a signal", "draft"]
    against = predict(turned(file, reversed=["second"]), quality="draft", maps=False)
    assert "cancel each other for a string that moves as a whole" in against.notes[0]


def test_gap_is_told_over_each_row(tmp_path: Path, capsys: pytest.CaptureFixture[str],
                                   monkeypatch: pytest.MonkeyPatch) -> None:
    """The string rises towards the bridge; over the first row its gap is what the file says."""
    path = tmp_path / "pair.toml"
    path.write_text(PAIR.replace('gap = "2.5 mm"', 'gap = "2.5 mm"\nplane_angle = "1 deg"'), encoding="utf-8")
    monkeypatch.setattr(pictures, "_makers", lambda *args: {})
    monkeypatch.setattr(pictures, "_scene", lambda *args: Pictures(files={}))
    string = predict(load_case(path), quality="draft", maps=False).strings[0]
    over = [2.5e-3, 2.5e-3 - APART * np.tan(np.radians(1.0))]
    assert [place.gap for place in string.over] == pytest.approx(over)
    assert string.gap == pytest.approx(over[0])
    folder = tmp_path / "out"
    assert main(["predict", str(path), "--quality", "draft", "--out", str(folder)]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "first second" in told
    assert "2.50 2.19" in told
    assert "…" not in told
    lines = [line.split(",") for line in (folder / "strings.csv").read_text(encoding="utf-8").splitlines()]
    row = dict(zip(*lines, strict=True))
    assert (row["gap mm"], row["gap over first mm"], row["gap over second mm"]) == ("2.5", "2.5", "2.18581")
