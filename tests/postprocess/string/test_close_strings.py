"""Strings close over faces of every width: S = ∂λ/∂z, fields against closed forms, answers that have converged."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import magpylib
import numpy as np
import pytest

from rigs.fields.bench_rig import Wire
from rigs.fields.shapes import BENCH_COIL, BENCH_LENGTH, BENCH_MAGNET, placed, rod
from stringflux.cases import load_case, solve
from stringflux.cases.kept.store import Store, memory
from stringflux.cases.solved.materials import case_materials
from stringflux.cases.solved.solve import solved_case
from stringflux.cases.solved.solve_row import forget_meshes, one_thread
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.geometry.shapes import profiles
from stringflux.geometry.shapes.row import PartShape, PoleShape
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.linkage import (
    LOWEST,
    RestStencil,
    Slopes,
    linkage_map,
    rest_model,
    rest_slopes,
)
from stringflux.solver.materials import find_material, linear_magnet
from stringflux.solver.row.numerics import SHIPPED, RowNumerics
from stringflux.solver.row.solve import SolvedRow, solve_row

STEEL = find_material("string-steel")
THIN, THICK = 0.127e-3, 0.6e-3
IDEAL = linear_magnet(name="ideal", remanence=1.0, mu_recoil=1.0)
MATERIALS = {"bench": BENCH_MAGNET, "ideal": IDEAL, "alnico": find_material("alnico-5"),
             "steel": find_material("steel-1008")}
LAW = 6e-3  # of S: the string's nodes lie closer where the gap is smaller, and λ with 0.05 % fewer of them is off
CONVERGED = 1e-2


@cache
def kept() -> Store:
    """Poles of one shape are solved once, whatever the orders of their answers."""
    return memory()


def solved(shape: PoleShape, quality: str = "draft", numerics: RowNumerics = SHIPPED) -> SolvedRow:
    with one_thread():
        return solve_row([placed(shape)], replace(BENCH_COIL, inner_radius=shape.parts[0].radius + 1e-3), MATERIALS,
                         quality=QUALITIES[quality], history="after", band=(LOWEST, 8e-3), keep=kept(),
                         numerics=numerics)


def slopes(row: SolvedRow, gap: float, radius: float = THIN) -> Slopes:
    wire = Wire(radius, gap + radius, STEEL)
    with one_thread():
        return RestStencil(rest_model(row.field, wire.shape, wire.layers)).static()


def off_the_law(row: SolvedRow, gap: float, radius: float) -> float:
    """S over the difference of λ of two other gaps, − 1."""
    step = 0.04 * gap
    low, here, high = (slopes(row, gap + s * step, radius) for s in (-1, 0, 1))
    return here.z / ((high.linkage - low.linkage) / (2 * step)) - 1


def pole(radius: float, tip: profiles.Edge, over: str) -> PoleShape:
    """A rod, or a steel slug that stands on a disc magnet, with a tip."""
    top = PartShape(material=over, outline=profiles.outline(tip, length=12e-3, top=0.0), polarity=over != "steel")
    disc = PartShape(material="bench", polarity=1,
                     outline=profiles.outline(profiles.flat(radius + 2e-3), length=4e-3, top=-12e-3))
    return PoleShape(parts=(top,) if over != "steel" else (top, disc))


@pytest.mark.slow
@pytest.mark.parametrize(("radius", "of"), [(0.5e-3, "bench"), (2.4e-3, "alnico"), (2.4e-3, "steel"),
                                           (4e-3, "alnico"), (6.5e-3, "steel")])
def test_s_is_the_slope_of_the_linkage(radius: float, of: str) -> None:
    row = solved(pole(radius, profiles.flat(radius), of))
    for gap in (0.21e-3, 0.4e-3, 2e-3):
        for thickness in (THIN, THICK):
            assert off_the_law(row, gap, thickness) == pytest.approx(0, abs=LAW), f"gap {1e3 * gap} mm"


@pytest.mark.slow
@pytest.mark.parametrize("tip", [
    profiles.bevelled(4e-3, depth=0.4e-3, width=0.4e-3), profiles.domed(4e-3, rise=0.6e-3),
    profiles.cupped(4e-3, depth=0.5e-3)])
def test_s_is_the_slope_over_every_tip(tip: profiles.Edge) -> None:
    row = solved(pole(4e-3, tip, "steel"))
    assert off_the_law(row, 0.21e-3, THIN) == pytest.approx(0, abs=LAW)


@pytest.mark.slow
@pytest.mark.parametrize("quality", ["normal"])
def test_finer_meshes_keep_the_law_and_the_figures(quality: str) -> None:
    shape = pole(4e-3, profiles.flat(4e-3), "bench")
    draft, fine = solved(shape), solved(shape, quality)
    assert off_the_law(fine, 0.21e-3, THIN) == pytest.approx(0, abs=LAW)
    for gap in (0.21e-3, 0.5e-3):
        a, b = slopes(draft, gap), slopes(fine, gap)
        assert (a.z, a.linkage) == pytest.approx((b.z, b.linkage), rel=CONVERGED)


@pytest.mark.slow
@pytest.mark.parametrize("radius", [2.4e-3, 6.5e-3])
def test_the_orders_are_enough(radius: float) -> None:
    """At the least gap, where a string's own field is answered at the highest orders: four fewer change little."""
    shape = pole(radius, profiles.flat(radius), "bench")
    row = solved(shape)
    orders = len(row.cells[shape].answer.response)
    shipped = slopes(row, 0.2e-3)
    less = RowNumerics(close_orders=(orders - 4, orders - 4))
    fewer = slopes(solved(shape, numerics=less), 0.2e-3)
    assert (fewer.z, fewer.linkage) == pytest.approx((shipped.z, shipped.linkage), rel=CONVERGED)


@pytest.mark.slow
@pytest.mark.parametrize("diameter", [4.8, 10.0])
def test_tables_that_begin_elsewhere_meet(diameter: float) -> None:
    """A case whose strings are close has a table from further below, and more orders: S of both sides of the gap."""
    found = []
    for gap in np.array([0.82, 0.84]) * max(1.0, diameter / 6):
        case = load_case("bench-single", {
            "pole.1.part.1.diameter": f"{diameter} mm", "strings.gap": f"{gap} mm",
            "coil.inner_width": f"{diameter + 1} mm", "coil.outer_width": f"{diameter + 9} mm"})
        materials = case_materials(case)
        row = solved_case(case, "draft").solution()
        shape = placed_strings(case)[0].shape
        found.append((gap, row.cells[row.places[0].shape].table.z[0],
                      RestStencil(rest_model(row.field, shape, layers_of(shape, materials))).static()))
    forget_meshes()
    (g0, z0, a), (g1, z1, b) = found
    assert z0 < z1
    assert (b.linkage - a.linkage) / (1e-3 * (g1 - g0)) == pytest.approx((a.z + b.z) / 2, rel=2e-2)


@pytest.mark.slow
def test_fields_of_a_uniform_rod_close_over_its_face() -> None:
    """Of the modulus, from where the thinnest string has its axis at the least gap, against the closed form."""
    heights, share = np.array([0.28e-3, 0.33e-3, 0.6e-3, 1.5e-3]), np.array([0.0, 0.3, 0.7, 0.9, 1.0, 1.1, 1.5])
    for radius in (0.5e-3, 2.4e-3, 4e-3, 6.5e-3):
        Z, X = (g.ravel() for g in np.meshgrid(heights, share * radius, indexing="ij"))
        magnet = magpylib.magnet.Cylinder(polarization=(0, 0, 1.0), dimension=(2 * radius, BENCH_LENGTH),
                                          position=(0, 0, -BENCH_LENGTH / 2))
        exact = magnet.getB(np.stack([X, 0 * X, Z], axis=-1)).T
        got = solved(rod(radius, material="ideal")).field.bias(np.stack([X, 0 * X, Z]))
        off = np.linalg.norm(got - exact, axis=0) / np.linalg.norm(exact, axis=0)
        assert off.max() < CONVERGED, f"radius {1e3 * radius} mm: {off.reshape(heights.size, -1)}"


@pytest.mark.slow
@pytest.mark.parametrize("gap", ["0.2 mm", "0.28 mm", "0.3 mm"])
def test_a_map_close_to_a_pole_begins_where_the_string_rests(gap: str) -> None:
    """λ is the same whatever the search begins with: so close the rest state is a poor guess for 2 mm up."""
    solved = solve(load_case("bench-single", {"strings.gap": gap}), quality="draft").solved
    shape, field = solved.strings[0].shape, solved.solution().field
    model = rest_model(field, shape, layers_of(shape, solved.materials))
    rest = rest_slopes(model).rest
    found, anew = (linkage_map(field, model, rest=begin).linkage for begin in (rest, None))
    np.testing.assert_allclose(found, anew, rtol=1e-6)


def test_whole_newton_steps_that_lead_away_are_taken_in_parts() -> None:
    """A string of 0.4 mm 0.25 mm over a wide strong pole: steps taken whole went ever farther, on every mesh."""
    row = solved(pole(4e-3, profiles.flat(4e-3), "alnico"))
    near, here, far = (slopes(row, gap, 0.2e-3).z for gap in (0.24e-3, 0.25e-3, 0.26e-3))
    assert here == pytest.approx((near + far) / 2, rel=2e-3)
