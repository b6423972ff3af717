"""The coils at their terminals, and what controls, cable and amplifier make of the strings' voltage."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from stringflux.geometry.case.controls import Load
from stringflux.postprocess.coil.circuit import CoilCircuit
from stringflux.postprocess.coil.controls import LoadedCoil, LoadResponse, Network, network

from ..solved.abstract import SolvedCase
from ..solved.records import Terminals

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True, kw_only=True)
class Settings:
    """A setting of the controls: what it is called, and rotations of volume and tone, 0 … 1."""

    name: str
    volume: float
    tone: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Impedance:
    """A pickup at its terminals, and at the amplifier.

    Attributes
    ----------
    terminals : Terminals
        The coils over the frequencies of the case's :class:`.Numerics`.
    loads : mapping of str to Network
        What hangs on the coil, by setting of the controls; the first is the case's own.
    """

    terminals: Terminals
    loads: Mapping[str, Network]

    @property
    def circuit(self) -> CoilCircuit:
        """The coils as they are connected."""
        return self.terminals.circuit

    def plot(self, ax: Axes | None = None, what: str = "magnitude") -> Axes:
        """Draw one panel: "magnitude" or "phase" of Z, or the "response" at the amplifier.

        Parameters
        ----------
        ax : Axes, optional
            A new figure's if left out.

        Raises
        ------
        InputError
            For another panel.
        """
        from stringflux.postprocess.figures import impedance
        from stringflux.postprocess.figures.panel import panel

        return panel(ax, {"magnitude": lambda ax: impedance.magnitude(ax, self.circuit),
                          "phase": lambda ax: impedance.phase(ax, self.circuit),
                          "response": lambda ax: impedance.loaded(ax, self.circuit, self.loads)}, what)

    def figures(self, title: str = "") -> dict[str, Figure]:
        """The figure that `stringflux impedance` writes, by the name of its file."""
        from stringflux.postprocess.figures.impedance import impedance_figure

        return {"impedance": impedance_figure(self.circuit, self.loads, title)}

    def responses(self) -> dict[str, LoadResponse]:
        """What each setting of the controls does."""
        return {name: LoadedCoil(coil=self.circuit, network=hung).response() for name, hung in self.loads.items()}


def impedance_of(solved: SolvedCase,
                 progress: Callable[[str, float], None] = lambda stage, share: None) -> Impedance:
    """The impedance of a solved case."""
    return Impedance(terminals=solved.terminals(np.array(solved.numerics.frequencies), progress),
                     loads=loads_of(solved.case.load))


def loads_of(load: Load) -> dict[str, Network]:
    """What hangs on the coil at each of :func:`control_settings`."""
    return {s.name: network(load, volume_setting=s.volume, tone_setting=s.tone) for s in control_settings(load)}


def control_settings(load: Load) -> tuple[Settings, ...]:
    """The case's own setting first, then a few more that people ask for."""
    own = Settings(name="as in the case", volume=load.volume_setting, tone=load.tone_setting)
    if load.controls == "none":
        return (replace(own, name="no controls"),)
    more = [(1.0, 1.0, "all full up"), (0.5, 1.0, "volume half")]
    if load.controls == "volume and tone":
        more += [(1.0, 0.5, "tone half"), (1.0, 0.0, "tone down")]
    same = [name for v, t, name in more if (v, t) == (own.volume, own.tone)]
    rest = [Settings(name=name, volume=v, tone=t) for v, t, name in more if name not in same]
    return (replace(own, name=same[0]) if same else own, *rest)
