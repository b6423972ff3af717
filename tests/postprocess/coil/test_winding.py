"""Windings: geometry exactly, wire against the standards, the trade's ranges."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from stringflux.cases import load_case, shipped_cases
from stringflux.geometry import Case, Racetrack, find_wire
from stringflux.postprocess.coil.packing import layered, scattered, turn_length
from stringflux.postprocess.coil.winding import (
    coils_from,
    resistance_per_length,
    resistance_per_length_range,
    turns_for_inductance,
    turns_for_resistance,
    turns_that_fit,
    warming,
    winding,
)
from stringflux.solver.coil.air import inductance, linked

ROUNDING = 1e-12
FOOT = 0.3048
STADIUM = Racetrack(inner_radius=2e-3, straight=30e-3, build=2e-3, bottom=-6e-3, top=-1e-3, turns=1.0)


def case(**changes: Any) -> Case:
    return load_case("baritone-six", {key.replace("__", "."): value for key, value in changes.items()})


# Ω/m of the bare wire at 20 °C: ASTM B258 diameter, IEC 60028 copper.
@pytest.mark.parametrize(("size", "ohms"), [(40, 3.4411), (41, 4.3391), (42, 5.4715), (43, 6.8995), (44, 8.700),
                                            (45, 10.971)])
def test_ohms_per_metre(size: int, ohms: float) -> None:
    rounded = 5e-5  # the table has five digits, and 0.017241 for 1/58
    assert resistance_per_length(find_wire(f"{size} AWG").bare) == pytest.approx(ohms, rel=rounded)


@pytest.mark.parametrize(("size", "per_foot"), [(42, 1.6), (43, 2.1)])
def test_handbook_figures(size: int, per_foot: float) -> None:
    # handbook figures of two digits, from sizes that NEMA has rounded: up to 3 %
    assert resistance_per_length(find_wire(f"{size} AWG").bare) * FOOT == pytest.approx(per_foot, abs=0.05 + 0.03 * 2)
    low, high = resistance_per_length_range(find_wire(f"{size} AWG"))
    assert low * FOOT < per_foot < high * FOOT


@pytest.mark.parametrize("name", ["40 AWG", "42.5 AWG", "45 AWG", "46 AWG", "0.040 mm", "0.063 mm", "0.071 mm",
                                  "0.080 mm"])
def test_tolerance_brackets_the_nominal(name: str) -> None:
    wire = find_wire(name)
    low, high = resistance_per_length_range(wire)
    nominal = resistance_per_length(wire.bare)
    assert 0.85 < low / nominal < 0.97  # fine wire: some 5 to 15 %
    assert 1.03 < high / nominal < 1.15


def test_awg_tolerance_is_a_tenth_of_a_mil() -> None:
    wire = find_wire("42 AWG")
    low, high = resistance_per_length_range(wire)
    assert math.sqrt(low) ** -1 - math.sqrt(high) ** -1 == pytest.approx(
        2 * 2.54e-6 / math.sqrt(4e-6 / 58 / math.pi), rel=1e-9)  # rounding


def test_copper_warms() -> None:
    assert warming(20.0) == 1.0
    assert warming(70.0) == pytest.approx(1 + 50 * 0.00393, rel=ROUNDING)  # IEC 60028
    cold, warm = winding(case()), winding(case(), temperature=45.0)
    assert warm.resistance / cold.resistance == pytest.approx(warming(45.0), rel=ROUNDING)
    assert warm.length == cold.length


def test_turn_of_a_race_track() -> None:
    # a string round the corners: two straights and one full circle
    assert turn_length(STADIUM, 3e-3) == pytest.approx(2 * 30e-3 + 2 * math.pi * 3e-3, rel=ROUNDING)


def test_square_layers_one_by_one() -> None:
    d, n = 0.1e-3, 173.0
    found = layered(STADIUM, d, n, hexagonal=False)
    left, length, layer = n, 0.0, 0
    while left > 0:
        here = min(50, left)  # 5 mm hold 50
        length += here * turn_length(STADIUM, 2e-3 + d / 2 + layer * d)
        left, layer = left - here, layer + 1
    assert (found.turns_per_layer, found.layers, found.most_turns) == (50, layer, 50 * 20)
    assert found.length == pytest.approx(length, rel=ROUNDING)
    assert found.thickness == pytest.approx(layer * d, rel=ROUNDING)


@pytest.mark.parametrize(("height", "between"), [(5e-3, 49), (5.06e-3, 50)])
def test_hexagonal_layers_one_by_one(height: float, between: int) -> None:
    d, n = 0.1e-3, 260.0
    window = Racetrack(inner_radius=2e-3, straight=30e-3, build=2e-3, bottom=0.0, top=height, turns=1.0)
    found = layered(window, d, n, hexagonal=True)
    left, length, layer = n, 0.0, 0
    while left > 0:
        here = min(50 if layer % 2 == 0 else between, left)
        length += here * turn_length(window, 2e-3 + d / 2 + layer * d * math.sqrt(3) / 2)
        left, layer = left - here, layer + 1
    fit = 1 + math.floor((2e-3 - d) / (d * math.sqrt(3) / 2))
    assert (found.layers, found.most_turns) == (layer, (fit + 1) // 2 * 50 + fit // 2 * between)
    assert found.length == pytest.approx(length, rel=ROUNDING)


def test_many_square_layers_are_the_scattered_winding() -> None:
    full = layered(STADIUM, 0.02e-3, 25000, hexagonal=False)
    assert full.thickness == pytest.approx(2e-3, rel=1e-9)  # the window is full
    assert full.length == pytest.approx(scattered(STADIUM, 0.02e-3, 25000).length, rel=1e-9)  # both exact means


def test_one_turn_and_a_wire_too_thick() -> None:
    one = layered(STADIUM, 0.1e-3, 1.0, hexagonal=True)
    assert (one.layers, one.length) == (1, pytest.approx(turn_length(STADIUM, 2.05e-3)))
    assert layered(STADIUM, 2.5e-3, 1.0, hexagonal=False).most_turns == 0


def test_fill_and_mass_by_hand() -> None:
    made = winding(case())
    assert made.fill == pytest.approx(7000 * math.pi / 4 * 0.071**2 / (4.2 * 11), rel=1e-9)  # rounding
    assert made.copper_mass == pytest.approx(8960 * math.pi / 4 * made.wire.bare**2 * made.length, rel=ROUNDING)
    assert made.copper_mass < made.mass < 1.1 * made.copper_mass  # enamel weighs little
    assert coils_from(made.mass * 3.5, made) == pytest.approx(3.5)
    assert turns_that_fit(made) > max(p.most_turns for p in made.packings)


def test_a_window_that_is_not_full() -> None:
    full, made = winding(case()), winding(case(coil__fill=0.7))
    assert made.wound < made.width == full.wound == full.width
    assert made.fill == pytest.approx(full.fill, rel=ROUNDING)
    assert made.packed == pytest.approx(0.7, rel=1e-9)
    assert made.packed_known
    assert not full.packed_known
    # the mean turn comes nearer to the bobbin by half of what is left over
    assert full.mean_turn - made.mean_turn == pytest.approx(math.pi * (made.width - made.wound), rel=ROUNDING)
    assert made.resistance / full.resistance == pytest.approx(made.mean_turn / full.mean_turn, rel=ROUNDING)
    assert made.capacitance > full.capacitance  # it is thinner, for the turns
    assert turns_that_fit(made) == made.packings[0].most_turns == math.floor(7000 * made.width / made.wound)


def test_as_it_was_measured() -> None:
    by_fill = winding(case(coil__fill=0.7))
    measured = winding(case(coil__wound_build=f"{by_fill.wound * 1e3:.9f} mm"))
    assert measured.packed == pytest.approx(0.7, rel=1e-6)
    assert measured.mean_turn == pytest.approx(by_fill.mean_turn, rel=1e-9)


def test_tension_is_a_share_of_the_yield() -> None:
    made = winding(case(), tension_share=0.5)
    assert made.tension == pytest.approx(0.5 * 70e6 * math.pi / 4 * made.wire.bare**2, rel=ROUNDING)


@pytest.mark.parametrize("name", shipped_cases())
def test_shipped_cases_are_ordinary(name: str) -> None:
    made = winding(load_case(name))
    assert made.turns <= made.packings[0].most_turns
    assert made.resistance_computed[0] < made.resistance < made.resistance_computed[2]


# Practice (no source): 6000–8000 turns of AWG 42–44 on such bobbins; single coils read some 5–9 kΩ.
@pytest.mark.parametrize(("turns", "wire"), [(6500, "42 AWG"), (8000, "42 AWG"), (8000, "43 AWG")])
def test_practice(turns: int, wire: str) -> None:
    assert 4.5e3 < winding(case(coil__turns=turns, coil__wire=wire)).resistance < 9e3  # the range, and half a kΩ


def test_turns_for_a_wanted_resistance() -> None:
    made = winding(case())
    turns = turns_for_resistance(made, 6.2e3)
    assert winding(case(coil__turns=turns)).resistance == pytest.approx(6.2e3, rel=ROUNDING)


def test_turns_for_a_wanted_inductance() -> None:
    assert turns_for_inductance(5000, 2.0, 2.0 * 1.21) == pytest.approx(5500, rel=ROUNDING)


def test_measured_values_win() -> None:
    made = winding(case(coil__resistance="6.1 kohm", coil__capacitance="95 pF"), temperature=30.0)
    assert made.resistance == pytest.approx(6100 * warming(30.0), rel=ROUNDING)
    assert made.resistance_computed[2] < made.resistance  # still told apart
    assert made.capacitance == pytest.approx(95e-12)
    assert made.capacitance_band == (made.capacitance, made.capacitance)
    assert made.resistance_measured
    assert made.capacitance_measured


def test_taps() -> None:
    made = winding(case(coil__taps=[2000, 6999.999]))
    first, last = made.taps
    assert first.resistance < made.resistance * 2000 / 7000  # the inner turns are shorter
    assert last.resistance == pytest.approx(made.resistance, rel=1e-5)  # but for a thousandth of a turn
    assert last.inductance_share == pytest.approx(1.0, rel=1e-5)
    assert first.inductance_share < (2 / 7) ** 2  # they go round less
    # inside and outside together are the whole: L = Li + Lo + 2 M
    whole = case().racetrack()
    part = 2000 / 7000 * whole.build
    inner = replace(whole, build=part, turns=2000.0)
    outer = replace(whole, inner_radius=whole.inner_radius + part, build=whole.build - part, turns=5000.0)
    Li = first.inductance_share * inductance(whole)
    assert Li == pytest.approx(inductance(whole) - inductance(outer) - 2 * linked(inner, outer, 12), rel=1e-3)
