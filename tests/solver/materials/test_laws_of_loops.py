"""A steel with memory against published laws of loops: Rayleigh's, Madelung's, congruency.

Rayleigh: *Phil. Mag.* 23 (1887) 225 (memory), as IEC 60050-221, entry 221-03-32, writes it. Madelung's three rules:
*Ann. Phys.* 17 (1905) 861 (memory). Congruency: I. D. Mayergoyz, *Phys. Rev. Lett.* 56 (1986) 1518 (memory).
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from stringflux.geometry.arrays import Array
from stringflux.solver.constants import MU0
from stringflux.solver.materials import StringSteel
from stringflux.solver.materials.rayleigh import RayleighLaw
from stringflux.solver.materials.string_memory import StringMemory

WIRE = StringSteel(name="wire", saturation=1.95 / MU0, chi_initial=700.0, chi_reversible=90.0)
LAW = StringMemory(steel=WIRE, pinning=1200.0, free=0.13)


def along(law: StringMemory, path: Array, state: Array) -> tuple[Array, Array]:
    """M (n,) at every field of a path from a state, and the state at its end."""
    out = []
    for h in path:
        out.append(float(law.magnetisation(state, h)[0]))
        state = law.moved(state, h)
    return np.array(out), state


def line(*ends: float, steps: int = 40) -> Array:
    return np.concatenate([np.linspace(a, b, steps + 1)[1:] for a, b in pairwise(ends)])


def even_pinning(most: float, cells: int, chi: float, free: float) -> StringMemory:
    """As many shares from 0 up to a strength as it takes to be even, on a straight curve."""
    straight = StringSteel(name="straight", saturation=float("inf"), chi_initial=chi, chi_reversible=free * chi,
                           law="linear")
    law = StringMemory(steel=straight, pinning=most, free=free, spread=0.0, cells=cells)
    object.__setattr__(law, "strengths", np.concatenate([[0.0], most * (np.arange(cells) + 0.5) / cells]))
    object.__setattr__(law, "shares", np.concatenate([[free], np.full(cells, (1.0 - free) / cells)]))
    return law


def test_even_pinning_down_to_0_is_rayleighs_law() -> None:
    """M = Σ w χ (H − κ) over κ < H: χ_free H + χ_held H²/2κ_most, and so ν = χ_held/2κ_most."""
    chi, free, most = 500.0, 0.2, 1000.0
    law = even_pinning(most, 2000, chi, free)
    rayleigh = RayleighLaw(mu_initial=1 + free * chi, constant=(1 - free) * chi / (2 * most))
    start, top = law.demagnetised(()), 300.0
    virgin = line(0.0, top)
    m, there = along(law, virgin, start)
    small = 2e-3 * m[-1]  # a step of the strengths
    np.testing.assert_allclose(m, free * chi * virgin + rayleigh.constant * virgin**2, atol=small)
    down = line(top, -top)
    np.testing.assert_allclose(MU0 * (down + along(law, down, there)[0]), rayleigh.flux(down, top), atol=MU0 * small)
    for amplitude in (100.0, 300.0, 800.0):
        assert law.loop_area(amplitude) == pytest.approx(float(rayleigh.area(amplitude)), rel=2e-3)
    assert along(law, line(top, 0.0), there)[0][-1] == pytest.approx(rayleigh.constant * top**2 / 2, rel=5e-3)


def test_a_branch_is_told_by_its_turning_point() -> None:
    """Madelung's first rule: from one turning point on the same branch, however that point was come to."""
    start = LAW.demagnetised(())
    direct, by_loops = line(0.0, 6e3, -900.0), line(0.0, 2e3, 500.0, 6e3, 3e3, 4e3, -900.0)
    ends = [along(LAW, path, start)[1] for path in (direct, by_loops)]
    onward = line(-900.0, 5e3)
    first, second = (along(LAW, onward, end)[0] for end in ends)
    np.testing.assert_array_equal(first, second)


def test_a_branch_leads_back_and_on_as_if_nothing_had_been() -> None:
    """The second and the third: back at the last turning point, and on from there along the branch that was left."""
    start = LAW.demagnetised(())
    _, left = along(LAW, line(0.0, 6e3, -500.0), start)
    inner = line(-500.0, 2e3, -500.0)
    came, back = along(LAW, inner, left)
    assert came[-1] == pytest.approx(float(LAW.magnetisation(left, -500.0)[0]), rel=1e-12)
    onward = line(-500.0, -4e3)
    np.testing.assert_array_equal(along(LAW, onward, back)[0], along(LAW, onward, left)[0])


@pytest.mark.parametrize("ends", [(-800.0, 800.0), (200.0, 1500.0), (2e3, 5e3)])
def test_loops_between_two_fields_are_congruent(ends: tuple[float, float]) -> None:
    """Whatever came before: the same loop, higher or lower."""
    low, high = ends
    loops = []
    for before in ((9e3, low), (-9e3, low, high, low), (high, low)):
        _, state = along(LAW, line(0.0, *before), LAW.demagnetised(()))
        m, _ = along(LAW, line(low, high, low), state)
        loops.append(m)
    heights = [np.mean(m) for m in loops]
    assert heights[0] >= heights[2] >= heights[1]
    for m, height in zip(loops, heights, strict=True):
        np.testing.assert_allclose(m - height, loops[0] - heights[0], atol=1e-9 * WIRE.saturation)
