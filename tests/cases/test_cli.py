"""The command line: what each command prints, what it writes, and how it fails."""

from __future__ import annotations

import json
import os
import tomllib
from dataclasses import replace
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from rich.console import Console

from rigs.cases.envelope import document_of
from stringflux.cases import cli, load_case, shipped_cases
from stringflux.cases.cli import main
from stringflux.cases.files.load import find_case
from stringflux.cases.terminal import options
from stringflux.cases.terminal import prediction as terminal
from stringflux.geometry.errors import SolveError
from stringflux.postprocess.records.prediction import CoilRecord, PoleRecord, SectionRecord, StringRecord
from stringflux.postprocess.results.prediction import Prediction


def made_up(count: int = 1) -> Prediction:
    """A prediction of `count` strings, the first the strongest by S."""
    empty = np.zeros(0)
    string = StringRecord(
        number=1,
        pole=1,
        wound=False,
        y=0.0,
        height=4.2e-3,
        gap=2.5e-3,
        diameter=0.43e-3,
        pitch=196.0,
        tension=70.0,
        unit_mass=1e-3,
        bias=np.array([0.0, 0.0, 0.0512]),
        reciprocal=np.zeros(3),
        linkage=6.1e-4,
        sensitivity=0.235,
        sensitivity_across=0.012,
        sensitivity_curve=0.23,
        sensitivity_reversible=0.2,
        sensitivity_band=(0.195, 0.278),
        gap_slope=-3800.0,
        peak_flux_density=1.73,
        offset=empty,
        sensitivity_offset=empty,
        map_y=empty,
        map_z=empty,
        map_linkage=np.zeros((0, 0)),
        x=empty,
        line_bias=np.zeros((3, 0)),
        line_reciprocal=np.zeros((3, 0)),
        line_flux_density=empty,
        line_moment=empty,
        line_moment_across=np.zeros((2, 0)),
    )
    strings = tuple(
        replace(
            string,
            number=n + 1,
            balance=-0.9 * n,
            balance_band=(-1.2 * n, -0.8 * n),
            balance_force=-1.0 * (count - 1 - n),
            balance_displacement=-1.0 * abs(n - 2),
        )
        for n in range(count)
    )
    poles = tuple(
        PoleRecord(number=n + 1, y=0.0, face=1.5e-3, field=0.132, field_band=(0.127, 0.137)) for n in range(count)
    )
    triangle = SectionRecord(
        points=np.array([[0.0, 1e-3, 0.0], [0.0, 0.0, 1e-3]]),
        triangles=np.array([[0], [1], [2]]),
        region=np.array([-1]),
        flux=np.zeros(3),
        b=np.zeros((2, 1)),
    )
    return Prediction(
        title="Made up",
        quality="draft",
        probe_height=5e-4,
        poles=poles,
        strings=strings,
        coil=CoilRecord(turns=7000, inductance_air=1.3, inductance=1.77),
        section=triangle,
        coupling=0.1,
        rounds=(3, 3),
        timings={"mesh": 0.1},
        notes=("what the reader should know",),
    )


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """The numbers made up instead of computed."""

    def fake(solved: Any, *, progress: Any, maps: bool, over_strings: Any = None) -> Prediction:
        progress("mesh of pole", 0.0)
        progress("mesh of pole", 0.5)
        progress("", 1.0)
        return made_up()

    monkeypatch.setattr(MAIN_JOB, "prediction_of", fake)


MAIN_JOB = import_module("stringflux.cases.jobs.prediction")
Printed = pytest.CaptureFixture[str]


def refused(capsys: Printed, *args: str, code: int = 2) -> str:
    """The one sentence a command line is refused with."""
    assert main(args) == code
    out, err = capsys.readouterr()
    assert out == ""
    (line,) = err.splitlines()
    assert line.startswith("stringflux: ")
    return line


def test_help_lists_the_commands(capsys: Printed) -> None:
    assert main([]) == 0
    out = capsys.readouterr().out
    for command in ("predict", "check-case", "start", "cases", "materials", "schema"):
        assert command in out
        assert main([command, "--help"]) == 0


def test_version(capsys: Printed) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out.startswith("stringflux ")


def test_cases(capsys: Printed) -> None:
    assert main(["cases", "-v"]) == 0
    out = capsys.readouterr().out
    assert all(name in out and str(path) in out for name, path in shipped_cases().items())


def test_start_writes_a_good_case_once(tmp_path: Path, capsys: Printed) -> None:
    path = tmp_path / "mine.toml"
    assert main(["start", str(path)]) == 0
    assert "check-case mine.toml" in path.read_text(encoding="utf-8")
    assert load_case(path).coil.turns == tomllib.loads(path.read_text(encoding="utf-8"))["coil"]["turns"]
    path.write_text("my work", encoding="utf-8")
    capsys.readouterr()
    assert "already there" in refused(capsys, "start", str(path))
    assert path.read_text(encoding="utf-8") == "my work"
    assert main(["start", str(path), "--force"]) == 0
    assert "[coil]" in path.read_text(encoding="utf-8")
    assert list(tmp_path.iterdir()) == [path]


def test_start_where_it_cannot(tmp_path: Path, capsys: Printed) -> None:
    assert "is a folder" in refused(capsys, "start", str(tmp_path))
    assert "cannot be written" in refused(capsys, "start", str(tmp_path / "no" / "x.toml"))
    assert "no possible name" in refused(capsys, "start", "a\0b")


def test_materials(tmp_path: Path, capsys: Printed, monkeypatch: pytest.MonkeyPatch) -> None:
    assert main(["materials"]) == 0
    out = capsys.readouterr().out
    assert all(name in out for name in ("alnico-5-7", "steel-1008", "string-nickel", "air"))
    assert main(["materials", "alnico-5"]) == 0
    assert "MMPA" in capsys.readouterr().out
    assert main(["materials", "alnico-v"]) == 0
    assert capsys.readouterr().out.startswith("alnico-5\n")
    assert "ceramic-5, ceramic-8" in refused(capsys, "materials", "ferrite")
    assert "name it" in refused(capsys, "materials", "--plot")
    assert ".png" in refused(capsys, "materials", "alnico-5", "--out", "curve.toml")
    assert "no folder" in refused(capsys, "materials", "alnico-5", "--out", "nowhere/curve.png")
    monkeypatch.chdir(tmp_path)
    assert main(["materials", "alnico-5", "--plot"]) == 0
    assert [p.name for p in tmp_path.iterdir()] == ["alnico-5.png"]
    capsys.readouterr()
    assert "already there" in refused(capsys, "materials", "alnico-5", "--plot")
    assert main(["materials", "alnico-5", "--plot", "--force"]) == 0


def test_schema(tmp_path: Path, capsys: Printed) -> None:
    assert main(["schema"]) == 0
    printed = json.loads(capsys.readouterr().out)
    assert "coil" in printed["properties"]
    path = tmp_path / "case.schema.json"
    assert main(["schema", "--out", str(path)]) == 0
    assert json.loads(path.read_text(encoding="utf-8")) == printed
    capsys.readouterr()
    assert "already there" in refused(capsys, "schema", "--out", str(path))


def test_check_case_draws(tmp_path: Path, capsys: Printed) -> None:
    assert main(["check-case", "bass-four", "--out", str(tmp_path / "new")]) == 0
    out = capsys.readouterr().out
    assert "ceramic-8" in out
    assert "8500 turns of 42 AWG" in out
    assert [line.split()[-1] for line in out.splitlines() if "ceramic-8" in line] == 4 * ["N"]
    assert "0.0980" in out
    assert "over N up the needle's north end turns away" in out
    drawn = (tmp_path / "new" / "bass-four-drawing.svg").read_text(encoding="utf-8")
    assert (drawn.count(">N</text>"), drawn.count(">S</text>")) == (4, 0)
    assert {p.name for p in (tmp_path / "new").iterdir()} == {
        "bass-four-drawing.png",
        "bass-four-drawing.svg",
    }
    (tmp_path / "file").write_text("x", encoding="utf-8")
    assert "--out" in refused(capsys, "check-case", "bass-four", "--out", str(tmp_path / "file"))


def test_check_case_says_what_is_done_to_a_coil_and_what_it_is_set_by(
        tmp_path: Path, capsys: Printed, monkeypatch: pytest.MonkeyPatch) -> None:
    """Potting, taps, leads, threads: a person sees that they were read, and nothing of them where none is."""
    full = Path(__file__).parents[1] / "full_case.toml"
    assert main(["check-case", str(full), "--out", str(tmp_path)]) == 0
    out = capsys.readouterr().out
    for said in ("Potted in wax; tapped at 2500 turns, counted from the inside; leads: ", '"black", finish "white".',
                 "Lead: 300 mm with 150 pF/m, together 45 pF.", "mm a turn", "Height screws: 40 mm apart, 0.635 mm a",
                 "one lowers the pickup."):
        assert said in out
    assert [line.split()[-1] for line in out.splitlines() if "ceramic-8" in line] == ["0.8"]  # M5
    screw = '[[body]]\nshape = "cylinder"\nname = "screw"\nmaterial = "steel-1008"\ndiameter = "3 mm"\n' \
            'length = "8 mm"\ncentre = ["20 mm", "0 mm"]\nlies = "upright"\ntop = "0 mm"\nthread = "M3"\n\n[coil]'
    path = tmp_path / "screw.toml"
    path.write_text(find_case("blade-six").read_text(encoding="utf-8").replace("[coil]", screw, 1), encoding="utf-8")
    assert main(["check-case", str(path), "--out", str(tmp_path)]) == 0
    assert [line.split()[-1] for line in capsys.readouterr().out.splitlines() if "screw " in line] == ["0.5"]
    for width in ("60", "80", "200"):  # nothing is cut off, however narrow the screen is
        monkeypatch.setenv("COLUMNS", width)
        assert main(["check-case", str(path), "--out", str(tmp_path)]) == 0
        out = capsys.readouterr().out
        assert [line.split()[-1] for line in out.splitlines() if "screw " in line] == ["0.5"]
        assert "-1.5 to 1.5" in out
        assert "…" not in out
    assert main(["check-case", "bass-four", "--out", str(tmp_path)]) == 0
    out = capsys.readouterr().out
    assert not any(word in out for word in ("Potted", "apped", "ead:", "a turn", "eads:"))


def test_check_case_into_a_file_and_strings_without_a_place(tmp_path: Path, capsys: Printed) -> None:
    (tmp_path / "a").touch()
    assert main(["check-case", "bench-single", "--out", str(tmp_path / "a")]) == 2
    assert capsys.readouterr().err.endswith("which is a file; name a folder\n")
    alone = tmp_path / "alone.toml"
    assert main(["start", str(alone), "--like", "blade-six"]) == 0
    alone.write_text(alone.read_text(encoding="utf-8").replace("spacing =", "# spacing =", 1), encoding="utf-8")
    capsys.readouterr()
    assert main(["check-case", str(alone), "--out", str(tmp_path)]) == 2
    assert "strings that are not as many as the poles (6 over 0) do not place themselves" in capsys.readouterr().err


@pytest.mark.usefixtures("quick")
def test_predict_prints_tables_and_says_the_stage_once(capsys: Printed) -> None:
    assert main(["predict", "bench-single", "-v"]) == 0
    out, err = capsys.readouterr()
    assert err.splitlines() == ["mesh of pole"]
    for word in ("235 (195–278)", "mV per m/s", "G3", "1.77 H", "what the reader should know", "Stage"):
        assert word in out


@pytest.mark.usefixtures("quick")
def test_json_is_one_document_and_nothing_else(capsys: Printed) -> None:
    assert main(["predict", "bench-single", "--json", "--set", "coil.turns=4000"]) == 0
    out, err = capsys.readouterr()
    read = document_of(out, "predict")
    assert err == ""
    assert read["case"]["changes"] == {"coil.turns": 4000}
    assert read["case"]["si"]["coil"]["turns"] == 4000
    assert read["result"]["title"] == "Made up"


def test_changes() -> None:
    given = ["coil.turns=6500", "string.2.gap=2 mm", 'row.face=["1 mm", "2 mm"]', "title=a=b", "note=1\nx=2"]
    assert options.read_changes(given) == {
        "coil.turns": 6500,
        "string.2.gap": "2 mm",
        "row.face": ["1 mm", "2 mm"],
        "title": "a=b",
        "note": "1\nx=2",
    }


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["predit", "x"], '(did you mean "predict"?)'),
        (["predict"], "CASE"),
        (["predict", "bench-single", "--qualty", "draft"], "--quality"),
        (["predict", "bench-single", "--quality", "best"], "draft, normal, fine"),
        (["predict", "bench-singel"], "did you mean bench-single?"),
        (["predict", "bench-single", "--set", "coil.turns"], "KEY=VALUE"),
        (["predict", "bench-single", "--set", "coil.turn=3"], '"turns"'),
        (["predict", "bench-single", "--set", "string.1.gap=2"], "write a length with its unit"),
        (["predict", "bench-single", "--set", "string.1.gap=2 kg"], "mm"),
        (["predict", "bench-single", "--out", __file__], "is a file"),
        (["predict", "bench-single", "--out"], "--out"),
        (["--nonsense"], "--nonsense"),
    ],
)
def test_bad_input_is_one_sentence(
    capsys: Printed, monkeypatch: pytest.MonkeyPatch, args: list[str], words: str
) -> None:
    monkeypatch.setattr(MAIN_JOB, "prediction_of", None)  # nothing may be computed
    assert words in refused(capsys, *args)


@pytest.mark.parametrize(
    ("error", "code", "words"),
    [
        (SolveError("the bias field did not settle"), 1, "the bias field did not settle"),
        (ZeroDivisionError("by nought\nsecond line"), 1, "ZeroDivisionError: by nought); run again with -vv"),
        (KeyboardInterrupt(), 130, "stopped; nothing was written"),
    ],
)
def test_faults_on_the_way(
    capsys: Printed,
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    error: BaseException,
    code: int,
    words: str,
) -> None:
    def fail(*args: object, **options: object) -> None:
        raise error

    monkeypatch.setattr(MAIN_JOB, "prediction_of", fail)
    args = ["predict", "bench-single", "--out", str(tmp_path / "out")]
    assert words in refused(capsys, *args, code=code)
    assert list(tmp_path.iterdir()) == []
    if code != 130:
        assert main([*args, "-vv"]) == code
        assert "Traceback" in capsys.readouterr().err


@pytest.mark.parametrize("count", [1, 6, 12])
@pytest.mark.parametrize("width", [80, 100, 140])
def test_tables_fit_the_terminal(count: int, width: int) -> None:
    to = Console(width=width, record=True, highlight=False, file=open(os.devnull, "w"))  # noqa: SIM115
    terminal.print_prediction(made_up(count), to)
    terminal.print_details(made_up(count), to)
    to.file.close()
    text = to.export_text()
    assert "…" not in text
    assert max(len(line.rstrip()) for line in text.splitlines()) <= width
    marks = 0 if count == 1 else 3
    assert text.count(f"{terminal.STRONG}\n") + text.count(f"{terminal.STRONG} ") >= marks
    assert ("Balance of the strings" in text) == (count > 1 and width == 80)


def test_no_memory_is_a_sentence(capsys: Printed, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cli, "_run", lambda args: bytearray(2**62))
    assert main(["cases"]) == 1
    assert "more memory than the machine has" in capsys.readouterr().err


@pytest.mark.parametrize("more", [["--vary", "strings.gap=1mm:3mm:100000", "--vary", "coil.turns=1000:9000:100000"],
                                  ["--vary", "strings.gap=1mm:3mm", "--sample", "3000000000"]])
def test_thousands_of_millions_of_designs_are_refused_at_once(more: list[str], capsys: Printed) -> None:
    assert "000 000 designs" in refused(capsys, "compare", "bench-single", *more, "--rank", "output", "--yes")
