"""A search that is stopped: the best so far is a case from which it goes on."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from rigs.cases.shaped_bodies import chisel_file
from stringflux.cases import load_case
from stringflux.cases.solved.numerics import Numerics
from stringflux.cases.studies.shape.command import ShapeOptions, run
from stringflux.cases.studies.shape.model import ShapeModel
from stringflux.cases.studies.shape.numerics import SearchNumerics
from stringflux.cases.studies.shape.so_far import ShapeStopped, SoFar
from stringflux.geometry.mesh.pole import Quality

HASTY = SearchNumerics(rounds=1, noise_steps=5, scan=3, fine=0.02)
COARSE = Numerics(mesh=Quality(divisions=2.0, growth=0.5, far=5.0))


def test_the_best_is_kept_and_not_the_last() -> None:
    told = list[str]()
    so_far = SoFar(lambda stage, share: told.append(stage))
    so_far.begin("round 1", 0.0)
    for p, size in ((1.0, 3.0), (2.0, 1.0), (3.0, 2.0)):
        so_far.note(np.array([p]), size, {"output": size}, f"{size:g}")
    assert so_far.p is not None
    assert so_far.p.tolist() == [2.0]
    assert so_far.goals == {"output": 1.0}
    assert told == ["round 1", "round 1, so far 3"]  # then for some seconds nothing


def test_a_row_that_is_stopped_keeps_its_best(tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
                                              capsys: pytest.CaptureFixture[str]) -> None:
    """Ctrl-C in the sixth shape: the case has a length of those before it."""
    true, count = ShapeModel.values, 0

    def values(self: ShapeModel, *args: np.ndarray) -> dict[str, float]:
        nonlocal count
        count += 1
        if count == 6:
            raise KeyboardInterrupt
        return true(self, *args)

    monkeypatch.setattr(ShapeModel, "values", values)
    out = tmp_path / "out"
    options = ShapeOptions(which="bench-single", form="length", goals="inductance", quality="draft", out=str(out))
    with pytest.raises(ShapeStopped):
        run(options, COARSE, HASTY)
    said = capsys.readouterr().err
    assert "So far: inductance" in said
    assert "go on" in said
    found = json.loads((out / "shape.json").read_text(encoding="utf-8"))["result"]
    assert found["stopped"] is True
    (length,) = found["so_far"]["lengths"]
    part = load_case(out / "case.toml").pole[0].round_parts[0]
    assert part.length == pytest.approx(length["value"], abs=1e-9)
    assert part.length < load_case("bench-single").pole[0].round_parts[0].length
    assert "stopped before its end" in (out / "case.toml").read_text(encoding="utf-8")


@pytest.mark.slow
def test_ctrl_c_in_a_search_of_a_body(tmp_path: Path) -> None:
    """As a process: the signal comes while a shape is solved; the case that is kept can be shaped again."""
    out = tmp_path / "out"
    process = subprocess.Popen(
        [sys.executable, "-m", "stringflux.cases", "shape", str(chisel_file(tmp_path)), "--body", "chisel", "--vary",
         "tip_along=1mm:3mm", "--quality", "draft", "--out", str(out)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert process.stderr is not None
    while "so far" not in (line := process.stderr.readline()):
        assert line  # it has not ended
    process.send_signal(signal.SIGINT)
    printed, err = process.communicate(timeout=60)
    assert process.returncode == 130
    assert printed == ""
    assert "Traceback" not in err
    assert "So far: output S" in err
    assert err.splitlines()[-1] == "stringflux: stopped"
    assert {p.name for p in out.iterdir()} == {"shape.json", "case.toml"}
    assert 1e-3 <= load_case(out / "case.toml").body[0].tip_along <= 3e-3  # type: ignore[union-attr]
