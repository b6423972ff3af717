"""A direct current in the coil of a case: how it is read, what it warms, which commands know it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from stringflux.cases import load_case, solve
from stringflux.cases.cli import main
from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError, InputError
from stringflux.geometry.reading.check_sense import warmed
from stringflux.solver.constants import MU0

CURRENT = {"coil.direct_current": "10 mA"}


def bench(changes: dict[str, Any] | None = None) -> Case:
    return load_case("bench-single", {**CURRENT, **(changes or {})})


def test_of_a_row_it_goes_to_3d_and_says_so() -> None:
    case = bench()
    assert case.is_magnetised
    assert solve(case, quality="draft").solver == "solid"
    for solver, words in (("row", "this case has a direct current in a coil"), ("plane", "takes long bars")):
        with pytest.raises(CaseError, match=words):
            solve(case, solver=solver)


def test_none_at_all_is_none() -> None:
    case = bench({"coil.direct_current": "0 mA"})
    assert not case.has_direct_current
    assert solve(case, quality="draft").solver == "row"


@pytest.mark.parametrize(("value", "words"), [
    (0.01, "coil, direct_current: received the bare number 0.01; write a current with its unit"),
    ("10 mT", "direct_current"),
    ("200 A", "write a current from -100 A to 100 A"),
])
def test_what_is_no_current(value: Any, words: str) -> None:
    with pytest.raises(CaseError, match=words):
        bench({"coil.direct_current": value})


def test_what_it_warms() -> None:
    assert not warmed(load_case("bench-single"))
    assert not warmed(bench({"coil.direct_current": "1 mA"}))
    (said,) = warmed(bench({"coil.resistance": "1 kohm", "coil.direct_current": "-20 mA"}))
    assert "-0.02 A through about 1e+03 ohm makes 0.4 W of heat" in said
    assert "for moments only" in said


def test_what_it_burns() -> None:
    """10 A in a wire of 0.0633 mm are 3.2 kA/mm²: copper that sheds nothing warms by 135 K in 2.7 ms."""
    (said,) = warmed(bench({"coil.wire": "42 AWG", "coil.direct_current": "10 A"}))
    assert "in 0.003 s its wire is hotter than enamel bears" in said


@pytest.mark.parametrize("command", [
    ["verify", "bench-single"], ["wind", "bench-single", "--for", "2 H"], ["readings", "bench-single",
                                                                           "bench-single-readings"],
    ["tolerance", "bench-single"], ["design", "bench-single", "--want", "S > 0.01 V s/m"],
])
def test_what_knows_none_says_so(command: list[str], capsys: pytest.CaptureFixture[str],
                                 tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert main([*command, "--set", "coil.direct_current=10 mA"]) == 2
    assert "direct_current: " in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


@pytest.fixture
def pair(tmp_path: Path) -> Path:
    """Two coils a radius of 50 mm apart, nothing else: 100 turns of 10 mA each."""
    coil = ('inner_width = "99 mm"\nbuild = "1 mm"\nbottom = "{} mm"\ntop = "{} mm"\nturns = 100\nwire = "42 AWG"\n'
            'direct_current = "10 mA"\n')
    path = tmp_path / "pair.toml"
    path.write_text(f'[coil]\n{coil.format(-25.5, -24.5)}[[second_coil]]\nname = "upper"\n[second_coil.coil]\n'
                    f'{coil.format(24.5, 25.5)}')
    return path


def test_a_helmholtz_pair_needs_neither_string_nor_body(pair: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """B = (4/5)^1.5 μ0 N I/R in the middle (textbooks, memory); the winding's section makes 1e-5 of it."""
    exact = 0.8**1.5 * MU0 * 1.0 / 50e-3
    pickup = solve(load_case(pair, without_strings=True))
    assert pickup.field([0, 0, 0]).values[2, 0] == pytest.approx(exact, rel=1e-4)
    assert pickup.flux_through((0, 0, 0), radius=1e-3).mean == pytest.approx(exact, rel=1e-4)
    assert main(["flux", str(pair), "--centre", "0,0,0", "--radius", "1mm"]) == 0
    assert "+0.01798" in capsys.readouterr().out
    assert main(["check-case", str(pair), "--out", str(pair.parent)]) == 0


def test_what_needs_strings_or_steel_says_so(pair: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for command, words in ((["predict"], "string: it is missing; add a [[string]]"),
                           (["hum"], "string: it is missing"),
                           (["force", "--body", "core"], "nothing in this case is magnetic"),
                           (["flux", "--body", "core"], "nothing in this case is magnetic")):
        assert main([command[0], str(pair), *command[1:]]) == 2
        assert words in capsys.readouterr().err
    with pytest.raises(CaseError, match="body: none is a magnet or of steel"):
        solve(load_case(pair, without_strings=True)).prediction()
    still = pair.read_text().replace('direct_current = "10 mA"\n', "", 1)
    pair.write_text(still)
    with pytest.raises(CaseError, match="no pole and no magnetic body is inside it"):
        load_case(pair, without_strings=True)


def test_fields_beside_steel(tmp_path: Path) -> None:
    """Under the top of a rod too; not in it."""
    path = tmp_path / "rod.toml"
    path.write_text('[[body]]\nname = "rod"\nshape = "cylinder"\nmaterial = "soft"\ndiameter = "6 mm"\n'
                    'length = "16 mm"\ncentre = ["0 mm", "0 mm"]\nbottom = "-10 mm"\n[coil]\ninner_width = "8 mm"\n'
                    'build = "3 mm"\nbottom = "-8 mm"\ntop = "2 mm"\nturns = 300\nwire = "0.2 mm"\n'
                    'overall_diameter = "0.22 mm"\ndirect_current = "1 A"\n[materials.soft]\n'
                    'kind = "constant permeability"\npermeability = 1000\n')
    pickup = solve(load_case(path, without_strings=True), quality="draft")
    # ngsolve: tests/outside/test_direct_current.py has its section of revolution, there without a keeper
    assert pickup.field([8e-3, 0, 0]).values[:, 0] == pytest.approx([7.0006e-3, 0, -9.6197e-3], abs=1.2e-4)
    with pytest.raises(InputError, match=r"received \(3, 0, 0\) mm, in a magnetic body or too close to one"):
        pickup.field([3e-3, 0, 0])
    with pytest.raises(CaseError, match="string: it is missing"):
        pickup.with_({"coil.turns": 200}).prediction()
