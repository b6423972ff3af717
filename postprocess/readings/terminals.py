"""Readings at a pickup's terminals, of one coil or of several that are connected.

    resistance   R₂₀ N/N₀ w (1 + α ΔT) for direct current, w the wire's Ω/m over its nominal value; else Re Z(f)
    inductance   Im Z(f)/2πf: what a meter in series mode shows, the winding's capacitance included
    resonance    peak of |Z|, or of the response into what is connected

L_c goes as N² in one window. Of several coils the resistances change together, and so do the capacitances: a meter
at the terminals cannot tell one coil from another.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Protocol

import numpy as np

from stringflux.geometry.arrays import Array, ComplexArray
from stringflux.geometry.case.controls import Load

from ..coil.circuit import CoilCircuit, Resonance
from ..coil.connection import CoilNetwork
from ..coil.controls import LoadedCoil, LoadSource, Network, network
from ..coil.winding import Winding
from .reading import Reading


class KnownCopper(Protocol):
    """What is known of the copper at the terminals at 20 °C: :class:`.Winding`, or :class:`Copper` of several."""

    @property
    def turns(self) -> float: ...
    @property
    def resistance(self) -> float: ...
    @property
    def resistance_computed(self) -> tuple[float, float, float]: ...
    @property
    def resistance_measured(self) -> bool: ...
    @property
    def capacitance(self) -> float: ...
    @property
    def capacitance_band(self) -> tuple[float, float]: ...
    @property
    def capacitance_measured(self) -> bool: ...


class CoilOrNetwork(LoadSource, Protocol):
    """A coil or a network of them, in ohms over Hz."""

    def impedance(self, frequency: Array) -> ComplexArray: ...
    def resonance(self) -> Resonance | None: ...


@dataclass(frozen=True, kw_only=True)
class Copper:
    """Several windings as their connection shows them; the attributes of :class:`.Winding` that readings need.

    Attributes
    ----------
    turns : float
        Of all coils.
    resistance, capacitance : float
        At the terminals, Ω and F (of the equivalent coil).
    resistance_computed : (float, float, float)
        Least, nominal and greatest by the tolerance of the wires, a measured coil without one, Ω.
    capacitance_band : (float, float)
        F.
    resistance_measured, capacitance_measured : bool
        Whether those of all coils were.
    """

    turns: float
    resistance: float
    resistance_computed: tuple[float, float, float]
    resistance_measured: bool
    capacitance: float
    capacitance_band: tuple[float, float]
    capacitance_measured: bool


def copper(windings: Sequence[Winding], coils: CoilNetwork) -> Winding | Copper:
    """The windings of a network at its terminals; one alone as it is."""
    if len(windings) == 1:
        return windings[0]

    low, nominal, high = (coils.resistance_of([w.resistance if w.resistance_measured else w.resistance_computed[i]
                                               for w in windings]) for i in range(3))
    least, most = (coils.with_capacitance([w.capacitance_band[i] for w in windings]).capacitance for i in (0, 1))
    return Copper(
        turns=sum(w.turns for w in windings), resistance=coils.resistance, resistance_computed=(low, nominal, high),
        resistance_measured=all(w.resistance_measured for w in windings), capacitance=coils.capacitance,
        capacitance_band=(least, most), capacitance_measured=all(w.capacitance_measured for w in windings),
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Wound(CoilCircuit):
    """A circuit with `share` times the inductance."""

    share: float

    def inductance_at(self, frequency: Array) -> ComplexArray:
        return self.share * super().inductance_at(frequency)


def wound(coil: CoilCircuit, share: float, resistance: float, capacitance: float) -> CoilCircuit:
    """A coil with `share` times its inductance, and with R in Ω and C in F."""
    own = {f.name: getattr(coil, f.name) for f in fields(CoilCircuit)}
    return _Wound(**own | {"resistance": resistance, "capacitance": capacitance}, share=share)


def wound_all(coils: CoilNetwork, share: float, resistance: float, capacitance: float) -> CoilNetwork:
    """A network with `share` times its inductances, its R and C scaled to those at the terminals, Ω and F."""
    ohms, farads = resistance / coils.resistance, capacitance / coils.capacitance
    return replace(coils, coils=tuple(wound(c, share, c.resistance * ohms, c.capacitance * farads)
                                      for c in coils.coils))


def direct_resistance(made: KnownCopper, state: Mapping[str, float]) -> float:
    """R at 20 °C, Ω."""
    if made.resistance_measured:
        return made.resistance
    return made.resistance * state.get("turns", made.turns) / made.turns * state.get("wire", 1.0)


def inductance_share(made: KnownCopper, state: Mapping[str, float]) -> float:
    """L over that of the case."""
    return (state.get("turns", made.turns) / made.turns) ** 2 * state.get("inductance", 1.0)


def coil_value(r: Reading, coil: CoilOrNetwork, load: Load) -> float:
    """What a coil at the reading's temperature gives with alternating current; nan where there is no peak."""
    if r.quantity == "resonance":
        return _resonance(r, coil, load)
    z = complex(coil.impedance(np.array([r.frequency or 0.0]))[0])
    return z.real if r.quantity == "resistance" else z.imag / (2 * np.pi * (r.frequency or 1.0))


def _resonance(r: Reading, coil: CoilOrNetwork, load: Load) -> float:
    hangs = r.load
    if not hangs.own and not hangs.capacitance and np.isinf(hangs.resistance):
        top = coil.resonance()
        return np.nan if top is None else top.frequency
    hung = network(load) if hangs.own else Network(capacitance=hangs.capacitance, resistance=hangs.resistance)
    peak = LoadedCoil(coil=coil, network=hung).response().resonance
    return np.nan if peak is None else float(peak)
