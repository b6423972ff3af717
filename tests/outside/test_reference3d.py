"""The chain against stored independent 3-D solves (tests/reference3d: another code, unknown and source term)."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
import pytest

from rigs.fields.bench_rig import Wire, bench_row, linkage
from rigs.fields.reference_rigs import DISC, PLACES, RESULTS, ROW_COIL, slug, slug_row
from rigs.fields.shapes import BENCH_MAGNET, placed, rod
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.solver.materials import ConstantPermeability
from stringflux.solver.row.solve import SolvedRow, solve_row
from stringflux.solver.seam import REACH


def strings(section: str) -> list[Any]:
    return [pytest.param(v, id=k.replace("=", "").replace(" ", "-")) for k, v in RESULTS.get(section, {}).items()
            if k.startswith("a_mm")]


def wire_of(item: dict[str, Any]) -> tuple[Wire, float]:
    """The string of an item and half its length: the meshed strings end there."""
    wire = Wire(item["string_radius_mm"] * 1e-3, item["axis_z_mm"] * 1e-3)
    return wire, min(item["string_half_length_mm"] * 1e-3, REACH)


@pytest.mark.parametrize("item", strings("1_rod_table"))
def test_strings_of_all_sizes_and_gaps_over_a_rod(item: dict[str, Any]) -> None:
    """Radius 0.1–0.65 mm, gap 1–4 mm: λ within 0.6 %, the thickest within 1 % (1.5 % is asked of it: there the
    magnetisation is no longer even over the string's section)."""
    wire, reach = wire_of(item)
    tolerance = 6e-3 if wire.radius < 0.5e-3 else 1e-2
    assert linkage(wire, reach=reach) * 1e9 == pytest.approx(item["lambda_nWb_per_turn"], rel=tolerance)






def test_slug_on_a_disc_without_string() -> None:
    item = RESULTS["2_steel_slug_on_disc"]["fields_without_string"]
    row = slug_row()
    assert row.inductance * 1e9 == pytest.approx(item["L_nH_per_turn2"], rel=2e-3)
    p = np.array([[x, 0.0, z] for x, z in item["points_x_z_mm"]]).T * 1e-3
    assert row.field.bias(p)[2] * 1e3 == pytest.approx(item["B_z_bias_mT"], rel=1e-2)
    assert row.field.reciprocal(p)[2] * 1e6 == pytest.approx(item["b_z_uT_per_A_turn"], rel=1e-2)


@pytest.mark.parametrize("item", strings("2_steel_slug_on_disc"))
def test_strings_over_a_slug_on_a_disc(item: dict[str, Any]) -> None:
    wire, reach = wire_of(item)
    assert linkage(wire, slug_row(), reach=reach) * 1e9 == pytest.approx(item["lambda_nWb_per_turn"], rel=1e-2)


@lru_cache
def six_rods() -> SolvedRow:
    return solve_row([placed(rod(), y=float(y)) for y in PLACES], ROW_COIL, {"bench": BENCH_MAGNET},
                     quality=QUALITIES["normal"], history="after", band=(1e-3, 6e-3))


def test_six_rods_inductance() -> None:
    """Race-track coil with six rods; the 3-D value converges from above."""
    assert six_rods().inductance * 1e9 == pytest.approx(
        RESULTS["3_six_rods"]["inductance"]["L_nH_per_turn2"], rel=2e-3)


@pytest.mark.parametrize("pole", [1, 4])
def test_six_rods_fields_on_and_off_the_axis(pole: int) -> None:
    """3 mm over an outer and an inner pole, up to 2 mm off its axis: every component within 0.8 % of the
    field's modulus. Without azimuthal order 1 the outer pole misses by several per cent."""
    compare_fields(six_rods(), RESULTS["3_six_rods"][f"fields_pole_{pole}"], 8e-3)


def compare_fields(row: SolvedRow, item: dict[str, Any], tolerance: float) -> None:
    offset = np.array([q["offset_y_mm"] for q in item["points"]]) * 1e-3
    p = np.stack([0 * offset, item["pole_y_mm"] * 1e-3 + offset, 0 * offset + 3e-3])
    for name, ours, unit in (("B_{}_bias_mT", row.field.bias(p), 1e3),
                             ("b_{}_uT_per_A_turn", row.field.reciprocal(p), 1e6)):
        theirs = np.array([[q[name.format(c)] for q in item["points"]] for c in "yz"])
        error = np.abs(ours[1:] * unit - theirs) / np.linalg.norm(theirs, axis=0)
        assert np.max(error) < tolerance


def test_the_bench_rod_against_the_axisymmetric_solve() -> None:
    """Order-8 solve of the bench rod by the other code: bias and b at ten points, L."""
    item = RESULTS["0_bench_rod"]["fields_without_string"]
    p = np.array([[x, 0.0, z] for x, z in item["points_x_z_mm"]]).T * 1e-3
    row = bench_row()
    assert row.field.reciprocal(p)[2] * 1e6 == pytest.approx(item["b_z_uT_per_A_turn"], rel=5e-4)
    assert row.field.bias(p)[2] * 1e3 == pytest.approx(item["B_z_bias_mT"], rel=3e-3)
    assert row.inductance * 1e9 == pytest.approx(item["L_nH_per_turn2"], rel=2e-4)


@pytest.mark.parametrize("item", [pytest.param(v, id=k.replace(" ", "-")) for k, v in RESULTS["3_six_rods"].items()
                                  if k.startswith("lambda")])
def test_six_rods_linkage_on_and_off_the_axis(item: dict[str, Any]) -> None:
    """A string over the end pole, up to 2 mm off its axis, and over the second: λ within 0.8 %."""
    wire = Wire(item["string_radius_mm"] * 1e-3, item["axis_z_mm"] * 1e-3,
                y=(item["pole_y_mm"] + item["offset_y_mm"]) * 1e-3)
    reach = min(item["string_half_length_mm"] * 1e-3, REACH)
    assert linkage(wire, six_rods(), reach=reach) * 1e9 == pytest.approx(item["lambda_nWb_per_turn"], rel=8e-3)


@lru_cache
def six_slugs() -> SolvedRow:
    steel = ConstantPermeability(name="steel", mu_r=300.0)
    return solve_row([placed(slug(300.0, 4.5e-3), y=float(y)) for y in PLACES], ROW_COIL,
                     {"steel": steel, "disc": DISC}, quality=QUALITIES["normal"], history="after", band=(1e-3, 6e-3))


def test_six_steel_slugs_on_discs() -> None:
    """Steel couples ten times as strongly: L within 0.4 %, fields up to 2 mm off the axis within 1 %."""
    section = RESULTS["4_six_steel_slugs_on_discs"]
    assert six_slugs().inductance * 1e9 == pytest.approx(section["inductance"]["L_nH_per_turn2"], rel=4e-3)
    for pole in (1, 4):
        compare_fields(six_slugs(), section[f"fields_pole_{pole}"], 1e-2)
