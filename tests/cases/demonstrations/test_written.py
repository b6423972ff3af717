"""What `stringflux demonstrate` writes, and what it refuses."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner

from stringflux.cases.cli import app, main
from stringflux.cases.demonstrations.written import KIND
from stringflux.postprocess.demonstrations.player import LARGEST

pytestmark = pytest.mark.slow

RUN = CliRunner()


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("shown") / "string"
    done = RUN.invoke(app, ["demonstrate", "string", "bench-single", "--quality", "draft", "--out", str(folder)])
    assert done.exit_code == 0, done.output
    assert "e = −dλ/dt" in done.output
    return folder


def test_all_files_are_there_and_of_the_kind(written: Path) -> None:
    names = {p.name for p in written.iterdir()}
    assert {"moving.html", "moving.gif", "in-words.txt", "swing.csv", "demonstration.json"} <= names
    assert all(KIND.writes(name) for name in names)
    assert sorted(names) == json.loads((written / "demonstration.json").read_text(encoding="utf-8"))["files"]


def test_slides_are_wide_and_their_text_is_text(written: Path) -> None:
    for path in written.glob("slide-*.png"):
        with Image.open(path) as image:
            assert image.size == (1280, 720)
    for path in written.glob("slide-*.svg"):
        text = path.read_text(encoding="utf-8")
        sizes = [float(s) for s in re.findall(r"font(?:-size)?:[^;]*?([\d.]+)px", text)]
        assert "<text" in text
        assert sizes
        assert min(sizes) >= 13.0 * 0.999, "of a picture 922 × 518 wide and high: 18 of 1280 × 720"


def test_moving_picture_is_small_and_moves(written: Path) -> None:
    assert (written / "moving.html").stat().st_size < LARGEST
    assert (written / "moving.gif").stat().st_size < LARGEST
    with Image.open(written / "moving.gif") as moving:
        assert moving.n_frames > 20
        moving.seek(0)
        first = np.asarray(moving.convert("RGB")).astype(int)
        moving.seek(moving.n_frames // 2)
        assert np.any(np.asarray(moving.convert("RGB")).astype(int) != first)


def test_series_have_units_in_their_heads(written: Path) -> None:
    rows = list(csv.reader((written / "swing.csv").read_text(encoding="utf-8").splitlines()))
    assert rows[0] == ["time ms", "place z mm", "flux per turn nWb", "linkage uWb", "slope mV per m/s", "emf mV",
                       "emf at 2N mV"]
    table = np.array(rows[1:], dtype=float)
    np.testing.assert_allclose(table[:, 6], 2 * table[:, 5], rtol=1e-4, atol=1e-4)
    np.testing.assert_allclose(5000 * table[:, 2] * 1e-3, table[:, 3], rtol=1e-4)


def test_json_has_the_numbers_in_si(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demonstrate", "string", "--quality", "draft", "--amplitude", "0.2mm", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["command"] == "demonstrate"
    assert said["result"]["found"]["amplitude"] == pytest.approx(0.2e-3)
    assert said["units"]["found"]["emf"] == "V"


@pytest.mark.parametrize(("line", "word"), [
    (["strnig"], "the demonstrations are"),
    (["string", "--string", "4"], "string"),
    (["string", "--amplitude", "6mm"], "amplitude"),
    (["string", "--amplitude", "6kg"], "a length"),
    (["string", "--drive", "bow"], "sine, pluck"),
    (["string", "--mains", "50Hz"], "makes nothing of it"),
    (["string", "no-such-case"], "no-such-case"),
])
def test_refusals_are_one_sentence(line: list[str], word: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demonstrate", *line, "--quality", "draft"]) == 2
    said = capsys.readouterr().err.strip().splitlines()
    assert word in said[-1]
    assert said[-1].startswith("stringflux: ")


def test_list(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demonstrate", "list"]) == 0
    assert "string" in capsys.readouterr().out
