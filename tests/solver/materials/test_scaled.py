"""Grades with another coercivity, and a row whose magnets are in another state."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from stringflux.cases.files.load import load_case
from stringflux.cases.solved.solve import solved_case
from stringflux.geometry.errors import CaseError
from stringflux.solver.constants import MU0
from stringflux.solver.materials import MagnetCurve, find_material, linear_magnet, magnet_from_points
from stringflux.solver.materials.demagnetisation import Points
from stringflux.solver.materials.scaled import scaled
from stringflux.solver.row.other_magnets import with_magnets

OWN = magnet_from_points(name="own", points=[(0.0, 1.25), (2e4, 1.2), (3.6e4, 1.1), (4.6e4, 0.8), (5e4, 0.0)])
GRADES = ("alnico-2", "alnico-5", "alnico-8", "ceramic-8")
SCALES = (0.6, 0.9, 1.2, 1.7)


def magnet(name: str) -> MagnetCurve:
    found = OWN if name == "own" else find_material(name)
    assert isinstance(found, MagnetCurve)
    return found


@pytest.mark.parametrize("k", SCALES)
@pytest.mark.parametrize("name", [*GRADES, "own"])
def test_a_scaled_curve_is_a_magnets(name: str, k: float) -> None:
    m, new = magnet(name), scaled(magnet(name), coercivity=k)
    b = np.linspace(0.0, m.remanence, 400)
    h = new.major(b)[0]
    assert h[-1] == pytest.approx(0.0, abs=1e-6 * m.coercivity)  # (0, Br) stays
    assert (np.diff(h) > 0).all()
    # J never rises on demagnetising; secants, 1 % as in the loader, between the points of a table
    if isinstance(new.law, Points):
        b, h = np.array(new.law.inductions), np.array(new.law.fields)
    assert (np.diff(b) / np.diff(h) >= 0.99 * MU0).all()
    assert h[0] == pytest.approx(-new.coercivity, rel=1e-9)
    assert (new.mu_recoil, new.mu_transverse, new.remanence) == (m.mu_recoil, m.mu_transverse, m.remanence)


@pytest.mark.parametrize("k", SCALES)
@pytest.mark.parametrize("name", ["alnico-2", "alnico-5"])
def test_fields_of_the_knee_are_multiplied(name: str, k: float) -> None:
    m, new = magnet(name), scaled(magnet(name), coercivity=k)
    b = np.linspace(0.0, 0.4 * m.remanence, 50)  # there the recoil line plays no part
    # the rounding of the corner with the recoil line moves it by some 0.1 %
    np.testing.assert_allclose(new.major(b)[0], k * m.major(b)[0], rtol=3e-3)
    assert new.coercivity == pytest.approx(k * m.coercivity, rel=3e-3)


def test_a_ferrite_keeps_its_line() -> None:
    m, new = magnet("ceramic-8"), scaled(magnet("ceramic-8"), coercivity=1.3)
    b = np.array([0.2, 0.3])  # over the knee
    np.testing.assert_allclose(new.major(b)[1], m.major(b)[1], rtol=0.02)


@pytest.mark.parametrize("k", [0.6, 0.9, 1.1])
@pytest.mark.parametrize("name", [*GRADES, "alnico-5-7", "own", "line"])
def test_another_remanence_makes_a_magnets_curve(name: str, k: float) -> None:
    m = linear_magnet(name="line", remanence=1.0, mu_recoil=1.05) if name == "line" else magnet(name)
    new = scaled(m, remanence=k)
    assert new.remanence == pytest.approx(k * m.remanence, rel=1e-12)
    b = np.linspace(0.0, new.remanence, 400)
    h = new.major(b)[0]
    assert h[-1] == pytest.approx(0.0, abs=1e-6 * m.coercivity)
    if isinstance(new.law, Points):
        b, h = np.array(new.law.inductions), np.array(new.law.fields)
    assert (np.diff(h) > 0).all()
    assert (np.diff(b) / np.diff(h) >= 0.99 * MU0).all()  # J never rises on demagnetising; 1 % as in the loader
    assert (new.mu_recoil, new.mu_transverse) == (m.mu_recoil, m.mu_transverse)


def test_flux_densities_of_a_rounded_loop_are_multiplied_and_both_scales_go_together() -> None:
    m, k = magnet("alnico-5"), 0.9
    new = scaled(m, remanence=k)
    b = np.linspace(0.0, 0.4 * m.remanence, 50)  # there the recoil line plays no part
    # the rounding of the corner with the recoil line moves it by some 0.1 %
    np.testing.assert_allclose(new.major(k * b)[0], m.major(b)[0], rtol=3e-3)
    assert new.energy_product == pytest.approx(k * m.energy_product, rel=3e-3)
    both = scaled(m, coercivity=0.8, remanence=k)
    assert both.energy_product == pytest.approx(0.8 * k * m.energy_product, rel=5e-3)


@pytest.mark.parametrize(("name", "power"), [("smco-5", 1.0), ("ceramic-8", 0.0)])
def test_hc_follows_the_remanence_where_the_recoil_line_ends_there(name: str, power: float) -> None:
    m, new = magnet(name), scaled(magnet(name), remanence=0.9)
    # the line's end is (0.9 Br)/(μ0 μrec); this ferrite has its knee before that. The rounding takes under 1 %
    assert new.coercivity == pytest.approx(0.9**power * m.coercivity, rel=0.01)


def test_one_is_the_magnet_itself_and_a_straight_one_is_refused() -> None:
    m = magnet("alnico-5")
    assert scaled(m, coercivity=1.0) is m
    with pytest.raises(CaseError, match="no coercivity of its own"):
        scaled(linear_magnet(name="line", remanence=1.0, mu_recoil=1.05), coercivity=0.9)


@pytest.mark.parametrize("change", [{"coercivity_scale": 0.8}, {"remanence_scale": 0.5}, {"charge": 0.55}])
def test_a_row_in_another_state_is_the_row_solved_anew(change: dict[str, float]) -> None:
    changes = {f"pole.1.part.1.{key}": value for key, value in change.items()}
    first, second = load_case("bench-single"), load_case("bench-single", changes)
    row = solved_case(first, "draft").solution()
    shapes = [p.shape for p in second.placed_poles()]
    moved, anew = with_magnets(row, shapes, second.history), solved_case(second, "draft").solution()
    point = np.array([[0.5e-3], [0.0], [4.5e-3]])
    # the same mesh and equations, solved to 1e-8; one has neighbours' tolerance of 1e-5 in it
    np.testing.assert_allclose(moved.face_field(0.5e-3), anew.face_field(0.5e-3), rtol=1e-4)
    np.testing.assert_allclose(moved.field.bias(point)[2], anew.field.bias(point)[2], rtol=1e-4)
    assert abs(moved.face_field(0.5e-3)[0] / row.face_field(0.5e-3)[0] - 1) > 0.05
    np.testing.assert_array_equal(moved.field.reciprocal(point), row.field.reciprocal(point))


def test_another_outline_is_refused() -> None:
    case = load_case("bench-single")
    row = solved_case(case, "draft").solution()
    shape = row.places[0].shape
    part = replace(shape.parts[0], outline=tuple((r * 0.9, z) for r, z in shape.parts[0].outline))
    with pytest.raises(ValueError, match="only the state of magnets"):
        with_magnets(row, [replace(shape, parts=(part,))], "after")


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"pole.1.part.1.material": "steel-1008", "pole.1.part.1.polarity": None}, "is no magnet"),
        ({"pole.1.part.1.remanence_scale": 1.5}, "remanence_scale: received 1.5; write a number"),
        ({"pole.1.part.1.coercivity_scale": 0.1}, "coercivity_scale: received 0.1; write a number"),
    ],
)
def test_case_files_say_where(changes: dict[str, object], said: str) -> None:
    with pytest.raises(CaseError, match=said):
        load_case("bench-single", {"pole.1.part.1.coercivity_scale": 0.9, **changes})
