"""A wheel that turns: λ by other routes, and the limits of gap and pitch."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rigs.wheels import FEW, MATERIALS, clockwise, disc_linkage, torque_per_ampere, wheel_build
from stringflux.geometry.errors import CaseError
from stringflux.geometry.mesh.wheel import SLIDING, SlidingQuality
from stringflux.geometry.shapes.section import CoilSides, PlanePart, box
from stringflux.geometry.shapes.tooth_wheel import WheelSensor
from stringflux.solver.coil import sides
from stringflux.solver.constants import NU0
from stringflux.solver.interpolation import gauss
from stringflux.solver.wheel.solve import SolvedWheel, solve_wheel

WIDE = SlidingQuality(positions=4, layers=2.0, corner=4.0, growth=0.5, most=200)


@pytest.fixture(scope="module")
def solved() -> SolvedWheel:
    return solve_wheel(wheel_build(), MATERIALS, quality=SLIDING["normal"])


def cosines(solved: SolvedWheel) -> np.ndarray:
    """a_m of λ = Σ a_m cos m n θ."""
    one = solved.linkage
    return np.fft.rfft(np.concatenate([one, one[-2:0:-1]])).real / (one.size - 1)


def test_a_bare_magnet_links_the_coil_as_in_closed_form() -> None:
    """By reciprocity λ = ℓ ∫ M·b, M = Br/μ0 of a straight magnet, b the coil's in closed form: signs and all."""
    build = wheel_build(pole=False, magnet="straight", steel="air")
    found = solve_wheel(build, MATERIALS, quality=FEW)
    (x0, z0), _, (x1, z1), _ = build.sensor.bars[0].outline
    g, w = gauss(40)
    x, z = np.meshgrid(x0 + (x1 - x0) * g, z0 + (z1 - z0) * g, indexing="ij")
    up = w @ sides.field(build.sensor.coil, np.stack([x, z]))[1] @ w * (x1 - x0) * (z1 - z0)
    expected = build.sensor.length * 0.4 * NU0 * up
    assert expected > 0  # north up, counter-clockwise
    assert found.linkage_alone == pytest.approx(expected, rel=2e-3)
    assert found.linkage == pytest.approx(np.full(3, expected), rel=2e-3)


def test_wound_the_other_way_it_is_the_other_sign() -> None:
    build = wheel_build()
    one, other = (solve_wheel(b, MATERIALS, quality=FEW).linkage for b in (build, clockwise(build)))
    assert other == pytest.approx(-one, rel=1e-12)
    assert one[0] > one[-1] > 0  # a tooth over the face draws more flux through the coil than a floor


def test_torque_and_linkage_come_of_one_energy(solved: SolvedWheel) -> None:
    """dT/dI of Maxwell's stress, on the tangents of the curves, is dλ/dθ between positions: 5e-5 found."""
    a, n = cosines(solved), solved.build.wheel.teeth
    m = np.arange(a.size)
    slopes = [-float(np.sum(m * n * a * np.sin(m * n * angle))) for angle in solved.angles]
    largest = max(map(abs, slopes))
    for i in (3, 6, 9):
        assert torque_per_ampere(solved, i) == pytest.approx(slopes[i], abs=3e-4 * largest)


def test_the_mesh_is_not_seen_in_the_voltage(solved: SolvedWheel) -> None:
    """Coefficients of λ fall steadily, and the last ones lie far under what a mesh for each place would leave."""
    a = np.abs(cosines(solved))
    assert a[7:].max() < 2e-3 * a[1]


@pytest.mark.slow
@pytest.mark.parametrize("change", [
    {"layers": 4.0}, {"corner": 6.0}, {"growth": 0.3}, {"divisions": 5.0}, {"far": 6.0}, {"positions": 48},
])
def test_a_finer_mesh_changes_the_swing_little(solved: SolvedWheel, change: dict[str, float]) -> None:
    finer = replace(SLIDING["normal"], **change)
    only = finer.positions // 2
    found = solve_wheel(solved.build, MATERIALS, quality=replace(finer, positions=4, most=max(96, only)))
    swing = solved.linkage[0] - solved.linkage[-1]
    assert found.linkage[0] - found.linkage[-1] == pytest.approx(swing, rel=5e-3)
    assert found.linkage[0] == pytest.approx(solved.linkage[0], rel=5e-3)


@pytest.mark.slow
def test_far_from_the_wheel_its_first_harmonic_decays_as_its_teeth_ask() -> None:
    """The slope of ln λ_1 over the gap comes to that of (1 + g/R)^−n: the magnet's field and the coil's reach the
    wheel as waves q and n − q about its axis, each falls as R/(R + g) to its own power, and n teeth link only such
    pairs (derived here). On a straight rack that is exp(−2π g/pitch), which here would be 20 to 35 % steeper."""
    n, radius, pitch = 24, 25.0, 2 * np.pi * 25 / 24
    gaps = np.array([0.6, 0.9, 1.2, 1.5]) * pitch
    quality = SlidingQuality(positions=8, layers=4.0, corner=2.0, growth=0.6, divisions=2.0)
    first = [abs(cosines(solve_wheel(wheel_build(gap=float(g)), MATERIALS, quality=quality, tolerance=1e-11))[1])
             for g in gaps]
    slope = -np.diff(np.log(first)) / np.diff(gaps)
    expected = np.diff(n * np.log(radius + gaps)) / np.diff(gaps)
    ratio = slope / expected
    assert np.all(np.abs(ratio - 1) < [0.05, 0.02, 0.02])  # 1.030, 1.000, 0.988 found


@pytest.mark.slow
def test_a_tooth_much_wider_than_the_pole_is_a_smooth_wheel() -> None:
    """Over a tooth λ is that of a full disc at the gap, over a floor that of one deeper by the teeth; both of them by
    the solver for bars, which knows nothing of this one."""
    bars = (PlanePart(material="straight", outline=box(-1e-3, 1e-3, -2e-3, 0.0), magnetisation=(0, 1)),)
    coil = CoilSides(inner=1.2e-3, build=0.8e-3, bottom=-1.8e-3, top=-0.2e-3, turns=1000.0)
    sensor = WheelSensor(bars=bars, coil=coil, length=10e-3)
    smooth = np.array([disc_linkage(sensor, 60e-3 - h, 1e-3 + h) for h in (0.0, 2e-3)])
    off = []
    for teeth in (24, 12, 6):
        build = wheel_build(teeth=teeth, radius=60e-3, bore=30e-3, height=2e-3, top=0.48, floor=0.48)
        found = solve_wheel(replace(build, sensor=sensor), MATERIALS, quality=WIDE)
        off.append((found.linkage[[0, -1]] - smooth) / (smooth[0] - smooth[1]))
    assert np.all(np.diff(np.abs(off), axis=0) < 0)  # 7, 2.4, 0.7 % over a tooth, 3.6, 2.2, 0.1 % over a floor
    assert np.max(np.abs(off[-1])) < 0.01


def test_without_a_magnet_there_is_nothing_to_see() -> None:
    build = wheel_build()
    bare = replace(build, sensor=replace(build.sensor, bars=tuple(
        PlanePart(material="steel-1008", outline=p.outline) for p in build.sensor.bars)))
    with pytest.raises(CaseError, match="no bar of it is a magnet"):
        solve_wheel(bare, MATERIALS, quality=FEW)
