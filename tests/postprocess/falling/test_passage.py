"""A magnet that passes a coil: e against λ, areas against NΔΦ, peaks against speed; a core; a tube."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest

from rigs.fields.falling import MATERIALS
from stringflux.geometry import CaseError
from stringflux.geometry.demonstrations.falling import FallingMagnet, read_falling
from stringflux.postprocess.falling.motion import GRAVITY
from stringflux.postprocess.falling.passage import Passage
from stringflux.postprocess.falling.passing import passage
from stringflux.solver.falling.core import linked_in_mesh
from stringflux.solver.materials import material_uses
from stringflux.solver.materials.lookup import find_material

pytestmark = pytest.mark.slow

ALL = MATERIALS | {"copper": find_material("copper")}
DATA: dict[str, Any] = {
    "magnet": {"material": "ndfeb-38", "diameter": "10 mm", "length": "20 mm", "down": "north", "mass": "11.8 g"},
    "coil": {"inner_diameter": "16 mm", "outer_diameter": "22 mm", "length": "12 mm", "turns": 1000,
             "wire": "0.080 mm"},
    "drop": {"start": "0.15 m"},
}
CORE = {"material": "steel-1008", "diameter": "14 mm", "length": "30 mm"}
TUBE = {"material": "copper", "inner_diameter": "12 mm", "outer_diameter": "15 mm", "length": "0.5 m", "top": "0.1 m"}


def case(**tables: Any) -> FallingMagnet:
    data = {**DATA, **{k: DATA.get(k, {}) | v for k, v in tables.items()}}
    return read_falling(data, material_uses())


ONTO_STEEL = case(core=CORE, drop={"start": "0.12 m", "speed": "0.5 m/s", "gap": "2 mm"},
                  magnet={"material": "alnico-5"})


@cache
def plain() -> Passage:
    return passage(case(), ALL)


@cache
def onto_steel() -> Passage:
    return passage(ONTO_STEEL, ALL)


@cache
def in_copper() -> Passage:
    return passage(case(tube=TUBE), ALL)


@pytest.mark.parametrize("found", [plain, onto_steel, in_copper])
def test_e_is_the_rate_of_lambda(found: Any) -> None:
    p = found()
    np.testing.assert_allclose(p.e[1:-1], -np.gradient(p.linkage, p.t)[1:-1], atol=2e-3 * np.abs(p.e).max())
    np.testing.assert_allclose(p.flux * p.turns, p.linkage, rtol=1e-12)
    np.testing.assert_array_equal(p.reversed_e, -p.e)


@pytest.mark.parametrize("found", [plain, onto_steel, in_copper])
def test_areas_are_the_changes_of_flux(found: Any) -> None:
    """∫ e dt of half a pass = N Φmax, less what little was linked at first: a 5000th for the steps of the sum."""
    p = found()
    assert p.areas == pytest.approx(p.changes, rel=2e-4)
    most = float(p.linkage[np.argmax(np.abs(p.linkage))])
    assert abs(p.changes[0]) == pytest.approx(abs(most), rel=0.01)
    assert np.sign(p.first.e) == -np.sign(most)
    assert sum(p.areas) == pytest.approx(p.linkage[0] - p.linkage[-1], abs=1e-4 * abs(most))


def test_lenz() -> None:
    """North comes down, so −Φ grows in a counter-clockwise coil: e is + first, and its current would make +Φ."""
    p = plain()
    assert p.linkage[p.middle] < 0
    assert p.first.e > 0 > p.second.e
    assert p.first.z > 0 > p.second.z


def test_the_second_peak_is_higher_and_narrower() -> None:
    p = plain()
    assert p.second.speed > p.first.speed
    assert abs(p.second.e) > abs(p.first.e)
    speed = np.sqrt(2 * GRAVITY * (0.15 - p.first.z))
    assert p.first.speed == pytest.approx(speed, rel=1e-9)


def test_peaks_go_with_the_speed() -> None:
    p = passage(case(drop={"start": "0.15 m", "speed": "0.5 m/s"}), ALL)
    peaks = p.others
    assert [k.speed for k in peaks.first] == pytest.approx([0.125, 0.25, 0.5, 0.75, 1.0])
    for peak in (*peaks.first, *peaks.second):
        assert abs(peak.e) == pytest.approx(p.steepest * peak.speed, rel=1e-3)
    falls = plain().others
    assert falls.starts == pytest.approx([0.0375, 0.075, 0.15, 0.3, 0.6])
    share = [abs(k.e) / k.speed / plain().steepest for k in falls.first]
    assert share[0] < share[1] < share[2] <= 1.0  # a magnet that gathers speed peaks a little past the steepest place
    assert share[-1] == pytest.approx(1.0, abs=1e-3)


def test_turned_round_and_wound_the_other_way() -> None:
    p = plain()
    for other in (case(magnet={"down": "south"}), case(coil={"winding": "clockwise"})):
        np.testing.assert_allclose(passage(other, ALL).e, -p.e, atol=1e-6 * np.abs(p.e).max())
    twice = passage(case(magnet={"down": "south"}, coil={"winding": "clockwise"}), ALL)
    np.testing.assert_allclose(twice.e, p.e, atol=1e-6 * np.abs(p.e).max())


def test_a_core_at_five_places_in_one_mesh() -> None:
    """Between the places that were solved, on a finer mesh: coarse and fine differ by 1e-3 in alnico."""
    p = onto_steel()
    assert p.anew is not None
    of = ONTO_STEEL
    places = np.array([18.5e-3, 21e-3, 30e-3, 50e-3, 100e-3])
    meshed = [linked_in_mesh(of.magnet.part(float(z)), of.core_part(), of.coil.racetrack(), ALL)
              for z in places]
    np.testing.assert_allclose(p.at(places), meshed, rtol=1e-3)
    assert p.z.min() == pytest.approx(of.nearest)
    assert p.linkage[0] == pytest.approx(p.linkage[-1])


def test_in_a_tube_it_sinks_at_one_speed() -> None:
    p = in_copper()
    assert p.brake is not None
    assert p.terminal_speed is not None
    assert p.first.speed == pytest.approx(p.terminal_speed, rel=1e-4)
    assert p.second.speed == pytest.approx(p.terminal_speed, rel=1e-4)
    assert p.first.e == pytest.approx(-p.second.e, rel=1e-3)
    k = p.brake.at(p.z, -0.4, 0.1)
    heat = np.trapezoid(k * p.v**2, p.t)
    assert heat + 0.0118 * p.v[-1] ** 2 / 2 == pytest.approx(0.0118 * GRAVITY * 0.3, rel=1e-4)
    np.testing.assert_allclose(p.linkage_at[[0, 60, 120]], [plain().at(h)[()] for h in p.heights[[0, 60, 120]]],
                               rtol=1e-5)


def test_a_magnet_that_is_too_fast_for_the_law_is_refused() -> None:
    with pytest.raises(CaseError, match=r"tube: the magnet is at 4\.\d+ m/s in it, and from 2\.6\d m/s on the field"):
        passage(case(drop={"start": "1 m", "end": "-0.1 m"}, tube=TUBE), ALL)


def test_resistance() -> None:
    """1000 turns of 19 mm of copper of 0.08 mm: 1/58 µΩ·m (IEC 60028)."""
    resistance = plain().resistance
    assert resistance == pytest.approx(1e-6 / 58 * 1000 * np.pi * 19e-3 / (np.pi * 0.04e-3**2))
