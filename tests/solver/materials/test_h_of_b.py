"""H(B) of parts of a section against B(H) of bodies, its tangents against differences."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.bodies import Box, SolidBody
from stringflux.geometry.shapes.magnet_state import MagnetState
from stringflux.geometry.shapes.row import PartShape
from stringflux.geometry.shapes.section import PlanePart, box
from stringflux.solver.constants import MU0
from stringflux.solver.materials import BodyMaterial, ConstantPermeability, find_material, is_steel, known_materials
from stringflux.solver.materials.b_of_h import MagnetLaw, solid_law
from stringflux.solver.materials.h_of_b import as_made, charge_of, in_section, round_the_axis, slope_with_history
from stringflux.solver.materials.magnet import MagnetCurve
from stringflux.solver.solid.charged_before import Recoil

STEEL = next(m for m in map(find_material, known_materials()) if is_steel(m))
CONSTANT = ConstantPermeability(name="c", mu_r=80.0)
MAGNET = find_material("alnico-5")
B = np.array([[0.3, -0.2, 0.9, 0.05], [0.6, 0.7, 0.1, 1.1]])  # T
STATES = [{}, {"charge": 0.6}, {"coercivity": 0.8, "remanence": 0.95}]


def bar(magnetisation: tuple[float, float] | None = (3.0, 4.0), **state: float) -> PlanePart:
    return PlanePart(material="m", outline=box(0, 4e-3, 0, 2e-3), magnetisation=magnetisation,
                     state=MagnetState(**state))


def pole(polarity: int, **state: float) -> PartShape:
    return PartShape(material="m", outline=((0, 0), (2e-3, 0), (2e-3, -9e-3), (0, -9e-3)), polarity=polarity,
                     state=MagnetState(**state))


def of_differences(material: BodyMaterial, part: PlanePart | PartShape, b: Array, i: int, low: Array | None,
                   step: float = 1e-6) -> Array:
    d = np.zeros_like(b)
    d[i] = step
    return (in_section(material, part, b + d, low)[0] - in_section(material, part, b - d, low)[0]) / (2 * step)


@pytest.mark.parametrize("state", STATES)
@pytest.mark.parametrize("material", [MAGNET, STEEL, CONSTANT])
def test_the_law_of_a_section_undoes_that_of_a_body(material: BodyMaterial, state: dict[str, float]) -> None:
    """B → H by the flux solvers' law → B by the potential solver's, which finds it by Newton's method."""
    h, _ = in_section(material, bar(**state), B, None)
    body = SolidBody(name="b", material="m", form=Box(low=(0, 0, 0), high=(1e-3, 1e-3, 1e-3)),
                     magnetisation=(3.0, 0.0, 4.0), state=MagnetState(**state))
    back, _ = solid_law(body, material)(np.stack([h[0], np.zeros_like(h[0]), h[1]]))
    assert back[[0, 2]] == pytest.approx(B, abs=1e-9)
    assert back[1] == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("material", [MAGNET, STEEL, CONSTANT])
@pytest.mark.parametrize("below", [False, True])
def test_the_point_of_a_law_at_an_induction(material: BodyMaterial, below: bool) -> None:
    """Where B(H) has led it stands at that H with the same slopes; so does a magnet that was lower before."""
    body = SolidBody(name="b", material="m", form=Box(low=(0, 0, 0), high=(1e-3, 1e-3, 1e-3)),
                     magnetisation=(3.0, 0.0, 4.0))
    law = solid_law(body, material)
    if below and isinstance(law, MagnetLaw):
        law = replace(law, easy=Recoil(curve=law.easy, b=np.float64(0.6), h=law.easy.field(np.array(0.6))[0],
                                       slope=MU0 * law.mu_recoil))
    h = 4e4 * np.array([[0.1, -0.9, 0.5, -1.4, 1.0], [0.2, 0.3, -0.1, 0.0, 0.4], [0.3, -1.0, -0.6, -1.9, 1.0]])
    b, slopes = law(h)
    found = law.at_induction(h, b)
    assert found[0] == pytest.approx(h, abs=1e-4 * float(np.max(np.abs(h))))
    assert found[1] == pytest.approx(b, abs=1e-9)
    assert found[2] == pytest.approx(slopes, abs=1e-5 * float(np.max(np.abs(slopes))))


@pytest.mark.parametrize("low", [None, B - np.array([[0.0], [0.1]])])
@pytest.mark.parametrize("part", [bar(), pole(1), pole(-1)])
@pytest.mark.parametrize("material", [MAGNET, STEEL, CONSTANT])
def test_the_tangent(material: BodyMaterial, part: PlanePart | PartShape, low: Array | None) -> None:
    rr, rz, zz = in_section(material, part, B, low)[1]
    by_r, by_z = (of_differences(material, part, B, i, low) for i in (0, 1))
    scale = np.max(np.abs(zz))
    for found, differences in ((rr, by_r[0]), (rz, by_r[1]), (rz, by_z[0]), (zz, by_z[1])):
        assert found == pytest.approx(differences, rel=1e-5, abs=1e-5 * scale)


def test_north_down_is_north_up_in_a_mirror() -> None:
    assert in_section(MAGNET, pole(-1), -B, None)[0] == pytest.approx(-in_section(MAGNET, pole(1), B, None)[0])


def test_without_a_direction_a_magnet_is_not_charged() -> None:
    assert charge_of(pole(0)) == charge_of(bar(None)) == 0.0
    assert charge_of(pole(-1, charge=0.7)) == 0.7
    h, _ = in_section(MAGNET, pole(0), np.zeros((2, 1)), None)
    assert h == pytest.approx(0.0)


def test_a_part_has_the_grade_of_its_batch() -> None:
    assert isinstance(MAGNET, MagnetCurve)
    assert as_made(MAGNET, pole(1)) is MAGNET
    weak = as_made(MAGNET, pole(1, coercivity=0.8, remanence=0.9))
    assert weak.coercivity == pytest.approx(0.8 * MAGNET.coercivity, rel=1e-4)  # the curve's corner is rounded
    assert weak.remanence == pytest.approx(0.9 * MAGNET.remanence)


def test_no_wave_round_the_axis_changes_nothing() -> None:
    assert isinstance(MAGNET, MagnetCurve)
    h, slope = round_the_axis(MAGNET, pole(1), B, None, np.zeros((1, 4)))
    plain, tangent = in_section(MAGNET, pole(1), B, None)
    assert h[0] == pytest.approx(plain[1])
    assert h[1] == pytest.approx(0.0, abs=1e-9 * np.max(np.abs(plain)))
    assert slope[0, 0] == pytest.approx(tangent[2])


def test_waves_round_the_axis_by_a_fine_sum() -> None:
    """H_0 and H_1 are the mean and twice the mean with cos α of the curve, read at 2,000 angles."""
    assert isinstance(MAGNET, MagnetCurve)
    b, wave = np.array([[0.0], [0.8]]), np.array([[0.05]])
    alpha = (np.arange(2000) + 0.5) * np.pi / 2000
    curve = MAGNET.field(0.8 + 0.05 * np.cos(alpha))[0]
    h, _ = round_the_axis(MAGNET, pole(1), b, None, wave)
    assert h[0, 0] == pytest.approx(np.mean(curve), rel=1e-3)
    assert h[1, 0] == pytest.approx(2 * np.mean(curve * np.cos(alpha)), rel=1e-2)


@pytest.mark.parametrize("polarity", [1, -1])
def test_the_slope_with_the_history(polarity: int) -> None:
    """Above its lowest B a magnet is on the recoil line from there; the rest is not asked of what it has been."""
    b, step = polarity * np.array([0.7, 0.5]), 1e-6
    low = polarity * np.array([0.6, 0.6])  # the second has gone on down

    def h(low: Array) -> Array:
        return in_section(MAGNET, pole(polarity), np.stack([0 * b, b]), np.stack([0 * low, low]))[0][1]

    found = slope_with_history(MAGNET, pole(polarity), b, low)
    assert found == pytest.approx((h(low + step) - h(low - step)) / (2 * step), rel=1e-5, abs=1e-3)
    assert found[1] == 0.0 != found[0]
    assert np.all(slope_with_history(STEEL, pole(0), b, low) == 0.0)
