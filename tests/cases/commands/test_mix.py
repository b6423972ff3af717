"""`stringflux mix` as a person calls it, on one string over two small pickups."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rigs.cases.envelope import document_of, result_of
from stringflux.cases.cli import main
from stringflux.cases.files.load import shipped_mixes
from stringflux.cases.files.mixes import load_mix

pytestmark = pytest.mark.usefixtures("shared_solutions")

TWO = """
[mix]
wiring = "{wiring}"

[[pickup]]
name = "neck"
case = "bench-single"
bridge_distance = "160 mm"
{first}

[[pickup]]
name = "bridge"
case = "bench-single"
bridge_distance = "{place}"
{second}

{more}
"""
DRAFT = ["--quality", "draft"]


def written(folder: Path, **words: str) -> str:
    file = folder / "two.toml"
    common = {"wiring": "master controls", "first": "", "place": "60 mm", "second": "", "more": ""}
    file.write_text(TWO.format(**(common | words)), encoding="utf-8")
    return str(file)


def told(capsys: pytest.CaptureFixture[str], file: str, *more: str) -> Any:
    assert main(["mix", file, *DRAFT, "--json", *more]) == 0
    return result_of(capsys.readouterr().out, "mix")


def levels(found: Any) -> list[float]:
    return [s["levels"][0] for s in found["selections"]]


def test_folder_and_tables(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two equal pickups as far from either end of the string: even partials go in phase, odd ones out of phase."""
    out = tmp_path / "results"
    file = written(tmp_path, place="487.7 mm")  # of 647.7 mm
    assert main(["mix", file, *DRAFT, "--pluck", "0.2 mm", "--at", "0.23", "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert "both" in said
    assert "As wired all stand in phase." in said
    document = document_of((out / "mix.json").read_text(encoding="utf-8"), "mix")
    assert sorted(p.name for p in out.iterdir()) == document["files"]
    with (out / "partials.csv").open(encoding="utf-8") as text:
        rows = [{k: float(v) for k, v in row.items()} for row in csv.DictReader(text)]
    alone = np.array([r["neck alone V"] for r in rows[:8]])
    in_phase, out_of_phase = (np.array([r[f"both, {w} V"] for r in rows[:8]]) for w in ("in phase", "out of phase"))
    none = 0.01 * alone.max()  # the coil is no point, and the strings rise to neither side of the other
    assert in_phase[1::2].max() < none
    assert out_of_phase[0::2].max() < none
    # half the impedance on the same load: a little more than one alone
    assert (1.0 < in_phase[0] / alone[0] < 1.1, 1.0 < out_of_phase[1] / alone[1] < 1.1) == (True, True)


@pytest.mark.slow
def test_reversed_leads_exchange_the_selections(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plain = told(capsys, written(tmp_path))
    turned = told(capsys, written(tmp_path, second="reversed = true"))
    assert plain["out_of_phase"] == []
    assert turned["out_of_phase"] == ["bridge"]
    assert [s["name"] for s in turned["selections"]][2:] == ["both, out of phase", "both, in phase"]
    a, b = levels(plain), levels(turned)
    assert b == pytest.approx([a[0], a[1], a[3], a[2]], rel=1e-9)
    # a magnet the other way round does the same to the phase
    magnet = told(capsys, written(tmp_path, second='change.pole.1.part.1.polarity = "south up"'))
    assert magnet["out_of_phase"] == ["bridge"]
    assert levels(magnet)[2] == pytest.approx(a[3], rel=1e-3)  # the bias is solved anew


@pytest.mark.slow
def test_hum_of_every_choice(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plain = told(capsys, written(tmp_path))
    assert [h["name"] for h in plain["hum"]] == ["neck alone", "bridge alone", "neck and bridge"]
    assert plain["hum"][2]["turned_level"] is None  # nothing is left
    assert main(["hum", "bench-single", *DRAFT, "--json"]) == 0
    alone = result_of(capsys.readouterr().out, "hum")["levels"][0]["voltage_per_microtesla"]
    assert plain["hum"][0]["voltage_per_microtesla"] == pytest.approx(alone, rel=0.02)  # its load takes little
    partner = "change.coil.winding = 'clockwise'\nchange.pole.1.part.1.polarity = 'south up'"
    hidden = told(capsys, written(tmp_path, second=partner))
    assert hidden["out_of_phase"] == []  # the strings add
    assert hidden["hum"][2]["level"] is None or hidden["hum"][2]["level"] < -60
    assert hidden["hum"][2]["turned_level"] == pytest.approx(plain["hum"][2]["level"], abs=1e-3)


@pytest.mark.slow
def test_volumes_of_their_own(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shut = {"second": "volume_setting = 0"}
    both_down = told(capsys, written(tmp_path, wiring="own volumes", **shut))
    assert levels(both_down)[2] == 0.0
    assert both_down["selections"][2]["response"]["level"] is None
    free = levels(told(capsys, written(tmp_path, wiring="own volumes, decoupled", **shut)))
    assert free[1] == 0.0
    assert 0.8 < free[2] / free[0] < 1.0  # the shut control's 250 kohm is all that is left of the other
    assert free[2] == pytest.approx(free[3], rel=1e-12)


@pytest.mark.slow
def test_one_is_switched_off(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    both = told(capsys, written(tmp_path))
    found = told(capsys, written(tmp_path, first="on = false"))
    assert [s["name"] for s in found["selections"]] == ["bridge alone"]
    assert levels(found)[0] == pytest.approx(levels(both)[1], rel=1e-12)


def test_nothing_is_heard(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = written(tmp_path, first="on = false", more="[load]\nvolume_setting = 0")
    assert main(["mix", file, *DRAFT, "--out", str(tmp_path / "out")]) == 0
    said = capsys.readouterr().out
    assert "silent" in said
    assert " off " in said


@pytest.mark.parametrize(("words", "said"), [
    ({"place": "150 mm"}, "pickup 2, bridge_distance: it stands 10 mm from pickup 1"),
    ({"place": "700 mm"}, "pickup 2, case: bench-single.toml: strings, bridge_distance: received 700 mm"),
    ({"place": "60"}, "pickup 2, bridge_distance: received"),
    ({"first": "on = false", "second": "on = false"}, "all are switched off"),
    ({"second": "on = 1"}, "pickup 2, on: received 1; write true or false"),
    ({"second": 'reverse = "yes"'}, 'did you mean "reversed"?'),
    ({"second": "volume_setting = 0.5"}, "pickup 2, volume_setting: with wiring"),
    ({"second": 'change.coil.turns = "many"'}, "pickup 2, case: bench-single.toml: coil, turns: received"),
    ({"second": 'change.string.1.pitch = "A3"'}, "string 1: its pitch in Hz is 195.998"),
    ({"wiring": "series"}, 'mix, wiring: received "series"'),
    ({"wiring": "own volumes", "more": '[load]\ncontrols = "none"'}, "load, controls: received"),
    ({"more": "[loads]"}, '"loads" is not a key here (did you mean "load"?)'),
    ({"more": '[[pickup]]\nname = "neck"\ncase = "bench-single"\nbridge_distance = "95 mm"'}, "is there twice"),
    ({"more": '[[pickup]]\nname = "middle"\ncase = "bench-singel"\nbridge_distance = "95 mm"'},
     "did you mean bench-single?"),
    ({"more": '[[pickup]]\nname = "middle"\ncase = "baritone-six"\nbridge_distance = "95 mm"'}, "has 6 strings"),
])
def test_what_cannot_be_is_told(words: dict[str, str], said: str, tmp_path: Path,
                                capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["mix", written(tmp_path, **words)]) == 2
    heard = capsys.readouterr()
    assert said in heard.err
    assert heard.err.count("\n") == 1
    assert heard.out == ""


def test_mixes_and_cases_are_told_apart(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for arguments, said in (
        (["predict", written(tmp_path)], "two.toml is a mix of several pickups, not a case; compute it by"),
        (["signal", "baritone-two-places"], "is a mix of several pickups"),
        (["mix", "bench-single"], "is a case of one pickup"),
        (["mix", "baritone-two"], "did you mean baritone-two-places?"),
        (["mix", str(tmp_path)], "is a folder"),
    ):
        assert main(arguments) == 2
        assert said in capsys.readouterr().err
    alone = tmp_path / "one.toml"
    alone.write_text('[[pickup]]\nname = "a"\ncase = "bench-single"\nbridge_distance = "90 mm"', encoding="utf-8")
    assert main(["mix", str(alone)]) == 2
    assert "received 1; a mix has 2 to 5" in capsys.readouterr().err
    shipped = Path(__file__).parents[3] / "cases" / "bench-single.toml"
    assert main(["mix", str(shipped)]) == 2
    assert "this is a case of one pickup, not a mix" in capsys.readouterr().err


@pytest.mark.parametrize("name", sorted(shipped_mixes()))
def test_shipped_mixes_load(name: str) -> None:
    loaded = load_mix(name)
    assert loaded.file.title
    assert len(loaded.cases) == len(loaded.file.pickup)
    assert loaded.nearest() >= 0.025
