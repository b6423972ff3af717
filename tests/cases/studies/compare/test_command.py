"""The command `stringflux compare`: what it prints, writes and refuses."""

from __future__ import annotations

import csv
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pyarrow.parquet as pq
import pytest
from matplotlib.figure import Figure

from rigs.cases.envelope import document_of
from stringflux.cases.cli import main
from stringflux.cases.studies.compare import command as command_compare
from stringflux.cases.studies.compare import output as compare_output
from stringflux.cases.studies.compare.command import agree
from stringflux.cases.studies.designs.run import own_folder
from stringflux.cases.studies.engine import engine
from stringflux.cases.studies.engine.task import Outcome, Task
from stringflux.geometry.errors import CaseError

Printed = pytest.CaptureFixture[str]


def made_up(task: Task) -> Outcome:
    """A closed formula in place of the physics; a rod of alnico-8 fails."""
    part = task.document["pole"][0]["part"][0]
    if part["material"] == "alnico-8":
        return Outcome(number=task.number, failure="the bias field did not settle")
    gap = float(task.document["strings"]["gap"].removesuffix("mm"))
    strength = {"alnico-3": 0.7, "alnico-2": 0.8, "alnico-5": 1.3}[part["material"]]
    figures = {name: 1.0 for name in task.want}
    x = strength / gap
    figures |= {"sensitivity": 0.1 * x, "output": 0.05 * x, "pull": 9 * x**2}
    return Outcome(number=task.number, values={name: figures[name] for name in task.want}, seconds=0.1)


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[dict[str, Any]]:
    """An engine that makes its numbers up; the options it was called with."""
    called = []

    def run(tasks: Sequence[Task], folder: Path, **options: Any) -> list[Outcome]:
        called.append({"folder": folder, **options})
        folder.mkdir(exist_ok=True)
        return [made_up(task) for task in tasks]

    def no_figure(figure: Figure, *paths: Path) -> None:
        for path in paths:
            path.touch()

    monkeypatch.setattr(engine, "run_study", run)
    monkeypatch.setattr(compare_output, "save_figure", no_figure)
    monkeypatch.chdir(tmp_path)
    return called


VARY = ("--vary", "pole.part.material=alnico-3,alnico-2,alnico-5,alnico-8", "--vary", "strings.gap=2mm:3mm:3")


def test_the_command_prints_a_ranking_and_writes_a_folder(
    quick: list[dict[str, Any]], capsys: Printed, tmp_path: Path
) -> None:
    assert main(["compare", "bench-single", *VARY, "--rank", "output,pull", "--workers", "3"]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    assert "Ranked by output (more is better), then pull (less is better)." in out
    rows = [line.split() for line in out.splitlines() if "alnico-" in line and " mm" in line]
    assert rows[0][:5] == ["7", "•", "alnico-5", "2", "mm"]
    outputs = [float(row[row.index("mm") + 1]) for row in rows[:9]]
    expected = sorted((50 * s / g for s in (0.7, 0.8, 1.3) for g in (2, 2.5, 3)), reverse=True)
    assert outputs == pytest.approx(expected, rel=5e-3)  # three digits are printed
    assert "Failed: 3 of 12 designs" in out
    words = " ".join(out.split())  # lines are folded at the terminal's width
    assert "10 (pole.part.material alnico-8, strings.gap 2 mm): the bias field did not settle" in words
    assert "Results: bench-single-compare (12 designs" in out
    folder = tmp_path / "bench-single-compare"
    assert {p.name for p in folder.iterdir()} == {"table.csv", "table.parquet", "trade_off.png", "trade_off.svg"}
    assert quick[0]["workers"] == 3
    assert quick[0]["about"]["vary"] == {"pole.part.material": VARY[1].partition("=")[2], "strings.gap": "2mm:3mm:3"}


def test_the_tables_hold_inputs_and_figures_in_si(quick: list[dict[str, Any]], tmp_path: Path) -> None:
    assert main(["compare", "bench-single", *VARY, "--rank", "output,pull", "--out", "mine"]) == 0
    table = pq.read_table(tmp_path / "mine" / "table.parquet")
    assert table.num_rows == 12
    gap = table.schema.field("strings.gap")
    assert gap.metadata[b"unit"] == b"m"
    assert gap.metadata[b"shown"] == b"mm"
    assert table["strings.gap"].to_pylist() == [2e-3, 2.5e-3, 3e-3] * 4
    assert table["pole.part.material"].to_pylist()[::3] == ["alnico-3", "alnico-2", "alnico-5", "alnico-8"]
    assert table["output"][0].as_py() == pytest.approx(0.05 * 0.7 / 2)
    assert table.schema.field("output").metadata[b"unit"] == b"V"
    assert table["failure"].to_pylist()[-1] == "the bias field did not settle"
    rows = list(csv.DictReader((tmp_path / "mine" / "table.csv").read_text(encoding="utf-8").splitlines()))
    assert [float(row["strings.gap m"]) for row in rows] == table["strings.gap"].to_pylist()


def test_json_is_one_document_and_nothing_else(quick: list[dict[str, Any]], capsys: Printed) -> None:
    assert main(["compare", "bench-single", *VARY, "--rank", "pull", "--json", "--out", "mine"]) == 0
    document = document_of(capsys.readouterr().out, "compare")
    read = document["result"]
    assert read["varied"]["strings.gap"] == {"unit": "m", "dimension": "a length"}
    assert read["rank"] == [{"figure": "pull", "better": "less"}]
    assert read["order"] == [3, 6, 2, 5, 1, 4, 9, 8, 7]
    first = read["designs"][0]
    assert first["inputs"]["strings.gap"] == {"value": 2e-3, "as_written": "2 mm"}
    assert first["values"]["pull"] == pytest.approx(9 * 0.7**2 / 4)
    assert [d["design"] for d in read["designs"] if d["best"]] == [3]
    assert document["units"]["pull"] == "cent"
    assert read["designs"][-1]["failure"] == "the bias field did not settle"


@pytest.mark.parametrize("width", [80, 140])
def test_the_table_fits_the_terminal(
    quick: list[dict[str, Any]], capsys: Printed, monkeypatch: pytest.MonkeyPatch, width: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(width))
    args = ["--vary", "strings.gap=2mm:3mm:50", "--vary", "pole.part.material=alnico-3,alnico-5"]
    assert main(["compare", "bench-single", *args, "--rank", "hum_per_output,output,pull"]) == 0
    out = capsys.readouterr().out
    assert "…" not in out
    assert max(len(line.rstrip()) for line in out.splitlines() if "Ranked" not in line) <= width
    assert "60 more designs stand in the table" in out


def test_a_value_that_counts_for_some_strings_alone_is_told(quick: list[dict[str, Any]], capsys: Printed) -> None:
    assert main(["compare", "baritone-six", "--vary", "strings.gap=2mm,3mm"]) == 0
    assert "Note: strings.gap counts for string 5, 6 alone; the others have their own." in capsys.readouterr().out


def test_every_run_has_a_folder_of_its_own(quick: list[dict[str, Any]], tmp_path: Path) -> None:
    for _ in range(2):
        assert main(["compare", "bench-single", "--vary", "strings.gap=2mm,3mm"]) == 0
    assert sorted(p.name for p in tmp_path.iterdir()) == ["bench-single-compare", "bench-single-compare-2"]
    assert own_folder("bench-single-compare") == Path("bench-single-compare-3")
    first: Callable[[Path], bool] = lambda path: path.name == "bench-single-compare"  # noqa: E731
    assert own_folder("bench-single-compare", first) == Path("bench-single-compare")
    with pytest.raises(CaseError, match="--resume: there is no"):
        own_folder("bench-single-compare", lambda path: False)


def test_when_every_design_fails(quick: list[dict[str, Any]], capsys: Printed) -> None:
    assert main(["compare", "bench-single", "--vary", "pole.part.material=alnico-8"]) == 1
    out, err = capsys.readouterr()
    assert "Failed: 1 of 1 designs" in out
    assert err == "stringflux: none of the 1 designs could be computed; the first: the bias field did not settle\n"


@pytest.mark.parametrize(
    ("args", "words"),
    [
        ([], "nothing is varied"),
        (["--vary", "coil.turn=1,2"], "did you mean coil.turns"),
        (["--vary", "strings.gap=2kg,3kg"], "which is not a length"),
        (["--vary", "strings.gap=2mm:2mm:3"], "which is empty"),
        (["--vary", "strings.gap=1mm:3mm:1000000"], "this makes 1 000 000 designs"),
        (["--vary", "strings.gap=2mm", "--vary", "strings.gap=3mm"], "--vary: received one field twice"),
        (["--vary", "pole.part.material=alnico-33,alnico-5"], "no known material"),
        (["--vary", "coil.turns=90000,95000"], "none of the designs is possible; the first: coil, turns"),
        (["--vary", "strings.gap=2mm", "--rank", "outputt"], "did you mean output"),
        (["--vary", "strings.gap=2mm", "--want", "nonsense"], "--want: received the figure"),
        (["--vary", "strings.gap=2mm", "--quality", "best"], "draft, normal, fine"),
        (["--vary", "strings.gap=2mm", "--study", "nowhere.toml"], "is no file"),
        (["--vary", "strings.gap=2mm", "--sample", "x"], "--sample"),
        (["--vary", "strings.gap=2mm", "--resume"], "--resume: there is no bench-single-compare here"),
        (["--vary", "strings.gap=2mm", "--set", "coil.turn=3"], '"turns"'),
    ],
)
def test_bad_input_is_one_sentence(
    quick: list[dict[str, Any]], capsys: Printed, tmp_path: Path, args: list[str], words: str
) -> None:
    assert main(["compare", "bench-single", *args]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    (line,) = err.splitlines()
    assert words in line
    assert quick == []  # nothing was computed
    assert list(tmp_path.iterdir()) == []


def test_very_many_designs_are_asked_about(monkeypatch: pytest.MonkeyPatch) -> None:
    agree(command_compare.MANY - 1, yes=False)
    agree(10**6, yes=True)
    with pytest.raises(CaseError, match="1 000 000 000 designs"):
        agree(10**9, yes=True)
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    asked: list[str] = []

    def answer(text: str, **_: Any) -> bool:
        asked.append(text)
        return len(asked) == 1

    monkeypatch.setattr("typer.confirm", answer)
    agree(10**6, yes=False)
    assert asked == ["This makes 1 000 000 designs. Compute them all?"]
    import typer

    with pytest.raises(typer.Abort):
        agree(10**6, yes=False)


@pytest.mark.slow
def test_a_study_from_end_to_end(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: Printed
) -> None:
    """Real engine, real worker, real physics; the same command resumed computes nothing and prints the same."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    args = ["compare", "bench-single", "--vary", "strings.gap=2mm,3mm,0.2mm", "--set", "strings.plane_angle=3 deg",
            "--quality", "draft", "--workers", "1"]
    assert main(args) == 0
    first = capsys.readouterr().out
    folder = tmp_path / "bench-single-compare"
    assert {"study.json", "results.jsonl", "table.csv", "table.parquet", "trade_off.png", "trade_off.svg"} <= {
        p.name for p in folder.iterdir()}
    before = (folder / "results.jsonl").read_bytes()
    monkeypatch.setattr(compare_output, "save_figure", lambda *_: None)  # the same once more
    assert "Failed: 1 of 3 designs" in first  # a string 0.2 mm over the pole and rising by 3 degrees runs into it
    assert main([*args, "--resume"]) == 0
    again = capsys.readouterr().out
    assert first.partition("Results:")[0] == again.partition("Results:")[0]
    assert (folder / "results.jsonl").read_bytes() == before
