"""`stringflux readings`: the file in all its faults, the command, the fitted case, the next pickup."""

from __future__ import annotations

import shutil
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rigs.cases.envelope import result_of
from stringflux.cases.cli import main
from stringflux.cases.commands import readings as command_readings
from stringflux.cases.files.changed import toml_text, with_changes
from stringflux.cases.files.load import find_case, load_case, shipped_cases
from stringflux.cases.readings.file import read_readings
from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import InputError
from stringflux.geometry.reading.changes import change_value
from stringflux.postprocess.readings.reading import KINDS, BenchLoad

SHIPPED = Path(command_readings.__file__).parents[1] / "baritone-six-readings.csv"
HEAD = "quantity,pole,string,distance,gap,frequency,temperature,load,value,uncertainty,note\n"
SMALL = (
    "# a remark\n" + HEAD + "field,1,,0.5 mm,,,,,136 mT,2 mT,\nfield,1,,2 mm,,,,,81.6 mT,2 mT,\n"
    "resistance,,,,,,23 degC,,870 ohm,1 %,\n"
)


@pytest.fixture(scope="module")
def baritone() -> Case:
    return load_case("baritone-six")


@pytest.fixture
def small(tmp_path: Path) -> Path:
    path = tmp_path / "small.csv"
    path.write_text(SMALL, encoding="utf-8")
    return path


def test_the_shipped_file_says_that_it_is_invented_and_reads(baritone: Case) -> None:
    assert SHIPPED.read_text(encoding="utf-8").startswith("# INVENTED readings")
    readings = read_readings(str(SHIPPED), baritone)
    law = read_readings(str(SHIPPED.with_name("bench-single-readings.csv")), load_case("bench-single"))
    assert {r.quantity for r in (*readings, *law)} == set(KINDS)
    assert max(r.pole or 0 for r in readings) == 6
    assert all(r.uncertainty > 0 for r in readings)


def test_shipped_readings_are_found_by_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    for name in ("baritone-six-readings", "baritone-six-readings.csv"):
        assert Path(command_readings.find_readings(name)) == SHIPPED
    (tmp_path / "baritone-six-readings.csv").touch()  # a person's own goes first
    assert command_readings.find_readings("baritone-six-readings.csv") == "baritone-six-readings.csv"
    shipped = "baritone-six-readings, bench-single-readings, falling-magnet-readings"
    with pytest.raises(InputError, match=f"shipped are {shipped}"):
        command_readings.find_readings("nowhere")


def test_cells_as_people_write_them(baritone: Case, tmp_path: Path) -> None:
    path = tmp_path / "r.csv"
    path.write_bytes((
        "\ufeffValue; Quantity; uncertainty; Load; frequency; string; gap; temperature\r\n"
        "5.1 kHz; resonance; ±2 %; 470 pF + 1 Mohm; ; ; ; \r\n"
        "40 mV; Output; 1 mV; ; ; 2; 2.5 mm; \r\n"
        "5 kohm; resistance; 1%; ; dc; ; ; 68 °F\r\n\r\n"
    ).encode())
    resonance, output, resistance = read_readings(str(path), baritone)
    assert resonance.load == BenchLoad(capacitance=470e-12, resistance=1e6)
    assert resonance.uncertainty == pytest.approx(102.0)
    assert output.value == pytest.approx(-27.9588, abs=1e-3)
    assert output.uncertainty == pytest.approx(8.6859 / 40, rel=1e-4)
    assert resistance.temperature == pytest.approx(20.0)
    assert resistance.frequency is None


FAULTS = {
    "": "r.csv is empty",
    "# only a remark\n": "r.csv is empty",
    HEAD: "there is no reading in it",
    "quantity,value\nfield,1 mT\n": 'line 1: the column "uncertainty" is missing',
    "quantity,value,uncertainty,poll\n": 'line 1: there is no column "poll" (did you mean "pole"?)',
    "quantity,value,uncertainty,value\n": 'line 1: the column "value" is there twice',
    "quantity,value,uncertainty\nfield,1 mT,1 mT\n": 'line 2, column "pole": it is missing',
    HEAD + "feild,1,,1 mm,,,,,1 mT,1 mT,\n": 'line 2, column "quantity": received "feild" (did you mean "field"?)',
    HEAD + "field,7,,1 mm,,,,,1 mT,1 mT,\n": 'line 2, column "pole": received "7"; the case has poles 1 to 6',
    HEAD + "field,,,1 mm,,,,,1 mT,1 mT,\n": 'line 2, column "pole": it is empty',
    HEAD + "field,1,,1 mm,,,,,1 mH,1 mT,\n": 'line 2, column "value": received "1 mH", which is not a flux density',
    HEAD + "field,1,,1 mm,,,,,92,1 mT,\n": 'line 2, column "value": received "92", which has no unit',
    HEAD + "field,1,,1 mm,,,,,nan mT,1 mT,\n": 'line 2, column "value": received "nan mT"',
    HEAD + "field,1,,1 mm,,,,,1e999 mT,1 mT,\n": "not a finite number",
    HEAD + "field,1,,1 mm,,,,,92 mT,-1 mT,\n": 'line 2, column "uncertainty": received "-1 mT"',
    HEAD + "field,1,,1 mm,,,,,92 mT,0 %,\n": 'line 2, column "uncertainty": received "0 %"',
    HEAD + "field,1,,1 mm,,,,,92 mT,,\n": 'line 2, column "uncertainty": it is empty',
    HEAD + "field,1,,1 m,,,,,92 mT,1 mT,\n": 'line 2, column "distance": received "1 m"; write a length from',
    HEAD + "field,1,,1 mm,2 mm,,,,92 mT,1 mT,\n": 'line 2, column "gap": received "2 mm", which a reading of field',
    HEAD + "field,1,,1 mm,,,,,92 mT,1 mT,,,9\n": "line 2: received 13 cells, but the head names 11",
    HEAD + "inductance,,,,,,,,1 H,1 %,\n": 'line 2, column "frequency": it is empty',
    HEAD + "inductance,,,,,2 MHz,,,1 H,1 %,\n": 'line 2, column "frequency": received "2 MHz"',
    HEAD + "inductance,,,,,1 kHz,,,-1 H,1 %,\n": 'line 2, column "value": received "-1 H"',
    HEAD + "resistance,,,,,,warm,,1 kohm,1 %,\n": 'line 2, column "temperature": received "warm"',
    HEAD + "resonance,,,,,,,lots,5 kHz,1 %,\n": 'line 2, column "load": received "lots"',
    HEAD + "output,,9,,2 mm,,,,3 dB,1 dB,\n": 'line 2, column "string": received "9"',
    HEAD + "output,,1,,2 mm,,,,3 dB,1 mV,\n": 'line 2, column "uncertainty": received "1 mV"',
    HEAD + "output,,1,,2 mm,,,,3 dB,1 dB,\noutput,,1,,3 mm,,,,3 mV,1 %,\n": "line 3, column \"value\": string 1 has",
    HEAD + 'field,1,,"1 mm,,,,,92 mT,1 mT,\n': "line 2: unexpected end of data; close every quotation mark",
}


@pytest.mark.parametrize("text", FAULTS)
def test_faults_of_a_file(text: str, baritone: Case, tmp_path: Path) -> None:
    path = tmp_path / "r.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_readings(str(path), baritone)
    assert FAULTS[text] in str(caught.value)
    assert str(caught.value).startswith("r.csv")


def test_files_that_are_no_text(baritone: Case, tmp_path: Path) -> None:
    (tmp_path / "r.csv").write_bytes(HEAD.encode() + b"field,1,,1 mm,,,,,92 mT,\xff\xfe")
    with pytest.raises(InputError, match=r"r\.csv, line 2: this is not UTF-8"):
        read_readings(str(tmp_path / "r.csv"), baritone)
    (tmp_path / "r.csv").write_bytes(b"#" * 1_000_001)
    with pytest.raises(InputError, match="larger than"):
        read_readings(str(tmp_path / "r.csv"), baritone)
    for odd in (tmp_path, tmp_path / "none.csv", "a\0b"):
        with pytest.raises(InputError):
            read_readings(str(odd), baritone)


LINES = SHIPPED.read_text(encoding="utf-8").splitlines()
RUBBISH = ["", "nan", "inf mT", "-", "1e400 mm", "−5 mT", "0", "abc", "1 mm", "92 mT", "\x00", '"', ",,,", "µ",
           "9" * 50, "1/0 in", "5 %", "dB", "-1 dB", "#", ";"]


def refused_or_read(text: str, path: Path, case: Case) -> None:
    path.write_text(text, encoding="utf-8", errors="replace", newline="")
    try:
        readings = read_readings(str(path), case)
    except InputError as error:
        said = str(error)
        assert said.startswith("r.csv")
        assert "\n" not in said
        assert len(said) < 500
    else:
        assert readings
        assert all(r.uncertainty > 0 and r.value == r.value for r in readings)


@settings(max_examples=300, deadline=None, database=None, derandomize=True,
          suppress_health_check=list(HealthCheck))
@given(line=st.integers(0, len(LINES) - 1), cell=st.integers(0, 11),
       new=st.one_of(st.sampled_from(RUBBISH), st.text(max_size=12)))
def test_one_cell_spoilt(line: int, cell: int, new: str, baritone: Case, tmp_path_factory: Any) -> None:
    cells = LINES[line].split(",")
    cells[cell % len(cells)] = new
    path = tmp_path_factory.getbasetemp() / "r.csv"
    refused_or_read("\n".join([*LINES[:line], ",".join(cells), *LINES[line + 1 :]]), path, baritone)


@settings(max_examples=150, deadline=None, database=None, derandomize=True,
          suppress_health_check=list(HealthCheck))
@given(start=st.integers(0, 4000), length=st.integers(0, 80), new=st.text(max_size=8))
def test_spoilt_text(start: int, length: int, new: str, baritone: Case, tmp_path_factory: Any) -> None:
    text = "\n".join(LINES)
    refused_or_read(text[:start] + new + text[start + length :], tmp_path_factory.getbasetemp() / "r.csv", baritone)


def run(*arguments: str) -> int:
    return main(["readings", *arguments, "--quality", "draft"])


def test_a_comparison(small: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("bench-single", str(small), "--json") == 0
    document = result_of(capsys.readouterr().out, "readings")
    assert [r["reading"]["line"] for r in document["readings"]] == [3, 4, 5]
    assert document["fit"] is None
    assert document["readings"][0]["predicted"] == pytest.approx(0.1383, rel=0.01)  # draft
    assert run("bench-single", str(small)) == 0
    assert "field, pole 1 at 0.5 mm" in capsys.readouterr().out


def test_a_fit_is_written_as_a_case_that_loads(small: Path, tmp_path: Path,
                                               capsys: pytest.CaptureFixture[str]) -> None:
    own, out = tmp_path / "mine.toml", tmp_path / "out"
    shutil.copy(find_case("bench-single"), own)
    assert run(str(own), str(small), "--fit", "coercivity", "--fit", "turns", "--out", str(out)) == 0
    said = capsys.readouterr().out
    assert "coercivity of the magnets" in said
    assert {p.name for p in out.iterdir()} == {"readings.csv", "readings.png", "readings.svg", "fitted-case.toml"}
    fitted = load_case(out / "fitted-case.toml")
    assert fitted.pole[0].part[0].coercivity_scale == pytest.approx(0.98, abs=0.03)
    assert fitted.coil.resistance == pytest.approx(870 / (1 + 3 * 0.00393), rel=0.01)
    text = (out / "fitted-case.toml").read_text(encoding="utf-8")
    assert "# no inner_length: a round coil" in text  # the person's own remarks stay
    assert len((out / "readings.csv").read_text().splitlines()) == 4


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--fit", "coercivty"], '--fit: received "coercivty" (did you mean "coercivity"'),
        (["--fit", "charge"], "charge of the magnets above 0.8"),
        (["--fit", "gap"], "--fit: the readings do not determine the offset of the gaps"),
        (["--relative-to", "bass-four", "--fit", "turns"], "--relative-to: received together with --fit"),
        (["--out", "/proc/none"], "--out: received"),
        (["--relative-to", "no-such"], '"no-such" is neither'),
    ],
)
def test_refusals_are_one_sentence(arguments: list[str], said: str, small: Path,
                                   capsys: pytest.CaptureFixture[str]) -> None:
    assert run("bench-single", str(small), *arguments) == 2
    told = capsys.readouterr().err.splitlines()[-1]
    assert told.startswith("stringflux: ")
    assert said in told


def test_the_next_pickup_relative_to_a_measured_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "a.csv"
    path.write_text("quantity,string,gap,value,uncertainty\noutput,1,2.5 mm,40 mV,1 mV\n", encoding="utf-8")
    again = ("bench-single", str(path), "--relative-to", "bench-single")
    assert run(*again, "--json") == 0
    same = result_of(capsys.readouterr().out, "readings")["strings"][0]
    assert (same["level"], *same["band"]) == (0.0, 0.0, 0.0)
    # at the gap of the case itself; the polynomial over gaps is good to 0.05 dB
    assert same["voltage"] == pytest.approx(40e-3, rel=6e-3)
    assert same["uncertainty"] == pytest.approx(1e-3, rel=0.02)
    assert run(*again, "--set", "coil.turns=6000", "--json") == 0
    more = result_of(capsys.readouterr().out, "readings")["strings"][0]
    assert more["level"] == pytest.approx(1.5836, abs=1e-3)  # 20 log 6/5
    assert more["voltage"] == pytest.approx(same["voltage"] * 1.2, rel=1e-6)
    assert run(*again) == 0
    assert "relative to bench-single" in capsys.readouterr().out


@pytest.mark.parametrize("name", sorted(shipped_cases()))
@pytest.mark.parametrize(
    "dotted", ["coil.turns", "coil.capacitance", "pole.1.part.1.coercivity_scale", "strings.gap"]
)
def test_changes_keep_the_persons_text(name: str, dotted: str) -> None:
    text = find_case(name).read_text(encoding="utf-8")
    value: Any = {"coil.turns": 4321, "coil.capacitance": "95 pF", "strings.gap": "2.25 mm"}.get(dotted, 0.93)
    wanted = tomllib.loads(text)
    change_value(wanted, dotted, value)
    made = with_changes(text, wanted, {dotted: value}, "two\nlines")
    assert tomllib.loads(made) == wanted
    assert made.startswith("# two\n# lines\n")
    assert abs(len(made.splitlines()) - len(text.splitlines())) <= 3


def test_a_case_written_anew_is_the_same_case() -> None:
    for path in [*shipped_cases().values(), Path(__file__).parents[2] / "full_case.toml"]:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
        assert tomllib.loads(toml_text(data)) == data
