"""Laws that the string stage must keep."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rigs.fields.bench_rig import FROHLICH, LINEAR_100, Wire, bench_row, linkage, model, stencil
from rigs.fields.shapes import BENCH_COIL, BENCH_MAGNET, placed, rod
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.postprocess.string.linkage import linkage_map, rest_model
from stringflux.solver.coil import air as coil_air
from stringflux.solver.constants import MU0
from stringflux.solver.materials import StringSteel, find_material
from stringflux.solver.row.coil_on_pole import coil_potentials
from stringflux.solver.row.rings import ring_potential
from stringflux.solver.row.solve import solve_row

STEEL = find_material("string-steel")


def test_half_and_whole_string_agree() -> None:
    """The mirrored grid and the full one, reached through a slope too small to matter."""
    a = linkage(Wire(0.215e-3, 3e-3, STEEL))
    assert linkage(Wire(0.215e-3, 3e-3, STEEL, slope=1e-9)) == pytest.approx(a, rel=1e-6)


def test_slope_is_even() -> None:
    up, down = (linkage(Wire(0.215e-3, 3e-3, STEEL, slope=s)) for s in (0.02, -0.02))
    assert up == pytest.approx(down, rel=1e-6)


def test_left_and_right_agree() -> None:
    left, right = (linkage(Wire(0.3e-3, 2.5e-3, STEEL, y=y)) for y in (-1.3e-3, 1.3e-3))
    assert left == pytest.approx(right, rel=1e-6)


def test_everything_moved_sideways_stays() -> None:
    y = 7e-3
    moved = solve_row([placed(rod(), y=y)], replace(BENCH_COIL, y_centre=y), {"bench": BENCH_MAGNET},
                      quality=QUALITIES["normal"], history="after", band=(0.7e-3, 7e-3))
    assert moved.inductance == pytest.approx(bench_row().inductance, rel=1e-9)
    assert linkage(Wire(0.3e-3, 2.5e-3, STEEL, y=y), moved) == pytest.approx(
        linkage(Wire(0.3e-3, 2.5e-3, STEEL)), rel=1e-7)


def test_everything_moved_up_stays() -> None:
    dz = 1.7e-3
    coil = replace(BENCH_COIL, bottom=BENCH_COIL.bottom + dz, top=BENCH_COIL.top + dz)
    moved = solve_row([placed(rod(), face=dz)], coil, {"bench": BENCH_MAGNET}, quality=QUALITIES["normal"],
                      history="after", band=(0.7e-3 + dz, 7e-3 + dz))
    assert linkage(Wire(0.3e-3, 2.5e-3 + dz, STEEL), moved) == pytest.approx(
        linkage(Wire(0.3e-3, 2.5e-3, STEEL)), rel=1e-7)


def test_turns_multiply_the_linkage_and_square_the_inductance() -> None:
    many = solve_row([placed(rod())], replace(BENCH_COIL, turns=5000.0), {"bench": BENCH_MAGNET},
                     quality=QUALITIES["normal"], history="after", band=(0.7e-3, 7e-3))
    assert many.inductance == pytest.approx(5000**2 * bench_row().inductance, rel=1e-9)
    wire = Wire(0.2e-3, 3e-3, STEEL)
    assert linkage(wire, many) == pytest.approx(5000 * linkage(wire), rel=1e-9)


def test_reciprocity_of_the_linkage() -> None:
    """λ = ∫ M·b (b: coil with pole) against the other way round: the flux that the string's M sends through
    the coil in air, plus that of the pole magnetised by the string."""
    wire = Wire(0.3e-3, 2.5e-3, LINEAR_100)
    m = model(wire)
    state = m.at(np.array([0.0]), np.array([wire.height]))
    g = m.grid
    x, mid = g.x, g.middle
    area = np.pi * wire.radius**2
    M = np.concatenate([[0.0], state.axial.m[0, 0], [0.0]])
    b = coil_air.field(BENCH_COIL, np.stack([x, 0 * x + wire.radius, 0 * x + wire.height]))
    b2 = coil_air.field(BENCH_COIL, np.stack([x, 0 * x, 0 * x + wire.height + wire.radius]))
    b3 = coil_air.field(BENCH_COIL, np.stack([x, 0 * x, 0 * x + wire.height - wire.radius]))
    axial = (b[0] / 2 + (b2 + b3)[0] / 4)  # mean round the surface: four points
    direct = area * np.sum(g.weight * M * g.averaged(axial))
    # the pole in the potential of the string's axial charges, on both halves of the string
    cells = bench_row().cells[rod()]
    charge = -area * np.diff(M)
    out = 0.0
    v = coil_potentials(BENCH_COIL, placed(rod()), cells.section, 1)
    for m_order in (0,):  # only order 0 meets a round coil
        ring = ring_potential(cells.near.r, cells.near.z, np.abs(mid), np.full(mid.size, wire.height), 1, 40)
        phi = 2 * (ring[m_order] @ charge) / (4 * np.pi) / (2 * np.pi)  # mirrored half counted
        q = cells.signal.order(m_order).charges(cells.near.spread[m_order] @ phi)
        out = -MU0 * 2 * np.pi * float(q @ v[m_order])
    theirs = direct + out
    ours = area * np.sum(g.weight * M * g.averaged(m.fields.averaged(
        np.array([0.0]), np.array([wire.height]), wire.radius)[0, 3]))
    assert ours == pytest.approx(theirs, rel=1e-3)  # the tube as a line of charge on its axis: (a/gap)²/8
    assert abs(out / theirs) > 0.1  # the pole's share is not a trifle


def test_static_slope_from_the_differential_curve() -> None:
    """Where the reversible slope *is* the static curve's own slope, both slopes of λ agree."""

    class Differential(StringSteel):
        def reversible(self, m):  # type: ignore[no-untyped-def]
            h = np.geomspace(1.0, 1e7, 6000)
            M, slope = self.magnetisation(h)
            return np.interp(np.abs(m), M, slope)

    steel = Differential(name="d", saturation=1.55e6, chi_initial=90.0, chi_reversible=90.0, law="frohlich")
    s = stencil(Wire(0.215e-3, 3e-3, steel))
    static = s.static()
    assert s.reversible(static.rest) == pytest.approx(static.z, rel=2e-3)


def test_positions_solved_at_once_are_those_solved_alone() -> None:
    """Some of them settle early, the lowest last; where the search begins makes no difference."""
    m = model(Wire(0.215e-3, 3e-3, STEEL))
    y, z = np.zeros(4), np.array([3.0, 2.7, 3.3, 3.1]) * 1e-3
    together = m.at(y, z)
    alone = [m.at(y[:1], z[i:i + 1]) for i in range(4)]
    np.testing.assert_allclose(together.linkage, [s.linkage[0] for s in alone], rtol=1e-10)
    np.testing.assert_allclose(together.axial.h, [s.axial.h[0] for s in alone], rtol=0, atol=1e-4)  # A/m
    begun = m.setting(y, z).static(begin=5.0 * together.axial.h[0])
    np.testing.assert_allclose(begun.linkage, together.linkage, rtol=1e-9)


def test_slope_of_another_metal() -> None:
    """From the five places up alone."""
    s, other = stencil(Wire(0.215e-3, 3e-3, STEEL)), Wire(0.215e-3, 3e-3, replace(STEEL, chi_initial=300.0))
    s.static()
    assert s.slope_of(other.layers) == pytest.approx(stencil(other).static().z, rel=1e-7)


def test_grid_of_the_string_does_not_matter() -> None:
    coarse, fine = (linkage(Wire(0.4e-3, 2.2e-3, STEEL), refine=r) for r in (1.0, 3.0))
    assert coarse == pytest.approx(fine, rel=2e-3)


def test_linkage_does_not_depend_on_the_maps_grid() -> None:
    wire = Wire(0.215e-3, 3e-3, STEEL)
    row = bench_row()
    base = rest_model(row.field, wire.shape, wire.layers)
    coarse, fine = linkage_map(row.field, base), linkage_map(row.field, base, 11, 11)
    S = [np.interp(0.0, m.y, m.slope_z(wire.height)) for m in (coarse, fine)]
    assert coarse.linkage[3, 3] == pytest.approx(fine.linkage[5, 5], rel=2e-3)
    assert S[0] == pytest.approx(S[1], rel=5e-3)
    assert S[1] == pytest.approx(stencil(wire).static().z, rel=2e-3)


@pytest.mark.parametrize("steel", [LINEAR_100, FROHLICH])
def test_quality_does_not_matter(steel: StringSteel) -> None:
    """S of `normal` and `fine` meshes agree within 0.3 %."""
    wire = Wire(0.215e-3, 3e-3, steel)
    normal, fine = (stencil(wire, bench_row(q)).static().z for q in ("normal", "fine"))
    assert normal == pytest.approx(fine, rel=3e-3)


def test_output_of_plain_strings_goes_as_their_area() -> None:
    """J. Audio Eng. Soc. 65(9), 2017, 711–721: output ∝ cross-section. Exponent in the diameter, at equal
    height of the axis: 1.83–2.05."""
    radii = np.array([0.1143e-3, 0.1651e-3, 0.2159e-3, 0.254e-3])
    S = [abs(stencil(Wire(float(a), 3e-3, STEEL)).static().z) for a in radii]
    exponent = np.polyfit(np.log(radii), np.log(S), 1)[0]
    assert 1.8 < exponent < 2.1
