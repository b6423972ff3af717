"""Hum of every choice of pickups: exact for equal coils, and against the network by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from stringflux.postprocess.coil.circuit import CoilCircuit, coil_circuit
from stringflux.postprocess.coil.controls import LoadedCoil, Network
from stringflux.postprocess.coil.hum import HumArea
from stringflux.postprocess.mix.hum import every_hum, hum_voltage
from stringflux.postprocess.mix.network import Mix, MixInput

LOAD = Network(resistance=1e6, capacitance=450e-12)
A = np.array([[0.1, -0.3, 4.0], [0.1, -0.3, 4.0]])


def coil(turns: float = 1.0) -> CoilCircuit:
    return coil_circuit(frequency=np.array([20.0, 20e3]), inductance=np.full(2, 2.5 * turns**2 + 0j),
                        resistance=6e3 * turns, capacitance=100e-12)


def mix(*coils: CoilCircuit, turned: bool = False) -> Mix:
    return Mix(inputs=tuple(MixInput(source=c, reversed=turned and i > 0) for i, c in enumerate(coils)), output=LOAD)


def test_one_alone_is_its_area_through_its_load() -> None:
    through = abs(LoadedCoil(coil=coil(), network=LOAD)(np.array([50.0]))[0])
    area = HumArea(turns=A[0], poles=np.zeros(3))
    assert hum_voltage(mix(coil()), A[:1], 50.0) == pytest.approx(area.voltage(1e-6, 50.0) * through, rel=1e-9)


def test_two_alike_hum_as_one_and_cancel_when_one_is_turned() -> None:
    first, second, both = every_hum(mix(coil(), coil()), A)
    assert first.voltage == pytest.approx(second.voltage, rel=1e-12)
    assert both.pickups == (0, 1)
    assert both.level == pytest.approx(0.0, abs=0.1)  # in parallel, a little less loss into the load
    assert both.turned_level == -math.inf
    assert math.isnan(first.turned)
    as_wired = every_hum(mix(coil(), coil(), turned=True), A)[2]
    assert as_wired.level == -math.inf
    assert as_wired.turned == pytest.approx(both.voltage, rel=1e-12)


def test_a_reverse_wound_partner_is_its_area() -> None:
    _, _, both = every_hum(mix(coil(), coil()), A * np.array([[1], [-1]]))
    assert both.level == -math.inf
    assert both.turned_level == pytest.approx(0.0, abs=0.1)


def test_areas_that_do_not_lie_alike_leave_their_difference() -> None:
    across = np.array([[0.0, 0.0, 4.0], [0.0, 3.0, 4.0]])
    one, _, both = every_hum(mix(coil(), coil()), across)
    # half of each: (0, 1.5, 4) against 4 alone, and (0, 1.5, 0) with one turned
    assert both.voltage / one.voltage == pytest.approx(math.hypot(1.5, 4) / 4, rel=0.01)
    assert both.turned / one.voltage == pytest.approx(1.5 / 4, rel=0.01)


def test_three_have_seven_choices() -> None:
    found = every_hum(mix(coil(), coil(), coil()), np.repeat(A[:1], 3, axis=0))
    assert [h.pickups for h in found] == [(0,), (1,), (2,), (0, 1), (0, 2), (1, 2), (0, 1, 2)]
    # a third of each: one turned of three leaves a third
    assert found[-1].turned_level == pytest.approx(20 * math.log10(1 / 3), abs=0.1)


def test_coils_that_differ_by_their_currents() -> None:
    few, many = coil(0.8), coil(1.2)
    areas = np.array([[0, 0, 0.8 * 4.0], [0, 0, 1.2 * 4.0]])
    f = np.array([50.0])
    Z = [c.series(f)[0] for c in (few, many)]
    E = 2 * np.pi * 50 * 1e-6 * areas[:, 2]
    node = sum(1 / z for z in Z) + 2j * np.pi * 50 * (LOAD.capacitance + 200e-12) + 1 / LOAD.resistance
    by_hand = abs((E[0] / Z[0] + E[1] / Z[1]) / node)
    assert hum_voltage(mix(few, many), areas, 50.0) == pytest.approx(by_hand, rel=1e-3)  # tan δ of the windings
