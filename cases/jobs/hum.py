"""Hum of a case against its strings: areas for uniform fields, and voltages of strings to compare with."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from stringflux.geometry.case.placed_strings import PlacedString
from stringflux.postprocess.coil.hum import HOME_MEAN, MAINS, HumArea
from stringflux.postprocess.coil.hum_several import HumResidue
from stringflux.postprocess.plucked.sensed import SWING
from stringflux.postprocess.string.heard import swing_slope
from stringflux.postprocess.string.layers import layers_of

from ..solved.abstract import SolvedCase
from ..solved.records import UnitFields
from ..solved.windings import connection_words
from .string_records import string_key

if TYPE_CHECKING:
    from matplotlib.axes import Axes


@dataclass(frozen=True, kw_only=True, eq=False)
class Hum:
    """Hum of a case.

    Attributes
    ----------
    area : HumArea
    signal : tuple of float
        Rms voltage of every string swinging ± 1 mm up and down over the row at its pitch, V; 0 for one that is not
        heard.
    residue : HumResidue, optional
        Of several coils: how well they cancel.
    coils : tuple of str
        Their names.
    connection : str
        How they are connected, in words.
    """

    area: HumArea
    signal: tuple[float, ...]
    residue: HumResidue | None = None
    coils: tuple[str, ...] = ()
    connection: str = ""

    def level(self, field: float, frequency: float) -> list[float]:
        """Hum in a field (T, worst direction) against the signal of every string, dB; nan where it is not heard."""
        hum = self.area.voltage(field, frequency)
        return [20 * math.log10(hum / s) if s else math.nan for s in self.signal]

    def plot(self, ax: Axes | None = None, what: str = "level", *, field: float = HOME_MEAN) -> Axes:
        """Bars of the hum's "level" against the signal of every string, dB, at the mains' frequencies.

        Parameters
        ----------
        ax : Axes, optional
            A new figure's if left out.
        field : float
            Rms, T, in the worst direction; the mean of homes if left out.

        Raises
        ------
        InputError
            For another panel.
        """
        from stringflux.postprocess.figures.bar_charts import groups
        from stringflux.postprocess.figures.panel import panel

        levels = {f"{f:g} Hz": np.array(self.level(field, f)) for f in MAINS}
        title = f"Hum in {1e6 * field:g} µT against strings that swing ± {1e3 * SWING:g} mm"
        return panel(ax, {"level": lambda ax: groups(ax, levels, title, "(dB)")}, what)


def hum_of(solved: SolvedCase, progress: Callable[[str, float], None] = lambda stage, share: None) -> Hum:
    """Effective area of a case's pickup, and signals to compare with."""
    case = solved.case
    solved.solution(stage=lambda stage: progress(stage, 0.1))
    unit = solved.unit_fields()
    found = solved.hum_areas()
    progress("strings", 0.7)
    speeds = [2 * math.pi * s.pitch * SWING / math.sqrt(2) for s in solved.strings]
    slopes = (_slope(solved, unit, string) for string in solved.strings)
    signal = tuple(abs(unit.turns) * slope * speed for slope, speed in zip(slopes, speeds, strict=True))
    progress("", 1.0)
    several = len(found.areas) > 1 or not case.is_plain_row
    return Hum(area=found.together, signal=signal, residue=found.residue,
               coils=case.coil_names() if several else (), connection=connection_words(case))


def _slope(solved: SolvedCase, unit: UnitFields, string: PlacedString) -> float:
    """What a coil of one turn hears of a string that swings by :data:`SWING`, V·s/m."""
    return solved.keep("swing", (*string_key(solved, string), SWING), lambda: swing_slope(
        solved.among(unit.field).over(string.number), string.shape, layers_of(string.shape, solved.materials),
        SWING, solved.numerics.string))
