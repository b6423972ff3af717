"""Strings whose steel is a table of its own law: the same S and λ, over a row and over a build in 3-D."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from stringflux.cases import load_case, solve
from stringflux.geometry.errors import CaseError
from stringflux.solver.constants import MU0
from stringflux.solver.materials import StringSteel, find_material

BENCH = Path(__file__).parents[3] / "cases" / "bench-single.toml"
METALS = ("string-steel", "string-nickel-steel")


def written(folder: Path, n: int) -> Path:
    """The bench rig with a wound string, whose metals are curves in files beside it."""
    text = BENCH.read_text(encoding="utf-8").replace('gauge = "0.017 in"', 'gauge = "0.042 in"\ncore = "0.018 in"')
    for name in METALS:
        metal = find_material(name)
        assert isinstance(metal, StringSteel)
        h = np.geomspace(30.0, 1e5, n)
        b = MU0 * (h + metal.magnetisation(h)[0])
        rows = "".join(f"{x / 1e3!r}; {y * 1e3!r}\n" for x, y in zip(h.tolist(), b.tolist(), strict=True))
        folder.joinpath(f"{name}.csv").write_text(f"H (kA/m); B (mT)\n{rows}", encoding="utf-8")
        text += (f'\n[materials.{name}]\nkind = "string BH table"\ncurve_file = "{name}.csv"\n'
                 f'saturation = "{metal.polarisation} T"\nreversible_susceptibility = {metal.chi_reversible}\n'
                 f'pinning = "{metal.pinning} A/m"\n')
    path = folder / "tables.toml"
    path.write_text(text, encoding="utf-8")
    return path


def figures(path: Path, solver: str) -> np.ndarray:
    (string,) = solve(load_case(path), quality="draft", solver=solver).prediction().strings
    return np.array([string.linkage, string.sensitivity, string.sensitivity_curve, string.sensitivity_reversible])


@pytest.mark.slow
@pytest.mark.parametrize("solver", ["row", "solid"])
def test_a_table_gives_what_its_law_gives(solver: str, tmp_path: Path) -> None:
    """From 100 points 1e-5 (asked: 1e-4), from 20 within what lies between them."""
    text = written(tmp_path, 100).read_text(encoding="utf-8")
    plain = tmp_path / "plain.toml"
    plain.write_text(text[: text.index("\n[materials.")], encoding="utf-8")
    laws = figures(plain, solver)
    assert figures(tmp_path / "tables.toml", solver) == pytest.approx(laws, rel=2e-5)
    assert figures(written(tmp_path, 20), solver) == pytest.approx(laws, rel=2e-3)


def test_a_fault_of_a_curve_is_told_with_its_line(tmp_path: Path) -> None:
    path = written(tmp_path, 20)
    tmp_path.joinpath("string-steel.csv").write_text("H (kA/m), B (T)\n1, 0.6\n3, 1.2\n20, 1.1\n", encoding="utf-8")
    with pytest.raises(CaseError, match=r"tables\.toml, line \d+: materials, string-steel, points: B does not rise"):
        load_case(path)
