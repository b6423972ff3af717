"""Pickups in which nothing is magnetised: every command answers, or refuses in one sentence."""

from __future__ import annotations

import csv
import json
import math
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from stringflux.cases import load_case, predict, shipped_cases
from stringflux.cases.cli import COMMANDS, main

pytestmark = pytest.mark.usefixtures("shared_solutions")

Printed = pytest.CaptureFixture[str]

BARE = ["--set", "pole.1.part.1.charge=0", "--quality", "draft"]
SAID = "nothing magnetises the strings"
MIX = """[mix]
wiring = "master controls"
[[pickup]]
name = "one"
case = "bench-single"
bridge_distance = "160 mm"
[[pickup]]
name = "other"
case = "bench-single"
bridge_distance = "60 mm"
[pickup.change]
pole.1.part.1.charge = 0.0
"""
READINGS = """quantity, string, gap, value, uncertainty
output, 1, 1 mm, 10 mV, 1 mV
output, 1, 2 mm, 5 mV, 1 mV
"""

# what a command says, or that it refuses
ANSWERS: dict[str, tuple[list[str], str]] = {
    "predict": (["bench-single", *BARE, "--out", "results"], "0.157 H with its poles"),
    "wind": (["bench-single", *BARE[:2], "--for", "1kohm"], "turns"),
    "impedance": (["bench-single", *BARE], "Resonance"),
    "pull": (["bench-single", *BARE], "+0.00"),
    "hum": (["bench-single", *BARE], "0.5366"),
    "report": (["bench-single", *BARE, "--out", "all.html"], "Report: all.html"),
    "check-case": (["bench-single", *BARE[:2]], "The case is good"),
    "compare": (["bench-single", "--quality", "draft", "--vary", "pole.1.part.1.charge=0,1", "--rank",
                 "output,sensitivity,pull", "--out", "study", "--workers", "1"], "Ranked by output"),
    "design": (["bench-single", *BARE, "--want", "peak=9kHz", "--vary", "coil.wire=42 AWG,43 AWG", "--out", "found",
                "--workers", "1"], "none of them has a value of each, so nothing is traded"),
    "live": (["off.toml", "--export", "page.html"], "Page: page.html"),
}
REFUSALS: dict[str, list[str]] = {
    "signal": ["bench-single", *BARE],
    "mix": ["mix.toml", "--quality", "draft"],
    "readings": ["bench-single", "readings.csv", *BARE],
    "verify": ["bench-single", *BARE],
    "balance": ["baritone-six", *BARE],
    "force": ["bench-single", "--body", "pole 1", *BARE],
    "flux": ["bench-single", "--body", "pole 1", *BARE],
    "shape": ["bench-single", *BARE, "--for", "output"],
    "tolerance": ["bench-single", *BARE, "--check", "4"],
    "demonstrate": ["string", "bench-single", *BARE],
    "worksheet": ["bench-single", *BARE],
}


def test_every_command_is_asked() -> None:
    alone = {"start", "cases", "materials", "schema"}
    assert {*ANSWERS, *REFUSALS} == set(COMMANDS) - alone


@pytest.mark.slow
@pytest.mark.parametrize("command", ANSWERS)
def test_answers(command: str, tmp_path: Path, capsys: Printed, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    text = shipped_cases()["bench-single"].read_text(encoding="utf-8")
    text = text.replace('polarity = "north up"', 'polarity = "north up"\ncharge = 0')
    Path("off.toml").write_text(text, encoding="utf-8")
    arguments, expected = ANSWERS[command]
    code = main([command, *arguments])
    out, err = capsys.readouterr()
    assert code == 0, err
    assert expected in " ".join(out.split())
    assert not re.search(r"\b(nan|inf)\b", out)
    if command in ("predict", "hum", "pull"):
        assert SAID in " ".join(out.split()).lower()
    if command == "predict":
        files_say_it_too(tmp_path / "results")


def files_say_it_too(folder: Path) -> None:
    with (folder / "strings.csv").open(encoding="utf-8", newline="") as file:
        row = next(csv.DictReader(file))
    assert (row["S mV per m/s"], row["S 0.1 mm closer dB"], row["balance dB"]) == ("0", "", "")
    string = json.loads((folder / "prediction.json").read_text(encoding="utf-8"))["result"]["strings"][0]
    assert (string["sensitivity"], string["gap_slope"], string["balance"]) == (0.0, None, None)


@pytest.mark.parametrize("command", REFUSALS)
def test_refuses(command: str, tmp_path: Path, capsys: Printed, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("mix.toml").write_text(MIX)
    Path("readings.csv").write_text(READINGS)
    assert main([command, *REFUSALS[command]]) == 2
    said = capsys.readouterr().err.strip().splitlines()[-1]
    assert said.startswith("stringflux: ")
    assert SAID in said


def slug(tmp_path: Path) -> str:
    """A plain steel slug in the same coil: no magnet at all."""
    text = shipped_cases()["bench-single"].read_text(encoding="utf-8")
    text = text.replace('material = "alnico-5"', 'material = "steel-1008"').replace('polarity = "north up"\n', "")
    path = tmp_path / "slug.toml"
    path.write_text(text, encoding="utf-8")
    return str(path)


BUILDS: dict[str, Callable[[Path], tuple[str, dict[str, object]]]] = {
    "row": lambda tmp: ("bench-single", {"pole.1.part.1.charge": 0}),
    "row of steel": lambda tmp: (slug(tmp), {}),
    "solid": lambda tmp: ("bench-single", {"pole.1.part.1.charge": 0}),
    "plane": lambda tmp: ("blade-six", {"body.2.charge": 0}),
}


@pytest.mark.slow
@pytest.mark.parametrize("solver", BUILDS)
def test_every_solver_says_zero(solver: str, tmp_path: Path) -> None:
    """S = 0 and λ = 0 exactly, no level and no slope; L as it is with the magnets charged."""
    name, changes = BUILDS[solver](tmp_path)
    found, charged = (predict(load_case(name, c), quality="draft", maps=False, solver=solver.split()[0])
                      for c in (changes, {}))
    for s in found.strings:
        assert (s.sensitivity, s.sensitivity_across, s.linkage, s.sensitivity_band) == (0.0, 0.0, 0.0, (0.0, 0.0))
        assert math.isnan(s.gap_slope)
        assert math.isnan(s.balance)
    assert all(p.field == 0.0 and p.field_band == (0.0, 0.0) for p in found.poles)
    assert found.coil.inductance == pytest.approx(charged.coil.inductance, rel=0.2)
    assert SAID in found.notes[0]
