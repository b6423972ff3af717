"""The network of several pickups: laws, dividers worked by hand, and the loaded coil where only one is on."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest

from stringflux.geometry.arrays import Array, ComplexArray
from stringflux.geometry.case.controls import Load
from stringflux.postprocess.coil.circuit import CoilCircuit, coil_circuit
from stringflux.postprocess.coil.controls import LoadedCoil, Network, network
from stringflux.postprocess.figures.mix import MixCurves, mix_figure
from stringflux.postprocess.mix.network import OUTPUT, Mix, MixInput, network_nodes, terminals
from stringflux.postprocess.mix.nodes import GROUND, Nodes

BAND = np.append(0.0, np.geomspace(20.0, 100e3, 150))
DIRECT = np.zeros(1)
ROUNDING = 1e-9  # relative, of small matrices whose admittances lie within 1e9 of each other
END = Network(resistance=1e6, capacitance=470e-12)


def coil(inductance: float = 2.5, resistance: float = 6e3, capacitance: float = 100e-12) -> CoilCircuit:
    f = np.geomspace(20.0, 20e3, 9)
    lossy = inductance / (1 + 2j * np.pi * f * inductance / 1e6)
    return coil_circuit(frequency=f, inductance=lossy, resistance=resistance, capacitance=capacitance)


ONE, OTHER = coil(), coil(3.4, 8e3, 140e-12)


@dataclass(frozen=True)
class Scaled:
    """A pickup with all its impedances times a factor."""

    coil: CoilCircuit
    factor: float

    def impedance(self, frequency: Array) -> ComplexArray:
        return self.factor * self.coil.impedance(frequency)

    def series(self, frequency: Array) -> ComplexArray:
        return self.factor * self.coil.series(frequency)


def controls(volume: float = 1.0, tone: float = 1.0, **more: Any) -> Network:
    return network(Load(), volume_setting=volume, tone_setting=tone)


def own(volumes: tuple[float, ...], *, decoupled: bool, tones: tuple[float, ...] = (1.0, 0.6)) -> Mix:
    inputs = tuple(MixInput(source=c, controls=controls(v, t))
                   for c, v, t in zip((ONE, OTHER), volumes, tones, strict=True))
    return Mix(inputs=inputs, output=END, decoupled=decoupled)


@pytest.mark.parametrize(("volume", "tone"), [(1.0, 1.0), (0.5, 1.0), (0.7, 0.3), (1.0, 0.0), (0.0, 0.5)])
def test_one_pickup_is_the_loaded_coil(volume: float, tone: float) -> None:
    loaded = LoadedCoil(coil=ONE, network=controls(volume, tone))
    master = Mix(inputs=(MixInput(source=ONE),), output=controls(volume, tone))
    assert np.allclose(master.transfer(BAND)[0], loaded(BAND), rtol=ROUNDING, atol=0)
    alone = Mix(inputs=(MixInput(source=ONE, controls=controls(volume, tone)),), output=END)
    same = replace(loaded, network=replace(controls(volume, tone), resistance=1e6, capacitance=470e-12))
    assert np.allclose(alone.transfer(BAND)[0], same(BAND), rtol=ROUNDING, atol=0)
    assert np.allclose(own((volume, 0.4), decoupled=False, tones=(tone, 0.3)).only((0,)).transfer(BAND)[0],
                       same(BAND), rtol=ROUNDING, atol=0)
    assert master.response() == loaded.response() or volume > 0


def test_only_one_of_two_is_the_loaded_coil() -> None:
    both = Mix(inputs=(MixInput(source=ONE), MixInput(source=OTHER, reversed=True)), output=controls())
    assert np.allclose(both.only((1,)).transfer(BAND)[0], -LoadedCoil(coil=OTHER, network=controls())(BAND),
                       rtol=ROUNDING, atol=0)


def test_two_pickups_worked_by_hand() -> None:
    """At nought hertz: 6 kΩ and 8 kΩ on one point, 250 kΩ ∥ 1 MΩ across."""
    h = Mix(inputs=(MixInput(source=ONE), MixInput(source=OTHER)), output=controls()).transfer(DIRECT)[:, 0]
    whole = 1 / 6e3 + 1 / 8e3 + 1 / 250e3 + 1e-6
    assert h == pytest.approx([1 / 6e3 / whole, 1 / 8e3 / whole], rel=ROUNDING)


def test_two_volumes_worked_by_hand() -> None:
    """At half way, a tenth of 250 kΩ is under the wiper; the other pickup's volume is full up."""
    h = own((0.5, 1.0), decoupled=False).transfer(DIRECT)[:, 0]
    arms = np.array([1 / (6e3 + 225e3), 1 / 8e3])
    whole = arms.sum() + 1 / 25e3 + 1 / 250e3 + 1e-6
    assert h == pytest.approx(arms / whole, rel=ROUNDING)
    h = own((0.5, 1.0), decoupled=True).transfer(DIRECT)[:, 0]
    # the wiper at the pickup: 25 kΩ across it, then 225 kΩ to the common point
    source, share = 1 / (1 / 6e3 + 1 / 25e3), 25e3 / 31e3
    arms = np.array([1 / (source + 225e3), 1 / (1 / (1 / 8e3 + 1 / 250e3))])
    whole = arms.sum() + 1e-6
    assert h == pytest.approx([share * arms[0] / whole, 250 / 258 * arms[1] / whole], rel=ROUNDING)


def test_a_shut_volume() -> None:
    """The wiper at the output takes both pickups down; the wiper at the pickup leaves the other one alive."""
    assert not own((0.0, 1.0), decoupled=False).transfer(BAND).any()
    shut = own((0.0, 1.0), decoupled=True).transfer(BAND)
    assert not shut[0].any()
    assert np.abs(shut[1, 0]) == pytest.approx((1 / 8e3) / (1 / 8e3 + 2 / 250e3 + 1e-6), rel=ROUNDING)


@pytest.mark.parametrize("decoupled", [False, True])
def test_two_equal_pickups_are_one_of_half_the_impedance(decoupled: bool) -> None:
    pair = Mix(inputs=(MixInput(source=ONE),) * 2, output=controls(0.7, 0.4), decoupled=decoupled)
    half = Mix(inputs=(MixInput(source=Scaled(ONE, 0.5)),), output=controls(0.7, 0.4))
    assert np.allclose(pair.together(BAND), half.transfer(BAND)[0], rtol=ROUNDING, atol=0)
    assert np.allclose(pair.with_reversed(1).transfer(BAND).sum(axis=0), 0.0, atol=ROUNDING)


def test_a_pickup_of_infinite_impedance_changes_nothing() -> None:
    alone = Mix(inputs=(MixInput(source=ONE),), output=controls())
    two = replace(alone, inputs=(*alone.inputs, MixInput(source=Scaled(OTHER, 1e15))))
    h = two.transfer(BAND)
    assert np.allclose(h[0], alone.transfer(BAND)[0], rtol=ROUNDING, atol=0)
    assert np.abs(h[1]).max() < ROUNDING


def test_superposition_and_reciprocity() -> None:
    """The same network driven forwards, one EMF after the other and both at once."""
    mix = own((0.6, 0.9), decoupled=False)
    nodes = network_nodes(mix, BAND)
    rows, Y = nodes.matrix()
    emf = np.array([0.3, -1.2])
    J = np.zeros((BAND.size, len(rows), 1), dtype=complex)
    for i, (e, c) in enumerate(zip(emf, (ONE, OTHER), strict=True)):
        J[:, rows[nodes.name(terminals(i))], 0] += e / c.series(BAND)
    forward = np.linalg.solve(Y, J)[:, rows[nodes.name(OUTPUT)], 0]
    assert np.allclose(forward, emf @ mix.transfer(BAND), rtol=ROUNDING, atol=0)
    assert np.allclose(Y, np.swapaxes(Y, 1, 2), rtol=1e-15)


@pytest.mark.parametrize("mix", [own((0.6, 0.9), decoupled=False), own((0.6, 0.9), decoupled=True),
                                 Mix(inputs=(MixInput(source=ONE), MixInput(source=OTHER)), output=controls(0.8))])
def test_passive(mix: Mix) -> None:
    """No more than the EMF at nought hertz, and no power from the network at any frequency: Re v*Jv ≥ 0."""
    h = mix.transfer(DIRECT)[:, 0].real
    assert (h > 0).all()
    assert h.sum() < 1
    _, Y = network_nodes(mix, BAND).matrix()
    assert np.linalg.eigvalsh((Y + np.conj(np.swapaxes(Y, 1, 2))) / 2).min() > 0


def test_together_resonates_higher() -> None:
    """Half the inductance on the same cable: up by nearly √2, less what the coils' own capacitance keeps."""
    pair = Mix(inputs=(MixInput(source=ONE),) * 2, output=controls())
    alone, both = pair.only((0,)).response().resonance, pair.response().resonance
    assert alone is not None
    assert both is not None
    assert 1.15 < both / alone < 2**0.5


def test_nodes_of_a_ladder() -> None:
    """Three resistors by hand: 1 A into the middle of 2 Ω to ground and 3 Ω + 1 Ω to ground."""
    nodes = Nodes(np.zeros(2))
    nodes.resistor("a", GROUND, 2.0)
    nodes.resistor("a", "b", 3.0)
    nodes.resistor("b", "c", 0.0)
    nodes.resistor("c", GROUND, 1.0)
    nodes.resistor("c", GROUND, np.inf)
    v = nodes.voltages("a", ["a", "b", "c", GROUND])
    assert v[:, 0] == pytest.approx([4 / 3, 1 / 3, 1 / 3, 0.0])
    nodes.resistor("a", GROUND, 0.0)
    assert not nodes.voltages("a", ["a", "b"]).any()


@pytest.mark.parametrize("count", [1, 4, 7])
def test_figure(count: int) -> None:
    mix = own((0.0, 1.0), decoupled=False)  # silent: nothing of it can be drawn on a scale in dB
    f = 110.0 * np.arange(1, 40)
    curves = [MixCurves(name=f"selection {i}", mix=mix if i == 1 else mix.only((1,)), opposed=i == 2,
                        levels=np.array([0.02, 0.03]) * (i != 1), partials=((f, (i != 1) / f), (2 * f, (i != 1) / f)))
              for i in range(count)]
    fig = mix_figure(curves, [110.0, 220.0], "A title of many words " * 9, "plucked by 1 mm")
    fig.draw_without_rendering()
    assert [ax.get_ylabel() for ax in fig.axes] == ["output over EMF (dB)", "rms voltage (mV)",
                                                    "under the strongest (dB)"]
    box = fig.get_tightbbox()
    inside = 0.01  # inches; a line's width
    assert min(box.x0, box.y0) >= -inside
    assert (np.array([box.x1, box.y1]) <= fig.get_size_inches() + inside).all()
