"""Designs looked for: laws of scaling say what comes out; what is in the way is named; a killed search goes on."""

from __future__ import annotations

import json
import re
from csv import DictReader
from pathlib import Path

import pytest

from rigs.cases.envelope import document_of
from stringflux.cases import CompareRequest, DesignRequest, compare, design, load_case
from stringflux.cases.cli import main
from stringflux.cases.files.load import find_case, read_content
from stringflux.cases.solved.windings import coil_windings
from stringflux.cases.studies.compare.plan import Tasks
from stringflux.cases.studies.designs.wanted import wound_to
from stringflux.cases.studies.wishes.plan import planned
from stringflux.cases.studies.wishes.result import FoundDesigns
from stringflux.cases.studies.wishes.usual import usual_variations
from stringflux.cases.terminal.field import field_cell
from stringflux.geometry.reading.read import read_case

pytestmark = pytest.mark.usefixtures("shared_solutions")

Printed = pytest.CaptureFixture[str]
A_TURN = 2e-4
"""Of 5000, in ln."""
WIRES = {"coil.wire": ["40 AWG", "42 AWG", "44 AWG"]}
CHEAP = ("sensitivity", "hum_area")


@pytest.fixture(scope="module")
def as_it_is() -> dict[str, float]:
    """Figures of the bench rig as it stands, 5000 turns."""
    found = compare("bench-single", CompareRequest(vary={"coil.wire": ["42 AWG"]}, rank=CHEAP), quality="draft")
    return dict(found.outcomes[0].values)


def most_turns(wire: str) -> int:
    """Of a scattered winding of the bench rig."""
    return coil_windings(load_case("bench-single", {"coil.wire": wire, "coil.turns": 100}))[0].packings[0].most_turns


def looked_for(*want: str, **vary: list[object]) -> FoundDesigns:
    asked = DesignRequest(want=want, vary={k.replace("__", "."): v for k, v in vary.items()} or WIRES, rank=CHEAP)
    return design("bench-single", asked, quality="draft")


def test_turns_go_as_the_root_of_an_inductance_whatever_the_wire(as_it_is: dict[str, float]) -> None:
    """In one window L ∝ N², S ∝ N and R ∝ N/d²; 40 AWG does not fit so often and stays at the most that it holds."""
    wanted = 1.44 * as_it_is["inductance"]
    found = looked_for(f"inductance={wanted:.6f}H", "resistance<1.2kohm")
    turns = found.every.values("turns")
    most = most_turns("40 AWG")
    assert turns[0] == most < 6000
    assert turns[1:] == pytest.approx(6000, rel=A_TURN)
    assert found.every.values("sensitivity")[1:] == pytest.approx(1.2 * as_it_is["sensitivity"], rel=2 * A_TURN)
    R = found.every.values("resistance")
    assert R[1] == pytest.approx(1.2 * as_it_is["resistance"], rel=2 * A_TURN)
    assert R[2] / R[1] == pytest.approx(92 ** (4 / 39), rel=1e-9)
    assert found.met == (1,)
    assert found.meeting is not None
    assert [o.number for o in found.meeting.outcomes] == [1]


def test_the_wish_in_the_way_is_named_with_the_nearest_that_can_be_had(as_it_is: dict[str, float]) -> None:
    wanted = f"inductance={1.44 * as_it_is['inductance']:.6f}H"
    found = looked_for(wanted, "resistance<1kohm", "turns<9000")
    assert not found.met
    assert found.meeting is None
    ways = {way.wishes: way.designs for way in found.in_the_way}
    assert ways == {(0,): (0,), (1,): (1, 2)}  # 40 AWG gives the resistance, the others the inductance, 42 AWG nearer
    none = looked_for("resistance<10ohm", "turns>4000", coil__turns=[1000, 2000])
    assert [way.wishes for way in none.in_the_way] == [(0, 1)]  # neither alone
    assert none.in_the_way[0].designs == (0, 1)


def test_turns_that_are_given_are_not_looked_for(as_it_is: dict[str, float]) -> None:
    found = looked_for("resistance=0.8kohm", coil__turns=[4000, 5000])
    R = found.every.values("resistance")
    assert pytest.approx([0.8 * as_it_is["resistance"], as_it_is["resistance"]]) == R
    assert found.asked.sought is None
    assert found.met == ()


def test_a_level_over_the_case_itself_is_a_share_of_its_turns() -> None:
    asked = DesignRequest(want=("+1.58362dB over bench-single",), vary={"coil.wire": ["42 AWG"]}, rank=("output",))
    found = design("bench-single", asked, quality="draft")
    assert found.every.values("turns") == pytest.approx(6000, rel=A_TURN)


def test_coils_of_a_build_are_wound_in_proportion() -> None:
    """The DC resistance of two coils in series, for which nothing is solved."""
    case = load_case("side-by-side-six")
    whole = sum(w.resistance for w in coil_windings(case))
    asked = DesignRequest(want=(f"resistance={1.1 * whole:.3f}ohm",), vary={"coil.grounded_end": ["inner"]},
                          rank=("resistance",))
    plan = planned("side-by-side-six", asked, quality="draft")
    few = read_case(plan.comparison.tasks[0].document)
    made = wound_to(few, "resistance", 1.1 * whole, quality="draft")
    for coil, before in zip(made.coils(), case.coils(), strict=True):
        assert coil.turns == pytest.approx(1.1 * before.turns, rel=A_TURN)


def test_what_was_measured_of_the_coil_as_it_is_does_not_count_for_others() -> None:
    changes = {"coil.resistance": "2 kohm", "coil.capacitance": "90 pF", "coil.overall_diameter": "0.07 mm"}
    plan = planned("bench-single", DesignRequest(want=("resistance=1kohm",), vary=WIRES, rank=CHEAP), changes=changes,
                   quality="draft")
    coil = plan.comparison.tasks[0].document["coil"]
    assert not set(coil) & {"resistance", "capacitance", "overall_diameter"}
    assert any("as measured" in note for note in plan.notes)


def test_where_nobody_says_wires_turns_and_magnets_of_the_kind_are_tried() -> None:
    case, notes = load_case("bench-single"), list[str]()
    plan = usual_variations(case, read_content("bench-single"), turns=True, notes=notes)
    rows = [tuple(value.text for value in row) for row in plan]
    assert {row[0] for row in rows} == {f"alnico-{n}" for n in ("1", "2", "3", "4", "5", "5-7", "6", "8", "9")}
    wires = ["40 AWG", "41 AWG", "42 AWG", "42.5 AWG", "43 AWG"]
    assert list(dict.fromkeys(row[1] for row in rows)) == wires
    assert len(rows) == 9 * 5 * 5
    for wire in wires:
        most = most_turns(wire)
        turns = sorted({int(row[2]) for row in rows if row[1] == wire})
        assert 0 <= most - turns[-1] < 50
        assert turns[0] / most == pytest.approx(0.4, abs=50 / most)
    assert len(notes) == 3


@pytest.mark.parametrize(
    ("args", "words"),
    [
        ([], "nothing is wanted"),
        (["--want", "peak"], 'received "peak"; write for example --want'),
        (["--want", "field=900..1000"], 'received "900", which has no unit'),
        (["--want", "peek=4kHz"], "did you mean"),
        (["--want", "peak=4kHz", "--vary", "coil.turn=1,2"], "did you mean coil.turns"),
        (["--want", "peak=4kHz", "--rank", "loudness"], "--rank"),
        (["--want", "peak=4kHz", "--vary", "coil.wire=42AWG", "--vary", "coil.wire=43AWG"], "one field twice"),
        (["--want", "peak>4kHz", "--vary", "coil.turns=90000"], "none of the designs is possible"),
    ],
)
def test_bad_input_is_one_sentence(
    monkeypatch: pytest.MonkeyPatch, capsys: Printed, tmp_path: Path, args: list[str], words: str
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["design", "bench-single", *args]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    (line,) = err.splitlines()
    assert words in line
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("args", "words"), [
    (["--want", "output>=1dB over bass-four", "--vary", "coil.turns=90000"], "none of the designs is possible"),
    (["--want", "output>=1dB over bass-four", "--want", "output>=1dB over far.toml"],
     "bridge_distance: it is missing"),
    (["--want", "output>=1dB over empty.toml"], "no part of this pickup is a magnet with a charge"),
    (["--want", "string_5_output>=1dB over bass-four"], "it has 4 strings, and so no string_5_output"),
    (["--want", "output>=1dB over bass-four", "--vary", "coil.turns=1000:5000:8001"], "write fewer values"),
    (["--want", "output>=1dB over bass-four", "--out", "empty.toml"], "which is a file; name a folder"),
    (["--want", "output>=1dB over bass-four", "--out", "empty.toml/found"], "is a file and can hold no folder"),
    (["--want", "output>=1dB over bass-four", "--out", "."], "holds files but no study.json"),
    (["--want", "output>=1dB over bass-four", "--workers", "0"], "--workers: received 0"),
])
def test_what_can_be_refused_is_refused_before_a_case_to_count_over_is_solved(
    monkeypatch: pytest.MonkeyPatch, capsys: Printed, tmp_path: Path, args: list[str], words: str
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("stringflux.cases.studies.wishes.plan.evaluate", lambda *given: pytest.fail("solved"))
    bass = find_case("bass-four").read_text(encoding="utf-8")
    Path("far.toml").write_text(re.sub("(?m)^bridge_distance.*", "", bass), encoding="utf-8")
    Path("empty.toml").write_text(re.sub("(?m)^(polarity.*)", r"\1\ncharge = 0", bass), encoding="utf-8")
    assert main(["design", "baritone-six", *args]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert words in line


@pytest.mark.parametrize("command", [
    ["design", "baritone-six", "--want", "output>=1dB over bass-four"],
    ["compare", "baritone-six", "--vary", "coil.turns=5000,6000"], ["tolerance", "baritone-six"]])
@pytest.mark.parametrize("where", [None, "new/below"])
def test_a_place_that_may_not_be_written_to_is_refused_first(
    monkeypatch: pytest.MonkeyPatch, capsys: Printed, tmp_path: Path, command: list[str], where: str | None
) -> None:
    monkeypatch.chdir(tmp_path)
    for planned_in in ("wishes.plan", "tolerance.study", "compare.command"):
        name = "comparison" if planned_in == "compare.command" else "planned"
        monkeypatch.setattr(f"stringflux.cases.studies.{planned_in}.{name}", lambda *a, **k: pytest.fail("planned"))
    monkeypatch.setattr("os.access", lambda path, mode: False)
    assert main([*command, *(["--out", where] if where else [])]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    said = f'received "{where}"' if where else "left out"
    assert line.startswith(f'stringflux: --out: {said}, but "{str(tmp_path)[:20]}')
    assert line.endswith('" may not be written to; name a folder where you may')
    assert list(tmp_path.iterdir()) == []


@pytest.mark.slow
def test_a_killed_search_goes_on(monkeypatch: pytest.MonkeyPatch, capsys: Printed, tmp_path: Path) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("STRINGFLUX_CACHE", "off")
    args = ["design", "bench-single", "--want", "resistance=1kohm", "--want", "turns<5000", "--rank", "sensitivity",
            "--vary", "coil.wire=42AWG,43AWG", "--quality", "draft", "--workers", "1"]
    assert main([*args, "--json"]) == 0
    before = document_of(capsys.readouterr().out, "design")["result"]
    log = tmp_path / "bench-single-design" / "results.jsonl"
    lines = log.read_bytes().splitlines(keepends=True)
    log.write_bytes(b"".join(lines[:-1]) + lines[-1][:20])  # as a power cut leaves it
    assert main([*args, "--resume"]) == 0
    out = capsys.readouterr().out
    assert "1 design of 2 meets all wishes" in out
    assert "--set coil.turns=4613" in out
    after = json.loads((log.parent / "design.json").read_text(encoding="utf-8"))["result"]
    assert after == before
    assert after["met"] == [2]
    assert after["sought"] == "resistance=1kohm"
    assert after["designs"][0]["missed"] == ["turns<5000"]
    assert {p.name for p in log.parent.iterdir()} >= {"table.csv", "table.parquet", "trade_off.png", "design.json"}


@pytest.mark.slow
def test_crowded_windings_are_told_of_the_designs_that_are_shown(
    monkeypatch: pytest.MonkeyPatch, capsys: Printed, tmp_path: Path
) -> None:
    monkeypatch.chdir(tmp_path)
    args = ["design", "bench-single", "--want", "turns>7000", "--want", "field>100G", "--rank", "resistance",
            "--vary", "coil.turns=5000,7500", "--set", "row.face=1.6mm", "--quality", "draft", "--workers", "1"]
    assert main(args) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "predict bench-single --set row.face=1.6mm --set coil.turns=7500" in out
    assert "face field from 100 G (10 mT) on. Met by 2 of 2" in out
    assert "1 design of 2 meets all wishes" in out
    assert "Note: 7500 turns of 42 AWG take 67% of their room" in out
    sought = ["design", "bench-single", "--want", "resistance=1.2kohm", "--set", "coil.fill=0.8",
              "--rank", "sensitivity", "--vary", "coil.wire=42AWG", "--quality", "draft", "--workers", "1"]
    assert main(sought) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "Note: 7461 turns of 42AWG take 80% of their room" in out
    assert "--set coil.fill=0.8 --set coil.wire=42AWG --set coil.turns=7461" in out


@pytest.mark.slow
@pytest.mark.parametrize(("units", "head", "said"), [
    ("both", "G (mT)", r"from 100 G \(10 mT\) on"), ("si", "mT", "from 10 mT on"), ("trade", "G", "from 100 G on")])
def test_fields_of_designs_stand_in_the_units_that_are_asked_for(
    capsys: Printed, tmp_path: Path, units: str, head: str, said: str
) -> None:
    """In the table of `design` and in that of `compare`, as field_cell writes it everywhere else."""
    common = ["bench-single", "--vary", "row.face=1.6mm", "--quality", "draft", "--workers", "1", "--units", units,
              "--rank", "face_field"]
    for command in (["design", *common, "--want", "field>100G"], ["compare", *common]):
        folder = tmp_path / command[0]
        assert main([*command, "--out", str(folder)]) == 0
        out = capsys.readouterr().out
        if command[0] == "design":
            assert re.search(said, out)
        (csv,) = folder.glob("table.csv")
        with csv.open(encoding="utf-8") as rows:
            field = float(next(DictReader(rows))["face_field T"])
        for cell in (head, field_cell(field, units)):  # a cell of its own: room before it and after
            assert re.search(rf"  {re.escape(cell)}(  | *$)", out, re.MULTILINE), cell


def test_few_turns_are_looked_for_too() -> None:
    changes = {"coil.turns": 1010, "coil.bottom": "-4 mm"}
    asked = DesignRequest(want=("resistance=100ohm",), vary=WIRES, rank=CHEAP)
    plan = planned("bench-single", asked, changes=changes)
    for task in plan.comparison.tasks:
        assert read_case(task.document).coil.turns >= 100


def test_coils_of_a_build_are_varied_alike() -> None:
    case, content, notes = load_case("side-by-side-six"), read_content("side-by-side-six"), list[str]()
    plan = usual_variations(case, content, turns=True, notes=notes)
    made = Tasks(document=content, plan=plan)[len(plan) - 1].document
    first, second = made["coil"], made["second_coil"][0]["coil"]
    assert (first["turns"], first["wire"]) == (second["turns"], second["wire"])
    assert first["wire"] == "43 AWG"
    assert made["body"][0]["material"] == "alnico-9"
    assert made["pole"] == content["pole"]  # screws are no magnets
    assert all("(all coils alike)" in note for note in notes if note.startswith(("Wires", "Turns")))
    read_case(made)
