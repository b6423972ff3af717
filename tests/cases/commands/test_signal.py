"""`stringflux signal`: what it writes, and what it refuses."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import pytest
import soundfile

from stringflux.cases.cli import main
from stringflux.cases.commands.signal import KIND

QUICK = ["bench-single", "--quality", "draft"]


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("heard") / "signal"
    assert main(["signal", *QUICK, "--seconds", "3", "--out", str(folder)]) == 0
    return folder


@pytest.mark.slow
def test_files(written: Path) -> None:
    names = {p.name for p in written.iterdir()}
    assert {"string-1.wav", "string-1.csv", "string-1.parquet", "volts.txt", "signal.json", "spectrum.svg"} <= names
    assert all(KIND.writes(name) for name in names)
    assert sorted(names) == json.loads((written / "signal.json").read_text(encoding="utf-8"))["files"]


def test_sound_is_volts(written: Path) -> None:
    """A sample times the volts of full scale is the voltage of the table; the last second fades to nothing."""
    told = json.loads((written / "signal.json").read_text(encoding="utf-8"))["result"]
    full = told["volts_per_full_scale"]
    assert f"{full:.6g} V" in (written / "volts.txt").read_text(encoding="utf-8").splitlines()
    samples, rate = soundfile.read(written / "string-1.wav")
    table = pq.read_table(written / "string-1.parquet")
    volts = table["emf open"].to_numpy()
    assert samples.size == volts.size == 3 * rate
    until = 2 * rate
    np.testing.assert_allclose(samples[:until] * full, volts[:until], atol=1e-6 * full)
    assert np.max(np.abs(samples[:until])) * full == pytest.approx(told["strings"][0]["peak"], rel=1e-3)
    assert samples[-1] == 0.0
    middle = round(2.5 * rate)
    assert samples[middle] * full == pytest.approx(0.5 * volts[middle], abs=2e-3 * full)


def test_tables(written: Path) -> None:
    table = pq.read_table(written / "string-1.parquet")
    assert table.column_names == ["time", "up", "across", "linkage", "emf open", "voltage loaded"]
    assert table.schema.field("linkage").metadata[b"unit"] == b"Wb"
    assert table.schema.field("linkage").metadata[b"shown"] == b"uWb"
    rows = list(csv.reader((written / "string-1.csv").read_text(encoding="utf-8").splitlines()))
    assert rows[0] == ["time s", "up m", "across m", "linkage Wb", "emf open V", "voltage loaded V"]
    assert len(rows) == 1 + 48000
    few = np.array(rows[1:], dtype=float)
    np.testing.assert_allclose(few[:, 4], table["emf open"].to_numpy()[:48000], rtol=1e-5, atol=1e-9)


def test_sine(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["signal", *QUICK, "--drive", "sine", "--frequency", "100Hz", "--amplitude", "0.3mm",
                 "--seconds", "1", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)["result"]
    assert told["pluck"] == {"amplitude": pytest.approx(0.3e-3), "frequency": 100.0,
                             "angle": pytest.approx(np.pi / 2)}
    assert told["strings"][0]["swing_up"] == pytest.approx(0.3e-3, rel=1e-3)


@pytest.mark.parametrize(("line", "word"), [
    (["--drive", "bow"], "write pluck, sine"),
    (["--amplitude", "1mm"], "--drive sine"),
    (["--drive", "sine", "--pluck", "1mm"], "--drive pluck"),
    (["--drive", "sine", "--frequency", "20kHz"], "1 Hz to 5 kHz"),
    (["--drive", "sine", "--amplitude", "1Hz"], "a length"),
    (["--seconds", "0"], "0.5 to 60"),
    (["--seconds", "nan"], "0.5 to 60"),
])
def test_refusals(line: list[str], word: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["signal", *QUICK, *line]) == 2
    said = capsys.readouterr().err.strip().splitlines()
    assert word in said[-1]
    assert said[-1].startswith("stringflux: --")
