"""Connected coils: against circuits solved by hand, the published law of identical coils, and node by node."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from stringflux.postprocess.coil.circuit import coil_circuit
from stringflux.postprocess.coil.connection import CoilNetwork, coil_network
from stringflux.postprocess.coil.controls import LoadedCoil, Network
from stringflux.postprocess.coil.spice import subcircuit
from stringflux.postprocess.mix.nodes import GROUND, Nodes

F = np.geomspace(20.0, 20e3, 11)
WIDE = np.geomspace(20.0, 60e3, 200)
EXACT = 1e-9  # the same formula by two routes


def network(how: str, inductance: Any, resistance: tuple[float, ...] = (4e3, 4e3),
            capacitance: tuple[float, ...] = (100e-12, 100e-12), turned: tuple[str, ...] = (),
            loss: tuple[float, ...] = ()) -> CoilNetwork:
    return coil_network(how=how, names=("a", "b", "c")[:len(resistance)], turned=turned, frequency=F,
                        inductance=inductance, resistance=resistance, capacitance=capacitance,
                        loss=loss)


def eddies(own: float) -> Any:
    """An inductance that eddy currents take a third from, around 4 kHz."""
    return own * (0.67 + 0.33 / (1 + 1j * F / 4e3))


def pair(first: float, second: float, coupling: float) -> Any:
    a, b = eddies(first), eddies(second)
    m = coupling * np.sqrt(a * b)
    return np.stack([np.stack([a, m], axis=-1), np.stack([m, b], axis=-1)], axis=-2)


def alone(how: str = "a") -> CoilNetwork:
    return network(how, pair(2.0, 2.0, 0.0))


def test_one_coil_is_itself() -> None:
    coil = coil_circuit(frequency=F, inductance=eddies(2.0), resistance=4e3, capacitance=100e-12)
    one = coil_network(how="a", names=("a",), frequency=F, inductance=eddies(2.0)[:, None, None], resistance=[4e3],
                       capacitance=[100e-12])
    assert one.impedance(WIDE) == pytest.approx(coil.impedance(WIDE), rel=EXACT)
    assert one.circuit().impedance(WIDE) == pytest.approx(coil.impedance(WIDE), rel=EXACT)
    assert one.weights(WIDE)[0] == pytest.approx(LoadedCoil(coil=coil)(WIDE), rel=EXACT)


def test_identical_coils_keep_their_resonance() -> None:
    """Apart: twice and half the impedance of one at every frequency, so one resonance (Paiva, Pakarinen &
    Välimäki, J. Audio Eng. Soc. 60(10), 2012)."""
    z = alone().impedance(WIDE)
    series, parallel = (network(how, pair(2.0, 2.0, 0.0)) for how in ("series", "parallel"))
    assert series.impedance(WIDE) == pytest.approx(2 * z, rel=EXACT)
    assert parallel.impedance(WIDE) == pytest.approx(z / 2, rel=EXACT)
    tops = [n.resonance() for n in (alone(), series, parallel)]
    assert all(t is not None and t.frequency == pytest.approx(tops[0].frequency, rel=1e-6) for t in tops if tops[0])


@pytest.mark.parametrize("turned", [(), ("b",)])
@pytest.mark.parametrize("coupling", [-0.3, 0.2, 0.6])
def test_coupled_identical_coils_share_one_resonance(coupling: float, turned: tuple[str, ...]) -> None:
    """In series and in parallel both are coils of (1 ± k)L, + if their connected senses agree (exact)."""
    k = -coupling if turned else coupling
    series, parallel = (network(how, pair(2.0, 2.0, coupling), turned=turned) for how in ("series", "parallel"))
    effective = coil_circuit(frequency=F, inductance=eddies(2.0) * (1 + k), resistance=4e3, capacitance=100e-12)
    # the ladders are fitted to unlike numbers
    assert series.impedance(WIDE) == pytest.approx(2 * effective.impedance(WIDE), rel=1e-5)
    assert parallel.impedance(WIDE) == pytest.approx(effective.impedance(WIDE) / 2, rel=1e-5)
    for n in (series, parallel):
        assert n.circuit_error() < 1e-5
        assert n.weights(np.array([100.0]))[:, 0] == pytest.approx(n.static_weights, rel=1e-3)


def test_an_open_coil_beside_takes_part_with_its_capacitance() -> None:
    """Two identical coils, one connected: resonances at 1/√(1 ± k) of ω₀ (exact for R → 0)."""
    k = 0.4
    n = network("a", 2.0 * np.array([[1.0, k], [k, 1.0]]), resistance=(1.0, 1.0))
    first = 1 / (2 * np.pi * np.sqrt(2.0 * (1 + k) * 100e-12))
    second = 1 / (2 * np.pi * np.sqrt(2.0 * (1 - k) * 100e-12))
    for f in (first, second):
        near = np.abs(n.impedance(f * np.linspace(0.98, 1.02, 401)))
        assert np.argmax(near) == pytest.approx(200, abs=1)
    assert n.capacitance == pytest.approx(100e-12 * (1 + k**2))
    low = np.geomspace(20.0, first / 10, 20)
    # the next terms are of the order (f/f₀)⁴
    assert n.circuit().impedance(low) == pytest.approx(n.impedance(low), rel=1e-3)


UNLIKE: dict[str, Any] = {"resistance": (3.5e3, 4.8e3), "capacitance": (90e-12, 120e-12), "loss": (0.01, 0.03)}


def by_nodes(how: str, f: Any) -> tuple[Any, Any]:
    """Unlike coils without coupling as an ordinary network: Z and the share of e of the first."""
    z = [R + 2j * np.pi * f * L for R, L in zip(UNLIKE["resistance"], (1.6, 2.4), strict=True)]
    y = [2j * np.pi * f * C * (1 - 1j * d) for C, d in zip(UNLIKE["capacitance"], UNLIKE["loss"], strict=True)]
    nodes = Nodes(f)
    ends = [("out", "mid"), ("mid", GROUND)] if how == "series" else [("out", GROUND)] * 2
    for (a, b), zi, yi in zip(ends, z, y, strict=True):
        nodes.admittance(a, b, 1 / zi + yi)
    out, across = nodes.voltages("out", ["out", ends[0][1]])
    # by reciprocity: a unit current into the terminals puts this voltage across the first winding
    return out, (out - across) / z[0]


@pytest.mark.parametrize("how", ["series", "parallel"])
def test_the_lead_hangs_at_the_terminals_of_all(how: str) -> None:
    """Node by node, with controls, cable and amplifier on it: impedance, and each coil's way to the amplifier."""
    lead, L = 45e-12, np.diag([1.6, 2.4])
    f = np.geomspace(20.0, 60e3, 60)
    n = coil_network(how=how, names=("a", "b"), frequency=F, inductance=L, lead=lead, **UNLIKE)
    z = [R + 2j * np.pi * f * own for R, own in zip(UNLIKE["resistance"], (1.6, 2.4), strict=True)]
    y = [2j * np.pi * f * C * (1 - 1j * d) for C, d in zip(UNLIKE["capacitance"], UNLIKE["loss"], strict=True)]
    ends = [("out", "mid"), ("mid", GROUND)] if how == "series" else [("out", GROUND)] * 2

    def nodes(load: bool) -> Nodes:
        made = Nodes(f)
        for (a, b), zi, yi in zip(ends, z, y, strict=True):
            made.admittance(a, b, 1 / zi + yi)
        made.admittance("out", GROUND, 2j * np.pi * f * lead)
        if load:
            made.resistor("out", GROUND, 1 / (1 / 250e3 + 1 / 1e6))
            made.admittance("out", GROUND, 2j * np.pi * f * 500e-12)
        return made

    assert n.impedance(f) == pytest.approx(nodes(False).voltages("out", ["out"])[0], rel=EXACT)
    out, across = nodes(True).voltages("out", ["out", ends[0][1]])
    first = (out - across) / z[0]  # by reciprocity
    hung = Network(volume=250e3, capacitance=500e-12, resistance=1e6)
    assert n.ways(f)[0] * LoadedCoil(coil=n, network=hung)(f) == pytest.approx(first, rel=1e-8)
    assert n.capacitance == pytest.approx(coil_network(how=how, names=("a", "b"), frequency=F, inductance=L,
                                                       **UNLIKE).capacitance)  # of the windings alone
    low = f[f < 2e3]
    assert n.circuit().impedance(low) == pytest.approx(n.impedance(low), rel=2e-3)


@pytest.mark.parametrize("how", ["series", "parallel"])
def test_unlike_coils_node_by_node(how: str) -> None:
    n = network(how, np.diag([1.6, 2.4]), **UNLIKE)
    z, first = by_nodes(how, WIDE)
    assert n.impedance(WIDE) == pytest.approx(z, rel=EXACT)
    assert n.weights(WIDE)[0] == pytest.approx(first, rel=EXACT)


@pytest.mark.parametrize("how", ["series", "parallel", "b"])
def test_unlike_coupled_coils_as_one(how: str) -> None:
    n = network(how, pair(1.6, 2.4, -0.25), turned=("b",), **UNLIKE)
    one = n.circuit()
    assert one.resistance == n.resistance
    assert one.capacitance == n.capacitance
    at = np.array([200.0])
    # ωR/L² and eddy currents: 3 % at 200 Hz for what is meant for higher frequencies
    assert n.inductance == pytest.approx(one.inductance_at(at)[0].real, rel=0.03)
    if how == "parallel":  # exact
        assert n.circuit_error() < 1e-3  # the ladder and a coupling that runs straight between frequencies
    else:
        low = np.geomspace(20.0, 2e3, 30)
        assert one.impedance(low) == pytest.approx(n.impedance(low), rel=2e-3)
        # coils this unlike have two resonances in the band, and one coil has not: the error says so
        assert n.circuit_error() > 0.2


@pytest.mark.parametrize("more", [0.01, 0.02, 0.04])
def test_series_coils_of_unlike_turns_are_nearly_one(more: float) -> None:
    """A few more turns on one of two: what one coil gets wrong of the resonance goes with the square of them."""
    n = network("series", pair(2.0, 2.0 * (1 + more) ** 2, 0.1), resistance=(4e3, 4e3 * (1 + more)))
    top, one = n.resonance(), n.circuit().resonance()
    assert top is not None
    assert one is not None
    assert 0 < one.frequency / top.frequency - 1 < 2.5 * more**2


def test_parallel_weights_turn_from_resistance_to_inductance() -> None:
    """At direct current 1/R_i shares, well above R/L those of the inductances."""
    n = network("parallel", np.array([[1.6, 0.3], [0.3, 2.4]]), **UNLIKE)
    R = np.array(UNLIKE["resistance"])
    assert n.weights(np.zeros(1))[:, 0] == pytest.approx(1 / R / np.sum(1 / R))
    # R/ωL at 10 kHz is 0.04 and a tenth of that differs between the coils
    high = n.weights(np.array([10e3]))[:, 0]
    assert high / np.sum(high) == pytest.approx(n.static_weights, rel=5e-3)
    assert np.sum(n.static_weights) == pytest.approx(1.0)


def test_three_coils_and_what_hangs_on_them() -> None:
    L = 2.0 * np.array([[1.0, 0.2, -0.1], [0.2, 1.0, 0.2], [-0.1, 0.2, 1.0]])
    n = network("series", L, resistance=(4e3,) * 3, capacitance=(80e-12,) * 3)
    assert n.resistance == 12e3
    assert n.inductance == pytest.approx(float(np.sum(L)))
    loaded = LoadedCoil(coil=n.circuit(), network=Network(capacitance=500e-12, resistance=200e3)).response()
    f = np.array([loaded.resonance or 0.0])
    y = 1 / 200e3 + 2j * np.pi * f * 500e-12
    exact = np.abs(np.sum(n.weights(f), axis=0) / (1 + n.impedance(f) * y))[0]
    level = 3 / (1 + 12e3 / 200e3)
    assert 20 * np.log10(np.abs(LoadedCoil(coil=n, network=Network(capacitance=500e-12, resistance=200e3))(f)[0]) * 3
                         / level) == pytest.approx(20 * np.log10(exact / level))  # type: ignore[arg-type]
    # all three with one e; well below their own resonance they are one coil
    assert 20 * np.log10(exact / level) == pytest.approx(loaded.peak, abs=0.05)
    assert "Rw emf" in subcircuit(n.circuit())


def test_against_each_other_nothing_is_left_of_equal_voltages() -> None:
    n = network("series", pair(2.0, 2.0, 0.3), turned=("b",))
    assert np.max(np.abs(np.sum(n.weights(WIDE), axis=0))) < EXACT


@pytest.mark.parametrize(("change", "words"), [
    ({"how": "paralell"}, "series, parallel or one of a, b"), ({"resistance": (4e3,)}, "1 resistances"),
    ({"resistance": (4e3, 0.0)}, "above 0"), ({"inductance": np.array([[2.0, 2.1], [2.1, 2.0]])}, "coupling over 1"),
    ({"inductance": np.array([[2.0, 0.1], [0.3, 2.0]])}, "not symmetric"),
])
def test_numbers_that_do_not_fit(change: dict[str, Any], words: str) -> None:
    good: dict[str, Any] = {"how": "series", "names": ("a", "b"), "frequency": F, "inductance": 2.0 * np.eye(2),
                            "resistance": (4e3, 4e3), "capacitance": (1e-10, 1e-10)}
    with pytest.raises(ValueError, match=words):
        coil_network(**{**good, **change})
