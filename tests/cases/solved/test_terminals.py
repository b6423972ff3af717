"""Coils of builds over the band: against the row's own eddy currents, with a cover, and connected."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from stringflux.cases.files.load import built_in_uses, find_case, load_case, read_toml
from stringflux.cases.pickup_fields import nobody
from stringflux.cases.solved.materials import case_materials
from stringflux.cases.solved.solve import solved_case
from stringflux.cases.solved.terminals import build_band, build_inductance, build_network, conducting_sheets
from stringflux.cases.solved.windings import coil_windings
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.reading.read import read_case
from stringflux.solver.row.impedance import row_impedance
from stringflux.solver.solid.solve import SolvedSolid

FREQUENCIES = np.array([100.0, 1e3, 5e3, 10e3])


def solved(case: Case) -> tuple[SolvedSolid, dict[str, Any]]:
    materials = case_materials(case)
    found = solved_case(case, "draft", solver="solid").solution()
    assert isinstance(found, SolvedSolid)
    return found, materials


def test_one_rod_as_the_axisymmetric_cells_have_it() -> None:
    """Skin in a rod by one complex permeability: 0.5 % up to 5 kHz, 0.9 % at 10 kHz (of |L|, normal quality)."""
    case = load_case("bench-single")
    build, materials = solved(case)
    row: Any = solved_case(case, "draft").solution()
    exact = row_impedance(row, materials, FREQUENCIES).inductance
    found = build_inductance(case, build, materials, FREQUENCIES)[:, 0, 0] * case.coil.turns**2
    assert np.abs(found / exact - 1) == pytest.approx(np.zeros(4), abs=0.012)
    assert abs(exact[3] / exact[0] - 1) > 0.1  # there is something to agree on


def covered() -> tuple[Case, SolvedSolid, dict[str, Any]]:
    document = read_toml(find_case("bench-single"))
    cover = {"shape": "cover", "name": "cover", "material": "brass", "along": "20 mm", "across": "20 mm",
             "height": "14 mm", "wall": "0.5 mm", "top": "3 mm"}
    document["body"] = [cover]
    document["string"][0]["gap"] = "4 mm"
    case = read_case(document, materials=built_in_uses())
    return case, *solved(case)


def test_a_brass_cover_takes_inductance_and_adds_loss() -> None:
    bare = load_case("bench-single", {"string.1.gap": "4 mm"})
    case, build, materials = covered()
    assert [b.name for b in conducting_sheets(case, build, materials)] == ["cover"]
    change = (build_inductance(case, build, materials, FREQUENCIES)
              - build_inductance(bare, build, materials, FREQUENCIES))[:, 0, 0]
    assert np.all(np.diff(change.real) < 0)
    assert np.all(change.imag < 0)  # L − jR/ω: resistance is added at every frequency
    share = change.real / build.matrix[0, 0]
    assert abs(share[0]) < 1e-3
    assert -0.4 < share[3] < -0.05


def test_stacked_coils_in_every_connection() -> None:
    case = load_case("stacked-six")
    build, materials = solved(case)
    f = np.array([100.0, 1e3])
    whole = build_network(case, build, materials, f)
    made = coil_windings(case)
    assert whole.resistance == pytest.approx(sum(w.resistance for w in made))
    assert whole.inductance == pytest.approx(build.inductance, rel=2e-3)
    assert whole.circuit().resonance() is not None


def test_b_at_the_string_as_the_axisymmetric_cells_have_it() -> None:
    """One rod: |b| within 1.6 % at 10 kHz (0.14 dB), its phase within 2.5°."""
    case = load_case("bench-single")
    f = np.array([100.0, 1e3, 5e3, 10e3])
    exact, found = (solved_case(case, "draft", solver=s).at_ends(nobody).ways[0][0](f) for s in ("row", "solid"))
    assert np.abs(found) == pytest.approx(np.abs(exact), rel=0.02)
    assert np.angle(found / exact) == pytest.approx(np.zeros(4), abs=np.radians(3))
    assert abs(exact[3]) < 0.96  # there is something to agree on


def test_a_cover_takes_b_from_the_string() -> None:
    """Its lid lies between coil and string; nothing flows in it at 0 Hz, and more at every higher frequency."""
    case, build, materials = covered()
    bare = load_case("bench-single", {"string.1.gap": "4 mm"})
    string = placed_strings(case)[0].shape
    points = np.array([[[0.0], [string.y], [string.axis_height]]])
    with_it, without = (build_band(c, build, materials, FREQUENCIES, points).attenuation[0, 0] for c in (case, bare))
    assert abs(with_it[0]) == pytest.approx(1.0, abs=0.01)
    assert np.all(np.diff(np.abs(with_it)) < 0)
    assert abs(without[3]) > 0.9
    assert abs(with_it[3]) < 0.9 * abs(without[3])
