"""`stringflux signal`, `pull` and `hum` as a person calls them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from rigs.cases.envelope import document_of, result_of
from stringflux.cases import load_case
from stringflux.cases.cli import main
from stringflux.cases.commands import hum as command_hum
from stringflux.cases.commands.signal import KIND, MARK
from stringflux.cases.jobs.hum import Hum
from stringflux.cases.output.folder import replaced_folder
from stringflux.cases.terminal.quantities import read_pluck
from stringflux.postprocess.coil.hum import HumArea

pytestmark = pytest.mark.usefixtures("shared_solutions")

BENCH = ["bench-single", "--quality", "draft"]


@pytest.mark.slow
def test_signal_writes_sounds_and_figures(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "sounds"
    assert main(["signal", *BENCH, "--pluck", "0.5mm", "--out", str(out)]) == 0
    written = document_of((out / "signal.json").read_text(encoding="utf-8"), "signal")
    assert sorted(p.name for p in out.iterdir()) == written["files"]
    assert written["result"]["strings"][0]["balance"] == 0.0
    assert 0.001 < written["result"]["strings"][0]["peak"] < 1.0
    assert "Peak" in capsys.readouterr().out
    (out / "mine.txt").write_text("kept")
    with replaced_folder(out, KIND) as folder:
        (folder / MARK).write_text("{}")
    assert sorted(p.name for p in out.iterdir()) == ["mine.txt", MARK]
    assert main(["signal", *BENCH, "--force", "0.3N", "--json"]) == 0
    assert result_of(capsys.readouterr().out, "signal")["pluck"]["force"] == 0.3


def test_more_pluck_is_more_signal(capsys: pytest.CaptureFixture[str]) -> None:
    peaks = []
    for pluck in ("0.1mm", "0.2mm"):
        assert main(["signal", *BENCH, "--pluck", pluck, "--angle", "90 deg", "--json"]) == 0
        peaks.append(result_of(capsys.readouterr().out, "signal")["strings"][0]["peak"])
    assert peaks[1] / peaks[0] == pytest.approx(2.0, rel=0.05)


def test_load_takes_the_highs(capsys: pytest.CaptureFixture[str]) -> None:
    """Controls and cable lower the peak; the rms, mostly of low partials, stays within a few dB."""
    told = []
    for more in ([], ["--loaded"]):
        assert main(["signal", *BENCH, "--pluck", "0.2mm", "--json", *more]) == 0
        told.append(result_of(capsys.readouterr().out, "signal")["strings"][0])
    assert told[1]["peak"] != told[0]["peak"]
    assert told[1]["rms"] / told[0]["rms"] == pytest.approx(1.0, abs=0.3)


@pytest.mark.parametrize(("options", "words"), [
    (["--pluck", "2furlong"], "--pluck: received"),
    (["--pluck", "1mm", "--force", "1N"], "keep one of them"),
    (["--force", "1 mm"], "--force: received"),
    (["--force", "50N"], "1 mN to 20 N"),
    (["--at", "3/2"], "between 1/100 and 99/100"),
    (["--at", "1/0"], "--at: received"),
    (["--angle", "12"], "--angle: received"),
    (["--quality", "best"], "--quality: received"),
    (["--set", 'strings.bridge_distance="2 m"'], "beyond string 1, whose scale"),
])
def test_what_cannot_be_is_told(options: list[str], words: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["signal", *BENCH[:1], *options]) == 2
    told = capsys.readouterr()
    assert words in told.err
    assert told.out == ""


def test_too_much_is_told_and_nothing_is_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "sounds"
    assert main(["signal", *BENCH, "--pluck", "15mm", "--out", str(out)]) == 2
    assert "string 1 swings" in capsys.readouterr().err
    assert not out.exists()


def test_folder_of_something_else_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "letter.txt").write_text("dear")
    assert main(["signal", *BENCH, "--out", str(tmp_path)]) == 2
    assert "signal.json" in capsys.readouterr().err


def test_bridge_distance_has_to_be_known(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "case.toml"
    shipped = Path(__file__).parents[3] / "cases" / "bench-single.toml"
    lines = shipped.read_text(encoding="utf-8").splitlines()
    file.write_text("\n".join(line for line in lines if "bridge_distance" not in line), encoding="utf-8")
    for command in ("signal", "pull"):
        assert main([command, str(file)]) == 2
        assert "strings, bridge_distance: it is missing" in capsys.readouterr().err


def test_pull(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["pull", *BENCH, "--json"]) == 0
    (string,) = result_of(capsys.readouterr().out, "pull")["strings"]
    assert string["pull"]["force_z"] < 0
    assert string["detuning"]["cents_z"] < 0 < string["detuning"]["cents_y"]
    assert main(["pull", *BENCH]) == 0
    assert "1 cent at" in capsys.readouterr().out


def test_hum(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["hum", *BENCH, "--json"]) == 0
    told = result_of(capsys.readouterr().out, "hum")
    per_microtesla = [level["voltage_per_microtesla"] for level in told["levels"]]
    assert per_microtesla[1] / per_microtesla[0] == pytest.approx(60 / 50)
    assert told["hum"]["area"]["turns"][2] == pytest.approx(5000 * np.pi * (9 + 12 + 16 / 3) * 1e-6)  # 3 … 7 mm
    assert main(["hum", *BENCH]) == 0
    assert "mean of homes" in capsys.readouterr().out


def test_hum_has_all_directions(capsys: pytest.CaptureFixture[str]) -> None:
    """A magnet between two coils hears along the strings; what mV would round away is told in µV."""
    area = HumArea(turns=np.array([0.0, 0.0, 0.2]), poles=np.array([1.4271, -1e-6, 0.1557]))
    command_hum._print(load_case("bench-single"), Hum(area=area, signal=(0.1,)))
    lines = [line.split() for line in capsys.readouterr().out.splitlines()]
    assert ["Of", "the", "m²", "m²", "m²"] in lines
    assert ["together", "1.4271", "0.0000", "0.3557"] in lines
    weak = 2 * np.pi * 50 * np.linalg.norm(area.total) * 0.06e-6
    assert ["Field,", "rms", "µV", "µV"] in lines
    assert next(line for line in lines if line[:2] == ["0.06", "µT,"])[-2] == f"{1e6 * weak:.1f}"


def test_default_pluck() -> None:
    made = read_pluck(None, None, "1/8", "45deg")
    assert (made.displacement, made.force, made.at) == (1e-3, None, 0.125)
