"""What a report is written from: a case and everything that was computed of it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from stringflux.geometry.case.model import Case
from stringflux.solver.materials import Materials

from ..coil.circuit import CoilCircuit, Resonance
from ..coil.connection import CoilNetwork
from ..coil.controls import LoadedCoil, LoadResponse, Network
from ..coil.hum import HumArea
from ..coil.hum_several import HumResidue
from ..coil.winding import Winding
from ..plucked.sensed import SWING, PlayedString
from ..results.prediction import Prediction
from ..string.pull import Detuning, Pull


class PulledString(Protocol):
    """The pull on one string: number from 1, and what :mod:`.string.pull` finds of it; gaps in m."""

    @property
    def number(self) -> int: ...
    @property
    def gap(self) -> float: ...
    @property
    def pull(self) -> Pull: ...
    @property
    def detuning(self) -> Detuning: ...
    @property
    def one_cent_gap(self) -> float: ...
    @property
    def looked(self) -> tuple[float, float]: ...


@dataclass(frozen=True, kw_only=True, eq=False)
class BuildFindings:
    """What is found of a build of bodies and coils besides.

    Attributes
    ----------
    windings : tuple of Winding
        Of every coil.
    network : CoilNetwork
        The coils as they are connected.
    areas : tuple of HumArea
        Of every coil as it is wound.
    residue : HumResidue, optional
        Of several coils: how well they cancel.
    unknowns, copies : int
        Of the 3-D mesh, and how many times what is meshed makes up the whole.
    """

    windings: tuple[Winding, ...]
    network: CoilNetwork
    areas: tuple[HumArea, ...]
    residue: HumResidue | None
    unknowns: int
    copies: int


@dataclass(frozen=True, kw_only=True, eq=False)
class Findings:
    """Everything about a case.

    Attributes
    ----------
    name : str
        Of the case: that of its file.
    case : Case
    text : str
        Of the case file.
    changes : mapping
        What was changed on the command line.
    prediction : Prediction
    materials : mapping of str to material
        Those that the case uses.
    winding : Winding
        Of the first coil.
    circuit : CoilCircuit
        At the terminals.
    circuit_ends : (CoilCircuit, CoilCircuit)
        With the least and the greatest capacitance that the winding may have.
    loads : mapping of str to Network
        What hangs on the coil, by setting of the controls; the first is the case's own.
    hum : HumArea
    build : BuildFindings, optional
        Of a case that went to the 3-D solver.
    pulls : tuple of PulledString
        Empty where the case does not say where along the string the pickup sits.
    played, loaded : tuples of PlayedString
        At the open coil, and at the amplifier through eddy currents, controls and cable; empty for the same reason,
        or because a string swings too far.
    pluck : str
        How they were plucked.
    without : tuple of str
        Why something was left out.
    versions : mapping of str to str
    """

    name: str
    case: Case
    text: str
    changes: Mapping[str, Any]
    prediction: Prediction
    materials: Materials
    winding: Winding
    circuit: CoilCircuit
    circuit_ends: tuple[CoilCircuit, CoilCircuit]
    loads: Mapping[str, Network]
    hum: HumArea
    build: BuildFindings | None = None
    pulls: tuple[PulledString, ...] = ()
    played: tuple[PlayedString, ...] = ()
    loaded: tuple[PlayedString, ...] = ()
    pluck: str = ""
    without: tuple[str, ...] = ()
    versions: Mapping[str, str]

    @property
    def title(self) -> str:
        """The case's own title, or its name."""
        return self.case.title or self.name

    @property
    def windings(self) -> tuple[Winding, ...]:
        """Of every coil."""
        return (self.winding,) if self.build is None else self.build.windings

    @property
    def resistance(self) -> tuple[float, float, float]:
        """At the terminals: least, nominal and greatest by the wire's tolerance, Ω; alike where all was measured."""
        ends = [w.resistance_computed if not w.resistance_measured else (w.resistance,) * 3 for w in self.windings]
        low, nominal, high = (self._together([r[i] for r in ends]) for i in range(3))
        return low, nominal, high

    @property
    def resistance_measured(self) -> bool:
        """Whether it was, of every coil that counts."""
        return all(w.resistance_measured for w in self._connected())

    @property
    def capacitance_measured(self) -> bool:
        """The same of the windings' capacitance."""
        return all(w.capacitance_measured for w in self.windings)

    def _connected(self) -> list[Winding]:
        if self.build is None:
            return [self.winding]
        return [w for w, s in zip(self.build.windings, self.build.network.signs, strict=True) if s]

    def _together(self, each: Sequence[float]) -> float:
        """Resistances of all coils as one."""
        return each[0] if self.build is None else self.build.network.resistance_of(each)

    def responses(self) -> dict[str, LoadResponse]:
        """What each setting of the controls does."""
        return {name: LoadedCoil(coil=self.circuit, network=hung).response() for name, hung in self.loads.items()}

    def loaded_ends(self) -> tuple[LoadResponse, LoadResponse]:
        """The case's own setting with the least and the greatest capacitance of the winding."""
        hung = next(iter(self.loads.values()))
        low, high = (LoadedCoil(coil=c, network=hung).response() for c in self.circuit_ends)
        return low, high

    def resonance_ends(self) -> tuple[Resonance | None, Resonance | None]:
        """Unloaded resonance with the greatest and the least capacitance: the lower one first."""
        low, high = self.circuit_ends
        return high.resonance(), low.resonance()

    def swing_voltages(self) -> list[float]:
        """Rms voltage of every string that swings ± 1 mm up and down over the row, V."""
        return [s.sensitivity * 2 * math.pi * s.pitch * SWING / math.sqrt(2) for s in self.prediction.strings]
