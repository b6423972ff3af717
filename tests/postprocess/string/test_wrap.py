"""The wrap's law: limits, derivative, against a turn with its real curve and strings turn by turn."""

from __future__ import annotations

import math

import numpy as np
import pytest

from rigs.fields.turn_cell import nonlinear_turn
from rigs.fields.wound_section import WoundSection, resolved_moment
from stringflux.geometry.shapes.row import StringShape
from stringflux.postprocess.string.grid import StringGrid, self_potential
from stringflux.postprocess.string.layers import CHARGE_DEPTH, charge_radius
from stringflux.postprocess.string.magnetisation import Layer, solve_static
from stringflux.postprocess.string.wrap import gap_factor, metal_area, wrap_law
from stringflux.solver.materials import StringSteel, find_material
from stringflux.solver.wrap_turn import wrap_susceptibility

CURVE = 0.04  # of M, the fit of what saturation adds
REVERSIBLE = 0.08  # of the small answer up to 0.93 Ms, same fit
CHANGING = 0.015  # of moment and linkage where the field changes sign
RESOLVED = 0.02  # of the moment of a whole string; the goal is 5 %

WRAPS = ["string-nickel-steel", "string-nickel", "string-stainless"]


def wire(name: str) -> StringSteel:
    found = find_material(name)
    assert isinstance(found, StringSteel)
    return found


def linear(chi: float) -> StringSteel:
    return StringSteel(
        name="linear", saturation=math.inf, chi_initial=chi, chi_reversible=chi, law="linear"
    )


@pytest.mark.parametrize("name", WRAPS)
def test_small_signal_is_the_cell_of_one_turn(name: str) -> None:
    metal = wire(name)
    law = wrap_law(metal, 0.02, 0.3)
    m, slope = law.magnetisation(np.array([0.0, 1.0]))
    assert m[0] == 0.0
    for found, chi in ((slope[0], metal.chi_initial), (float(law.reversible(0.0)), metal.chi_reversible)):
        assert found == pytest.approx(wrap_susceptibility(1 + chi, 0.02, 0.3, core_mu=100.0), rel=0.02)


@pytest.mark.parametrize("name", WRAPS)
def test_odd_rising_and_differentiable(name: str) -> None:
    law = wrap_law(wire(name), 0.01, 0.35)
    h = np.geomspace(1e-2, 1e8, 201)
    m, slope = law.magnetisation(h)
    np.testing.assert_allclose(law.magnetisation(-h)[0], -m)
    assert np.all(slope > 0)
    assert np.all(np.diff(m) > 0)
    e = 1e-4 * h
    difference = (law.magnetisation(h + e)[0] - law.magnetisation(h - e)[0]) / (2 * e)
    np.testing.assert_allclose(slope, difference, rtol=1e-3, atol=1e-6)
    assert m[-1] == pytest.approx(wire(name).saturation, rel=1e-3)


def test_linear_metal() -> None:
    law = wrap_law(linear(99.0), 0.05, 0.0)
    h = np.array([-3e5, 1.0, 40.0, 1e6])
    m, slope = law.magnetisation(h)
    chi = 1 / (1 / 99 + law.gap_factor)
    np.testing.assert_allclose(m, chi * h, rtol=1e-9)
    np.testing.assert_allclose(slope, chi, rtol=1e-9)
    np.testing.assert_allclose(law.reversible(m), chi, rtol=1e-9)


def test_metal_that_is_not_magnetic() -> None:
    law = wrap_law(wire("string-bronze"), 0.01, 0.35)
    m, slope = law.magnetisation(np.array([-1e5, 0.0, 1e5]))
    assert not m.any()
    assert not slope.any()
    assert not law.reversible(m).any()


def test_reversible_falls_with_bias() -> None:
    law = wrap_law(wire("string-nickel-steel"), 0.01, 0.35)
    chi = law.reversible(np.linspace(0.0, 1.0, 21) * law.metal.saturation)
    assert np.all(np.diff(chi) < 0)
    assert chi[-1] == pytest.approx(0.0, abs=0.1)
    np.testing.assert_allclose(law.reversible(-law.metal.saturation / 2), chi[10])


@pytest.mark.parametrize(("name", "gap", "curvature"), [("string-nickel-steel", 0.01, 0.35),
                                                        ("string-nickel", 0.04, 0.25)])
def test_against_a_turn_with_its_real_curve(name: str, gap: float, curvature: float) -> None:
    h = np.array([1e2, 1e4, 3e4, 1e5])
    m, chi = nonlinear_turn(wire(name), gap, curvature, h)
    law = wrap_law(wire(name), gap, curvature)
    np.testing.assert_allclose(law.magnetisation(h)[0], m, rtol=CURVE)
    held = m < 0.93 * law.metal.saturation
    assert held.sum() >= 3
    np.testing.assert_allclose(law.reversible(m)[held], chi[held], rtol=REVERSIBLE)


def test_band_of_the_turn_gap() -> None:
    """In the field of a strong pole saturation narrows the band of "close wound" from 1 : 3 to 1 : 1.4."""
    metal = wire("string-nickel-steel")
    tight, loose = (wrap_law(metal, gap, 0.35).magnetisation(np.array([1e2, 6e4]))[0]
                    for gap in (0.005, 0.05))
    ratio = tight / loose
    assert 1.7 < ratio[0] < 3.5
    assert 1.0 < ratio[1] < ratio[0] - 0.5


def test_metal_area() -> None:
    """Volume of the wire in one turn over the pitch, the slope in both."""
    core, w, gap = 0.2e-3, 0.25e-3, 0.02
    slope = math.asin(w / (1 - gap) / (2 * math.pi * (core + w / 2)))
    pitch = w / (1 - gap) / math.cos(slope)
    turn = math.hypot(2 * math.pi * (core + w / 2), pitch)
    assert metal_area(core, w, gap) == pytest.approx(math.pi / 4 * w**2 * turn / pitch, rel=1e-12)


def homogenised(section: WoundSection, core: StringSteel, wrap: StringSteel,
                current: float) -> tuple[float, float, float]:
    """Moments of core and wrap, and ∫ M·H dV, by the chain's own axial equation, rings in place of a helix."""
    curvature = section.wrap_diameter / 2 / (section.core_radius + section.wrap_diameter / 2)
    law = wrap_law(wrap, section.gap, curvature, helix=False)
    metal = metal_area(section.core_radius, section.wrap_diameter, section.gap)
    layers = (
        Layer(area=math.pi * section.core_radius**2, law=core),
        Layer(area=metal, law=law),
    )
    shape = StringShape(y=0.0, axis_height=0.0, core_radius=section.core_radius, wrap_diameter=section.wrap_diameter)
    radius = charge_radius(shape, layers)
    grid = StringGrid(x=np.linspace(-section.half_length, section.half_length, 241), mirrored=False)
    kernel = grid.field_of(self_potential(grid, radius))[None]
    hz = section.field(current, np.full(grid.x.size, radius), grid.x)[1]
    h0 = grid.averaged(hz)[None, 1:-1]
    state = solve_static(layers, kernel, h0, np.zeros_like(h0))
    side = grid.weight[1:-1] * (np.sign(grid.x[1:-1]) if section.odd else 1.0)
    of_core, of_wrap = (layer.area * float(side @ m[0]) for layer, m in zip(layers, state.m, strict=True))
    along = sum(layer.area * m[0] for layer, m in zip(layers, state.m, strict=True))
    return of_core, of_wrap, float(np.sum(grid.weight[1:-1] * along * h0[0]))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("core", "wrap", "gap", "metals", "current"),
    [
        (0.200e-3, 0.26e-3, 0.02, (linear(90.0), linear(99.0)), 1.0),
        (0.165e-3, 0.17e-3, 0.01, (linear(90.0), linear(99.0)), 1.0),
        (0.225e-3, 0.40e-3, 0.05, (linear(90.0), linear(60.0)), 1.0),
        (0.200e-3, 0.26e-3, 0.01, (wire("string-steel"), wire("string-nickel-steel")), 800.0),
    ],
    ids=["middle", "thin", "thick", "saturating"],
)
def test_against_a_string_turn_by_turn(
    core: float, wrap: float, gap: float, metals: tuple[StringSteel, StringSteel], current: float
) -> None:
    turns = int((5e-3 if current > 1 else 9e-3) / wrap)
    section = WoundSection(core_radius=core, wrap_diameter=wrap, gap=gap, turns=turns, loop_radius=4e-3)
    of_core, of_wrap, volume, _ = resolved_moment(section, *metals, current, n=3)
    assert volume == pytest.approx(2 * section.half_length * metal_area(core, wrap, gap), rel=1e-3)
    mine = homogenised(section, *metals, current)
    assert mine[0] + mine[1] == pytest.approx(of_core + of_wrap, rel=RESOLVED)
    assert mine[1] == pytest.approx(of_wrap, rel=2 * RESOLVED)


EVEN = ((0.0, 1.0), (3e-3, -0.8), (-3e-3, -0.8))
ODD = ((2e-3, 1.0), (-2e-3, -1.0))
BASS = (wire("string-steel"), wire("string-nickel-steel"))


@pytest.mark.slow
@pytest.mark.parametrize("loops", [EVEN, ODD], ids=["even", "odd"])
@pytest.mark.parametrize(
    ("core", "wrap", "gap", "metals", "current"),
    [
        (0.50e-3, 0.50e-3, 0.02, (linear(90.0), linear(99.0)), 1.0),
        (0.50e-3, 0.50e-3, 0.02, (linear(90.0), linear(40.0)), 1.0),
        (0.50e-3, 0.50e-3, 0.10, (linear(90.0), linear(99.0)), 1.0),
        (0.45e-3, 0.20e-3, 0.02, (linear(90.0), linear(300.0)), 1.0),
        (0.20e-3, 0.26e-3, 0.01, (linear(90.0), linear(99.0)), 1.0),
        (0.50e-3, 0.50e-3, 0.02, BASS, 600.0),
    ],
    ids=["thick", "weak wrap", "loose", "thin wrap", "middle", "saturating"],
)
def test_in_a_field_that_changes_sign_within_millimetres(
    loops: tuple[tuple[float, float], ...], core: float, wrap: float, gap: float,
    metals: tuple[StringSteel, StringSteel], current: float
) -> None:
    """Moment and linkage within 1.5 %; with the charge on the crests of the turns ∅ 2 mm had 2 to 5 % too much."""
    section = WoundSection(core_radius=core, wrap_diameter=wrap, gap=gap, turns=int(8e-3 / wrap), loop_radius=3e-3,
                           loops=loops)
    of_core, of_wrap, _, linked = resolved_moment(section, *metals, current, n=3)
    mine = homogenised(section, *metals, current)
    assert mine[0] + mine[1] == pytest.approx(of_core + of_wrap, rel=CHANGING)
    assert mine[2] == pytest.approx(linked, rel=CHANGING)


@pytest.mark.parametrize("gap", [0.005, 0.02, 0.05])
def test_where_a_grating_of_round_wires_seems_to_lie(gap: float) -> None:
    """Over perfectly permeable wires side by side the field is that over a plane 0.06 d below their crests: line
    sources inside the wires, φ = 0 on them. Wires of steel and their core let the field in a little more: 0.1 d."""
    depth = 0.5 - grating_plane(gap) - gap / 2
    assert depth / (1 - gap) == pytest.approx(0.0615, abs=0.003)
    assert 0.0 < depth / (1 - gap) < CHARGE_DEPTH


def grating_plane(gap: float) -> float:
    """Height of that plane over the wires' centres per pitch; the field is 1 above and 0 below."""
    t, s = (np.concatenate([-(u[1:][::-1]), u]) * np.pi / 2
            for u in (np.linspace(0, 1, 300) ** 2, np.linspace(0, 1, 100) ** 1.5))
    a = (1 - gap) / 2
    inside = a * (0.98 - 0.25 * np.abs(np.sin(s)))
    x, y, xs, ys = a * np.cos(t), a * np.sin(t), inside * np.cos(s), inside * np.sin(s)
    up, along = 2 * np.pi * (y[:, None] - ys), [2 * np.pi * (x[:, None] - side * xs) for side in (1, -1)]
    of_lines = [np.log(2 * (np.cosh(up) - np.cos(across))) / 4 for across in along]
    weight = np.sqrt(np.gradient(t))[:, None]
    matrix = np.vstack([np.hstack([sum(of_lines), np.ones((t.size, 1))]) * weight,
                        1e3 * np.pi * np.append(np.ones(s.size), 0.0)])
    *q, level = np.linalg.lstsq(matrix, np.append(-y * weight[:, 0] / 2, 500.0), rcond=1e-13)[0]
    return float(np.pi * np.array(q) @ ys - level)


@pytest.mark.parametrize(("gap", "curvature"), [(0.003, 0.2), (0.01, 0.3), (0.05, 0.4)])
def test_the_table_of_cells(gap: float, curvature: float) -> None:
    """What the table makes of χ_rings, 1/(1/χ + D₀), against a cell of its own, also between the entries."""
    for chi in (20.0, 150.0, 1000.0):
        own = wrap_susceptibility(1 + chi, gap, curvature, core_mu=100.0, helix=False)
        assert 1 / (1 / chi + gap_factor(chi, gap, curvature)) == pytest.approx(own, rel=6e-3)
