"""`stringflux wind` and `stringflux impedance` at the command line."""

from __future__ import annotations

import csv
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from rigs.cases.envelope import result_of
from stringflux.cases.cli import main
from stringflux.cases.jobs.impedance import control_settings
from stringflux.cases.solved import row_case, signal_doubt
from stringflux.cases.solved.numerics import SHIPPED
from stringflux.cases.solved.row_case import RowCase
from stringflux.geometry.case.controls import Load

pytestmark = pytest.mark.usefixtures("shared_solutions")

Printed = pytest.CaptureFixture[str]


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """A row that is not solved: 2 H, falling with frequency."""

    def row(*args: object, **options: object) -> Any:
        return SimpleNamespace(inductance=2.0)

    def per_turn(solved: RowCase, stage: object) -> Any:
        return np.array([[2.0 / solved.signed_turns[0] ** 2]])

    def answer(row: Any, materials: object, frequencies: Any) -> Any:
        f = np.asarray(frequencies)
        return SimpleNamespace(frequency=f, inductance=1.5 + 0.5 / (1 + 2j * np.pi * f * 5e-6))

    monkeypatch.setattr(RowCase, "solution", row)
    monkeypatch.setattr(RowCase, "per_turn", per_turn)
    monkeypatch.setattr(row_case, "row_impedance", answer)
    monkeypatch.setattr(signal_doubt, "signal_notes", lambda *args: ())


def refused(capsys: Printed, *args: str) -> str:
    assert main(args) == 2
    out, err = capsys.readouterr()
    assert out == ""
    (line,) = err.splitlines()
    return line


def test_wind_prints_what_to_wind(capsys: Printed) -> None:
    assert main(["wind", "baritone-six", "--for", "6.2kohm", "--at", "20degC", "--spool", "100g",
                 "--set", "coil.taps=[3000]"]) == 0
    out = capsys.readouterr().out
    for words in ("8500 of 42 AWG", "1133 m", "5.106 kΩ", "hexagonal", "8500 turns", "computed, not tabulated",
                  "enough for 3", "Taps", "more than a scattered winding", "6.200 kΩ"):  # the sheet of the answer
        assert words in out
    assert max(len(line.rstrip()) for line in out.splitlines()) <= 118
    assert "e+" not in out


@pytest.mark.usefixtures("quick")
def test_wind_for_an_inductance(capsys: Printed) -> None:
    assert main(["wind", "baritone-six", "--for", "2.42 H"]) == 0
    assert "7700 turns" in capsys.readouterr().out  # √1.21 × 7000
    assert main(["wind", "baritone-six", "--for", "20 H"]) == 0
    assert "do not fit" in capsys.readouterr().out


def test_wind_as_json(capsys: Printed) -> None:
    assert main(["wind", "baritone-six", "--json", "--for", "3 kohm", "--spool", "1 lb",
                 "--set", "coil.capacitance=95 pF"]) == 0
    out, err = capsys.readouterr()
    read = result_of(out, "wind")
    assert err == ""
    assert read["winding"]["capacitance"] == 95e-12
    assert read["wanted"]["kind"] == "resistance"
    assert read["wanted"]["fits"] is True
    assert read["coils_from_spool"] == pytest.approx(0.45359237 / read["winding"]["mass"], rel=1e-8)  # nine digits


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["--for", "6.2"], '--for: received "6.2"; write a resistance such as "6.2 kohm" or an inductance such as'),
        (["--for", "6.2 mm"], "--for"),
        (["--for", "-1 kohm"], "write a value above 0"),
        (["--at", "warm"], '--at: received "warm"; write a temperature such as "23 degC"'),
        (["--at", "900 degC"], "write -50 to 150 degC"),
        (["--spool", "3 m"], '--spool: received "3 m"; write a mass such as "100 g"'),
        (["--set", "coil.taps=[9000]"], "coil, taps: received 9000; write less than turns"),
    ],
)
def test_wind_refuses_in_one_sentence(capsys: Printed, args: list[str], words: str) -> None:
    assert words in refused(capsys, "wind", "baritone-six", *args)


@pytest.mark.usefixtures("quick")
def test_impedance_writes_its_files(tmp_path: Path, capsys: Printed) -> None:
    out = tmp_path / "deep" / "z"
    assert main(["impedance", "bench-single", "--out", str(out), "--set", "load.volume_setting=0"]) == 0
    printed = capsys.readouterr().out
    for words in ("Resonance", "Phase", "as in the case", "silent", "tone down", "450 pF", "R–L pair"):
        assert words in printed
    assert {p.name for p in out.iterdir()} == {"impedance.csv", "impedance.png", "impedance.svg", "coil.cir"}
    with (out / "impedance.csv").open(encoding="utf-8") as file:
        head, *rows = csv.reader(file)
    assert head[:5] == ["frequency Hz", "L H", "R ohm", "|Z| ohm", "phase deg"]
    assert (float(rows[0][0]), float(rows[-1][0])) == (20.0, 20000.0)
    assert rows[0][5] == ""  # shut: no number of dB
    assert ".subckt bench_single out cold emf" in (out / "coil.cir").read_text(encoding="utf-8")


@pytest.mark.usefixtures("quick")
def test_impedance_as_json(capsys: Printed) -> None:
    assert main(["impedance", "bench-single", "--json", "--set", "load.volume_setting=0"]) == 0
    read = result_of(capsys.readouterr().out, "impedance")
    assert read["coil"]["frequency"] == list(SHIPPED.frequencies)
    assert (read["loaded"][0]["controls"], read["loaded"][0]["level"]) == ("as in the case", None)
    assert read["circuit"]["impedance_error"] < 1e-3


def test_impedance_refuses_first(tmp_path: Path, capsys: Printed, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(RowCase, "solution", None)  # nothing may be computed
    (tmp_path / "file").write_text("x", encoding="utf-8")
    assert "--out: received" in refused(capsys, "impedance", "bench-single", "--out", str(tmp_path / "file"))
    assert "draft, normal, fine" in refused(capsys, "impedance", "bench-single", "--quality", "best")
    assert "load, tone: received" in refused(capsys, "impedance", "bench-single", "--set", "load.tone=3")


def test_settings_hold_no_twin() -> None:
    for load in (Load(), Load(volume_setting=0.5), Load(controls="volume"), Load(controls="none")):
        found = control_settings(load)
        assert len({(s.volume, s.tone) for s in found}) == len(found)
        assert (found[0].volume, found[0].tone) == (load.volume_setting, load.tone_setting)


@pytest.mark.usefixtures("quick")
def test_too_many_turns_are_told_by_others(tmp_path: Path, capsys: Printed, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)  # check-case draws
    for command in ("impedance", "wind", "check-case"):
        assert main([command, "baritone-six", "--set", "coil.turns=8500"]) == 0
        assert "Note: 8500 turns of 42 AWG take 73% of their room" in " ".join(capsys.readouterr().out.split())


def test_a_real_row(capsys: Printed) -> None:
    """The whole way: the static inductance of the prediction is that of the lowest frequency."""
    assert main(["impedance", "bench-single", "--quality", "draft", "--json"]) == 0
    read = result_of(capsys.readouterr().out, "impedance")
    assert main(["predict", "bench-single", "--quality", "draft", "--json"]) == 0
    static = result_of(capsys.readouterr().out, "predict")["coil"]["inductance"]
    assert read["coil"]["inductance"][0] == pytest.approx(static, rel=1e-3)  # alnico at 20 Hz has no skin yet
    assert read["coil"]["resistance"][-1] > 2 * read["coil"]["resistance_dc"]


def test_wind_of_a_window_that_is_not_full(capsys: Printed) -> None:
    assert main(["wind", "baritone-six", "--for", "4 kohm", "--set", "coil.fill=0.7"]) == 0
    out = capsys.readouterr().out
    for words in ("2.908 mm of the window's 4.2 mm thick", "70% of that is wire", "For 4 kΩ", "55% to 75% full"):
        assert words in out
    assert main(["wind", "baritone-six", "--for", "8 kohm", "--set", "coil.fill=0.65"]) == 0
    assert "do not fit. The nearest that do, packed as the case says, are 7584" in capsys.readouterr().out


def test_wind_for_a_field(capsys: Printed) -> None:
    assert main(["wind", "bench-single", "--for", "1000 G"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    for words in ("For 1000 G (100 mT) 0.5 mm over the faces", "where 1 is full", "less than now", "1000 G N"):
        assert words in out


def test_wind_for_a_peak_as_json(capsys: Printed) -> None:
    assert main(["wind", "bench-single", "--for", "16 kHz", "--json"]) == 0
    read = result_of(capsys.readouterr().out, "wind")
    assert read["wanted"]["kind"] == "peak"
    assert read["wanted"]["reached"] == pytest.approx(16e3, rel=1e-3)
    assert read["winding"]["turns"] == read["wanted"]["turns"] > 5000


@pytest.mark.parametrize(("wanted", "says"), [
    ("2dB over nothing.toml", "nothing.toml"),
    ("2dB", "--for"),
    ("2dB below bench-single", "--for"),
])
def test_wind_refuses_a_level_over_nothing(capsys: Printed, wanted: str, says: str) -> None:
    assert says in refused(capsys, "wind", "bench-single", "--for", wanted)


PLATE = ('body=[{ shape = "box", material = "brass", along = "30 mm", across = "80 mm", height = "1 mm", '
         'top = "-17 mm", electrically = "grounded" }]')
LEAD = ("--set", "lead.length=40 cm", "--set", "lead.capacitance=150 pF/m")


def test_wind_tells_of_lead_potting_and_plates(capsys: Printed) -> None:
    assert main(["wind", "baritone-six", *LEAD, "--set", "coil.potted=wax", "--set", PLATE]) == 0
    out = " ".join(capsys.readouterr().out.split())
    for words in ("potted in wax, without its lead", "The lead adds 60 pF at its end.",
                  "Covers, plates and other bodies of metal make of the capacitance: +"):
        assert words in out


def test_the_lead_hangs_on_the_coil(quick: None, capsys: Printed) -> None:
    assert main(["impedance", "baritone-six", "--json"]) == 0
    plain = result_of(capsys.readouterr().out, "impedance")
    assert main(["impedance", "baritone-six", "--json", *LEAD]) == 0
    led = result_of(capsys.readouterr().out, "impedance")
    assert (plain["coil"]["capacitance_lead"], led["coil"]["capacitance_lead"]) == (0.0, pytest.approx(60e-12))
    c = plain["coil"]["capacitance"]
    assert led["coil"]["capacitance"] == c  # of the winding
    far = [found["coil"]["impedance"]["imaginary"][-1] for found in (plain, led)]  # well over resonance
    assert far[1] / far[0] == pytest.approx(c / (c + 60e-12), rel=0.01)
    assert main(["impedance", "baritone-six", *LEAD]) == 0
    assert "lead 60 pF" in " ".join(capsys.readouterr().out.split())


def test_half_a_lead_is_refused(capsys: Printed) -> None:
    line = refused(capsys, "wind", "baritone-six", "--set", "lead.length=40 cm")
    assert "lead, capacitance: it is missing beside length" in line
