"""Turns that do not fit, and turns that hardly do: refused and warned of by every command alike."""

from __future__ import annotations

from importlib import import_module
from inspect import getsource
from pathlib import Path

import pytest

from stringflux.cases import load_case, shipped_cases
from stringflux.cases.cli import COMMANDS, main
from stringflux.geometry.reading.check_sense import crowded

pytestmark = pytest.mark.usefixtures("shared_solutions")

Printed = pytest.CaptureFixture[str]
NO_CASE = {"start", "cases", "materials", "schema", "mix", "live"}  # of mix and live below
READ = ("readings", "bench-single", "bench-single-readings")
ASKED = {
    "demonstrate": ("demonstrate", "string", "bench-single"),
    "compare": ("compare", "bench-single", "--vary", "strings.gap=2mm,3mm"),
    "readings": READ,
    "flux": ("flux", "bench-single", "--centre", "0,0,0", "--radius", "4mm"),
}
CASES = sorted(COMMANDS.keys() - NO_CASE)
SEVERAL = {"balance"}  # strings that it needs
TOO_MANY = "coil, turns: 12000 of 42 AWG (0.071 mm over the insulation) cannot fit a window of 4 mm by 11 mm"
CROWDED = "7500 turns of 42 AWG take 67% of their room, more than a scattered winding usually holds"
STRINGS = 'string=[{ gauge = "0.017 in", pitch = "G3" }, { gauge = "0.010 in", pitch = "E4" }]'
TAPERED = 'coil.wound_builds=[{ height = "0 mm", build = "2 mm" }, { height = "11 mm", build = "2.6 mm" }]'


@pytest.mark.parametrize("command", CASES)
@pytest.mark.parametrize(("changes", "words"), [
    (("coil.turns=12000",), TOO_MANY), (("coil.turns=7500", "coil.fill=0.6"), "at a fill of 0.6 are 4."),
    (("coil.turns=6000", TAPERED), "6000 of 42 AWG take at least"),
])
def test_refused(command: str, changes: tuple[str, ...], words: str, capsys: Printed) -> None:
    asked = ASKED.get(command, (command, "bench-single"))
    if command in SEVERAL:
        changes = (*changes, STRINGS)
    assert main([*asked, *(word for change in changes for word in ("--set", change))]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert words in err
    assert err.count("\n") == 1


def test_refused_by_the_page(tmp_path: Path, capsys: Printed) -> None:
    file, text = tmp_path / "own.toml", shipped_cases()["bench-single"].read_text(encoding="utf-8")
    file.write_text(text.replace("turns = 5000", "turns = 12000"), encoding="utf-8")
    assert main(["live", str(file)]) == 2
    assert TOO_MANY in capsys.readouterr().err


def test_refused_in_a_mix(tmp_path: Path, capsys: Printed) -> None:
    file = tmp_path / "mix.toml"
    file.write_text("".join(
        f'[[pickup]]\nname = "{name}"\ncase = "baritone-six"\nbridge_distance = "{at} mm"\n{more}'
        for name, at, more in (("a", 40, '[pickup.change]\n"coil.turns" = 12000\n'), ("b", 120, ""))) + "[mix]\n",
        encoding="utf-8")
    assert main(["mix", str(file)]) == 2
    assert "cannot fit a window" in capsys.readouterr().err


@pytest.mark.parametrize("asked", [
    ("check-case", "bench-single"), ("wind", "bench-single"), ("predict", "bench-single"), ("hum", "bench-single"),
    ("pull", "bench-single"), ("impedance", "bench-single"), ("worksheet", "bench-single"), READ,
], ids=lambda asked: asked[0])
def test_warned_of(asked: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Printed) -> None:
    monkeypatch.chdir(tmp_path)
    solves = () if asked[0] in ("check-case", "wind") else ("--quality", "draft")
    assert main([*asked, *solves, "--set", "coil.turns=7500"]) == 0
    assert CROWDED in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize("command", sorted(COMMANDS.keys() - (NO_CASE - {"mix", "live"}) - {"predict", "live"}))
def test_every_command_asks(command: str) -> None:
    """Those that would take long here; `predict`, and with it the page, has it among its notes."""
    home = import_module(COMMANDS[command][0], "stringflux.cases")
    text = getsource(home)
    if command in ("compare", "design"):  # of the designs that they print
        text = getsource(import_module("stringflux.cases.studies.compare.output"))
    assert any(word in text for word in ("print_oddities(", "print_winding(", "crowded("))


def test_what_a_tapered_winding_holds() -> None:
    builds = [{"height": "0 mm", "build": "2 mm"}, {"height": "11 mm", "build": "2.6 mm"}]
    at = [load_case("bench-single", {"coil.turns": turns, "coil.wound_builds": builds}) for turns in (4700, 4900)]
    assert not crowded(at[0])  # 74 % of 25.3 mm²
    assert "take 77% of their room" in crowded(at[1])[0]
