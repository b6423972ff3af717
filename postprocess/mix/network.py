r"""Several pickups through their controls into one cable, by the nodes of the network.

Pickup i is an EMF E_i in its winding; at its terminals t_i that is a current E_i/Z_s,i with its impedance Z_i across
(Norton), Z_s the winding without its capacitance. At t_i hangs its tone control, and its volume control leads to
the common point c; from there a master tone and volume lead to the output, with cable and amplifier across. A
control that is not there is a plain wire. The volume's track R, the share x of it under the wiper::

    wiper to the output       t_i ── R (1 − x) ── c,   c ── R x ── ground     shut, it puts c on ground
    wiper to the pickup       t_i ── R (1 − x) ── c,   t_i ── R x ── ground   shut, it puts only t_i on ground

With the admittances Y of all nodes, Y v = J. The network is reciprocal, so a unit current into the output makes at
t_i the voltage that a unit current into t_i makes at the output: one right hand side gives every pickup's ::

    Y v = δ_out,   H_i = V/E_i = ± v_i/Z_s,i

Ω, F, Hz. The pickups have no field in common
here; :mod:`.neighbours` says how little is left out by that.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from stringflux.geometry.arrays import Array, ComplexArray

from ..coil.controls import NO_LOAD, LoadResponse, Network, response_of
from .nodes import GROUND, Nodes

COMMON, OUTPUT = "common", "output"


class Source(Protocol):
    """What a mix has to know of a pickup; :class:`.coil.circuit.CoilCircuit` is one."""

    def impedance(self, frequency: Array) -> ComplexArray:
        """Z at the terminals, Ω, of frequencies (k,) in Hz."""
        ...

    def series(self, frequency: Array) -> ComplexArray:
        """EMF over the current into a short circuit, Ω."""
        ...


@dataclass(frozen=True, kw_only=True, eq=False)
class MixInput:
    """A pickup in a mix.

    Attributes
    ----------
    source : Source
    controls : Network
        Its own volume and tone, if it has any; cable and amplifier in it are not looked at.
    reversed : bool
        Leads exchanged.
    """

    source: Source
    controls: Network = NO_LOAD
    reversed: bool = False


@dataclass(frozen=True, kw_only=True, eq=False)
class Mix:
    """Pickups that are switched on, and what they share.

    Attributes
    ----------
    inputs : tuple of MixInput
    output : Network
        Master volume and tone, if there are any, cable and amplifier.
    decoupled : bool
        The inputs' volumes have their wipers at the pickups and not at the output.

    Examples
    --------
    Two equal pickups of 6 kΩ with the same EMF into 100 kΩ are one of 3 kΩ:

    >>> from stringflux.postprocess.coil.circuit import coil_circuit
    >>> coil = coil_circuit(frequency=np.array([100.0]), inductance=np.array([2.5 + 0j]), resistance=6e3,
    ...                     capacitance=100e-12)
    >>> mix = Mix(inputs=(MixInput(source=coil),) * 2, output=Network(resistance=100e3))
    >>> (mix.together(np.zeros(1)).real * 103).round(6).tolist()
    [100.0]
    """

    inputs: tuple[MixInput, ...]
    output: Network
    decoupled: bool = False

    def transfer(self, frequency: Array) -> ComplexArray:
        """H_i = V/E_i (inputs, k) with all the others connected and silent; frequencies (k,) in Hz, 0 included."""
        f = np.asarray(frequency, dtype=float)
        nodes = network_nodes(self, f)
        v = nodes.voltages(OUTPUT, [terminals(i) for i in range(len(self.inputs))])
        signs = np.array([-1.0 if p.reversed else 1.0 for p in self.inputs])
        series = np.array([np.broadcast_to(p.source.series(f), f.shape) for p in self.inputs])
        return np.asarray(signs[:, None] * v / series)

    def together(self, frequency: Array) -> ComplexArray:
        """V/E (k,) for the same E in every pickup, all adding: what wiring and loading do, however leads lie."""
        signs = np.array([-1.0 if p.reversed else 1.0 for p in self.inputs])
        return np.asarray(signs @ self.transfer(frequency))

    def response(self) -> LoadResponse:
        """Level, peak and corner of :meth:`together`."""
        return response_of(self.together)

    def only(self, chosen: Sequence[int]) -> Mix:
        """The same with only these pickups switched on (from 0); the others are taken out with their controls."""
        return replace(self, inputs=tuple(self.inputs[i] for i in chosen))

    def with_reversed(self, which: int) -> Mix:
        """The same with the leads of one pickup exchanged."""
        return replace(self, inputs=tuple(replace(p, reversed=p.reversed != (i == which))
                                          for i, p in enumerate(self.inputs)))


def terminals(i: int) -> str:
    """Node of pickup i, from 0."""
    return f"pickup {i}"


def network_nodes(mix: Mix, frequency: Array) -> Nodes:
    """The network of a mix, its EMFs silent."""
    nodes = Nodes(frequency)
    for i, p in enumerate(mix.inputs):
        t, own = terminals(i), p.controls
        nodes.admittance(t, GROUND, 1 / p.source.impedance(frequency))
        nodes.admittance(t, GROUND, tone_admittance(own, frequency))
        nodes.resistor(t, COMMON, own.above())
        nodes.resistor(t if mix.decoupled else COMMON, GROUND, _below(own))
    shared = mix.output
    nodes.admittance(COMMON, GROUND, tone_admittance(shared, frequency))
    nodes.resistor(COMMON, OUTPUT, shared.above())
    nodes.resistor(OUTPUT, GROUND, _below(shared))
    nodes.admittance(OUTPUT, GROUND, np.asarray(1 / shared.resistance + 2j * np.pi * frequency * shared.capacitance))
    return nodes


def tone_admittance(network: Network, frequency: Array) -> ComplexArray:
    """The tone control with its capacitor, S; 0 where there is none."""
    if not np.isfinite(network.tone):
        return np.zeros(frequency.shape, dtype=complex)
    c = 2j * np.pi * frequency * network.tone_capacitor
    return np.asarray(c / (1 + c * network.tone * network.tone_share))


def _below(network: Network) -> float:
    return network.volume * network.volume_share if np.isfinite(network.volume) else np.inf
