"""All strings of a pickup plucked alike: their signals, and how they are drawn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..plucked.modes import Pluck
from ..plucked.sensed import PlayedString
from ..plucked.sine import Sine
from .each import EachString, numbered

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True, kw_only=True, eq=False)
class Signals(EachString[PlayedString]):
    """The signals of all strings, a sequence of PlayedString.

    Attributes
    ----------
    strings : tuple of PlayedString
        Each with `string` (what the pickup makes of it however it is plucked) and `signal` (V over s).
    pluck : Pluck or Sine
    loaded : bool
        At the amplifier; else of the coil in an open circuit.
    """

    pluck: Pluck | Sine
    loaded: bool

    def plot(self, ax: Axes | None = None, what: str = "waveform", *, string: int = 1) -> Axes:
        """Draw one panel: the "waveform" or the "spectrum" of a string, or the "distortion" of all.

        Parameters
        ----------
        ax : Axes, optional
            A new figure's if left out.
        string : int
            From 1.

        Raises
        ------
        InputError
            For another panel or string.
        """
        from ..figures import signal
        from ..figures.panel import panel

        one, count = numbered(string, self.strings), len(self)
        return panel(ax, {"waveform": lambda ax: signal.waveform(ax, one, count),
                          "spectrum": lambda ax: signal.spectrum_panel(ax, one, count, self._at),
                          "distortion": lambda ax: signal.distortion_panel(ax, self.strings)}, what)

    def figures(self, said: str = "") -> dict[str, Figure]:
        """The figures that `stringflux signal` writes, by the names of its files; `said`: the line under titles."""
        from ..figures.signal import signal_figures

        return signal_figures(self.strings, said, self._at)

    @property
    def _at(self) -> float | None:
        """Where the strings were plucked, as a part of them; None where they were driven."""
        return None if isinstance(self.pluck, Sine) else self.pluck.at
