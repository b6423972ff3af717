"""The soak starts, counts, and sees what it is there to see; `make soak` runs it for long."""

from __future__ import annotations

import random
import subprocess
from pathlib import Path

import pytest

from measure.soak import kills as soak_kills
from measure.soak import laws as soak_laws
from measure.soak import mutants as soak_mutants
from measure.soak import run as soak


def test_a_round_of_what_is_quick() -> None:
    said: list[str] = []
    counts = soak.soak(["mutants"], seconds=300, seed=1, rounds=2, say=said.append)
    assert sum(counts.values()) == 2
    assert said == []


def test_what_breaks_is_told_with_the_words_that_repeat_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(soak.PARTS, "laws", lambda rng, folder: "S is off")
    said: list[str] = []
    assert soak.soak(["laws"], seconds=10, seed=5, rounds=1, start=3, say=said.append) == {"laws: BROKEN": 1}
    assert said == ["laws, --seed 5 --start 3: S is off"]


def test_a_law_that_does_not_hold_is_seen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    data = soak_laws.row(random.Random("a rod"))
    data["strings"]["gap"] = "2 mm"
    assert soak_laws.law_of_slope(data, tmp_path) == "good"
    monkeypatch.setattr(soak_laws, "SLOPE", 1e-9)
    assert "dλ/dz" in soak_laws.law_of_slope(data, tmp_path)


@pytest.mark.parametrize(("code", "out", "err", "what"), [
    (2, "", "stringflux: case.toml: no coil\n", "refused"),
    (2, "", "stringflux: one\nstringflux: two\n", "not one sentence"),
    (1, "", "Traceback (most recent call last):\n", "Traceback"),
    (1, "", "stringflux: something went wrong that should not (ValueError)\n", "should not"),
    (0, '{"result": {"strings": [{"number": 1, "linkage": null}]}}', "", "linkage is None"),
])
def test_an_answer_is_judged(code: int, out: str, err: str, what: str) -> None:
    done = subprocess.CompletedProcess(["predict"], code, out, err)
    assert what in soak_mutants._fault(done)


def test_a_folder_that_lost_a_file_is_seen(tmp_path: Path) -> None:
    (tmp_path / "prediction.json").write_text('{"files": ["prediction.json", "strings.csv"]}', encoding="utf-8")
    assert "strings.csv" in soak_kills._folder_fault(tmp_path, "prediction.json", had=False)
    (tmp_path / "strings.csv").write_text("", encoding="utf-8")
    assert soak_kills._folder_fault(tmp_path, "prediction.json", had=False) == ""
    assert soak_kills.OWN in soak_kills._folder_fault(tmp_path, "prediction.json", had=True)
