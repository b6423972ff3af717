"""Hum of coils together: exact sums, and a solved pair against the parts it is made of."""

from __future__ import annotations

import numpy as np
import pytest

from rigs.fields.bench_rig import bench_row
from stringflux.postprocess.coil.hum import HumArea, hum_area
from stringflux.postprocess.coil.hum_several import combined_area, hum_residue

BOTH = np.ones(2)
PER_TURN = 2.1e-4  # m²
MATCHED = 1e-3  # of one coil's


def coil(turns: float, poles: float = 0.0, across: float = 0.0) -> HumArea:
    """`poles` and `across` as parts of the turns' area."""
    area = PER_TURN * turns
    return HumArea(turns=np.array([0.0, 0.0, area]), poles=area * np.array([0.0, across, poles]))


def test_a_matched_pair_of_solved_coils_hears_nothing() -> None:
    """The same coil wound both ways, its poles included: to rounding."""
    there, back = (hum_area(bench_row().wound(n)) for n in (5000.0, -5000.0))
    pair = hum_residue((there, back), (5000.0, 5000.0), BOTH, 50.0)
    assert pair.voltage < MATCHED * pair.voltage_alone
    assert pair.voltage < 1e-12 * pair.voltage_alone
    assert pair.level == -np.inf
    assert pair.trim == pytest.approx(np.zeros(2), abs=1e-9)
    same = combined_area((there, there), np.array([1.0, -1.0]))  # wound alike, one with its ends exchanged
    assert np.linalg.norm(same.total) == 0.0
    aiding = combined_area((there, there), BOTH)
    assert aiding.total == pytest.approx(2 * there.total)


@pytest.mark.parametrize("more", [0.001, 0.02, 0.3])
def test_unequal_turns(more: float) -> None:
    """A₁ − A₂ = (N₁ − N₂) a, V = 2πf B |N₁ − N₂| a (exact), and the trim is that difference."""
    first, second = 5000.0, 5000.0 * (1 + more)
    pair = hum_residue((coil(first, 0.3), coil(-second, 0.3)), (first, second), BOTH, 60.0)
    a = 1.3 * PER_TURN
    assert pair.voltage == pytest.approx(2 * np.pi * 60 * 1e-6 * a * (second - first))
    assert pair.level == pytest.approx(20 * np.log10(1 - first / second))
    assert pair.trim == pytest.approx([second - first, first - second])
    assert pair.per_turn == pytest.approx(2 * np.pi * 60 * 1e-6 * a * np.array([-1.0, 1.0]))
    assert pair.trimmed_level.max() < -200


def test_one_turn_changes_the_voltage_by_as_much_as_told() -> None:
    """∂V/∂N_i against one more turn, with poles that lean."""
    turns = (5100.0, 5000.0)
    areas = (coil(5100.0, 0.35, 0.02), coil(-5000.0, 0.2, 0.01))
    pair = hum_residue(areas, turns, BOTH, 50.0)
    for i in (0, 1):
        grown = tuple(HumArea(turns=a.turns * (1 + (j == i) * 1e-3 / turns[j]),
                              poles=a.poles * (1 + (j == i) * 1e-3 / turns[j])) for j, a in enumerate(areas))
        assert (combined_area(grown, BOTH).voltage(1e-6, 50.0) - pair.voltage) / 1e-3 == pytest.approx(
            pair.per_turn[i], rel=1e-5)


def test_unequal_poles_are_trimmed_by_turns_but_a_lean_is_not() -> None:
    """Poles that add 30 and 20 %: level 20 lg (0.1/1.3); turns cure it. What leans across stays."""
    turns = (5000.0, 5000.0)
    straight = hum_residue((coil(5000.0, 0.3), coil(-5000.0, 0.2)), turns, BOTH, 50.0)
    assert straight.level == pytest.approx(20 * np.log10(0.1 / 1.3))
    assert straight.trim[1] == pytest.approx(5000 * 0.1 / 1.2)
    assert straight.trimmed_level.max() < -200
    leaning = hum_residue((coil(5000.0, 0.3, 0.05), coil(-5000.0, 0.2)), turns, BOTH, 50.0)
    assert leaning.trimmed_level[1] == pytest.approx(20 * np.log10(0.05 / np.hypot(1.3, 0.05)))
    # the least over all numbers of turns, found by trying
    tried = [np.linalg.norm(leaning.area.total + n * np.array([0.0, 0.0, -1.2 * PER_TURN])) for n in range(1000)]
    assert int(np.argmin(tried)) == pytest.approx(leaning.trim[1], abs=0.5)


def test_one_coil_alone_is_what_it_is() -> None:
    one = hum_residue((coil(5000.0), coil(-5000.0)), (5000.0, 5000.0), np.array([1.0, 0.0]), 50.0)
    assert one.level == 0.0
    assert one.trim[0] == pytest.approx(-5000.0)
    assert np.isnan(one.trim[1])


def test_shares_of_parallel_coils() -> None:
    """Two alike in parallel hear as one, and nothing if one is turned."""
    assert combined_area((coil(5000.0),) * 2, np.array([0.5, 0.5])).total == pytest.approx(coil(5000.0).total)
    assert combined_area((coil(5000.0),) * 2, np.array([0.5, -0.5])).voltage(1e-6, 50.0) == 0.0
    with pytest.raises(ValueError, match="2 areas and 3 weights"):
        combined_area((coil(1.0),) * 2, np.ones(3))
