"""What a case solved in 3-D predicts for readings: bodies anywhere, several rows, several coils.

    field        B_z on the pole's axis at distance + probe offset, times a factor for the doubt about μ_⊥
    output       20 log₁₀ |∂λ/∂z| at gap + offset over what the gap counts from; its level is anyone's guess

Poles count on through all rows. Close over a face the field is continued from above (`solver/solid/face_field.py`):
on rods and slugs within 2.3 % on the face and 1 % at 0.1 mm (1.7 and 1.4 % on draft meshes). Resistance, inductance
and resonance are of the coils as they are connected (:mod:`.terminals`). Nothing here is solved again: magnets
stay as the case has them.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.solver.materials import Materials
from stringflux.solver.solid.solve import SolvedSolid

from ..coil.connection import CoilNetwork
from ..coil.winding import Winding, warming
from ..string.neighbours import StringsTogether
from ..string.numerics import SHIPPED, StringNumerics
from .reading import Reading
from .row_model import State, gap_range, linkage_curve
from .terminals import coil_value, copper, direct_resistance, inductance_share, wound, wound_all

_KEPT = 400


class BuildModel:
    """The prediction of a build for its readings.

    Parameters
    ----------
    case : Case
    solved : SolvedSolid
        Its coils connected, and with the answers to the strings whose outputs are read.
    materials : mapping
        Material objects by name.
    windings : sequence of Winding
        Of every coil, at 20 °C.
    coils : CoilNetwork
        Connected as the case says, over the frequencies of the readings.
    numerics : StringNumerics
    inductance_range : (float, float)
        What the doubt about the permeability that a signal meets multiplies the inductance with, low and high.
    """

    def __init__(self, case: Case, solved: SolvedSolid, materials: Materials, windings: Sequence[Winding],
                 coils: CoilNetwork, numerics: StringNumerics = SHIPPED,
                 inductance_range: tuple[float, float] = (1.0, 1.0)) -> None:
        self.case, self.solved, self.materials, self.coils = case, solved, materials, coils
        self.numerics, self.inductance_range = numerics, inductance_range
        self.made = copper(windings, coils)
        self.strings = placed_strings(case)
        self._faces: dict[float, Array] = {}
        self._coils: dict[object, float] = {}
        self._curves: dict[tuple[int, float, float], np.polynomial.Chebyshev] = {}
        self._among = StringsTogether(solved.field, [s.shape for s in self.strings], materials, numerics)

    @property
    def fits(self) -> tuple[str, ...]:
        """What of it can be fitted: of several coils nothing that would have to be shared out among them."""
        return build_fits(self.case)

    def magnets(self) -> tuple[int, ...]:
        """None whose charge or coercivity could be another: that would be a new 3-D solution."""
        return ()

    def charges(self) -> tuple[float, ...]:
        """Of :meth:`magnets`."""
        return ()

    def field_ranges(self, height: float) -> list[tuple[float, float]]:
        """What the doubt about μ_⊥ multiplies the field with at a height over each pole."""
        return [(float(low), float(high)) for low, high in self.solved.face_factors(height, self.materials)]

    def predict(self, readings: Sequence[Reading], state: State) -> Array:
        """Predicted values (n,), outputs without their level."""
        out = np.empty(len(readings))
        for i, r in enumerate(readings):
            if r.quantity == "field":
                out[i] = self._field(r, state)
            elif r.quantity == "probe offset":
                out[i] = state.get("probe", 0.0)
            elif r.quantity == "output":
                out[i] = self.output(r, readings, state)
            elif r.frequency is None and r.quantity == "resistance":
                out[i] = direct_resistance(self.made, state) * warming(r.temperature)
            else:
                out[i] = self._coil(r, state)
        return out

    def _coil(self, r: Reading, state: State) -> float:
        size = (inductance_share(self.made, state), direct_resistance(self.made, state) * warming(r.temperature),
                state.get("capacitance", self.made.capacitance))
        key = (r.quantity, r.frequency, r.load, size)
        if key not in self._coils:
            if len(self._coils) > _KEPT:
                self._coils.clear()
            alone = replace(self.coils.coils[0], lead=self.coils.lead) if len(self.coils.coils) == 1 else None
            coil = wound_all(self.coils, *size) if alone is None else wound(alone, *size)
            self._coils[key] = coil_value(r, coil, self.case.load)
        return self._coils[key]

    def _field(self, r: Reading, state: State) -> float:
        height = round(max((r.distance or 0.0) + state.get("probe", 0.0), 0.0), 9)
        if height not in self._faces:
            if len(self._faces) > _KEPT:
                self._faces.clear()
            self._faces[height] = self.solved.face_field(height)
        return float(self._faces[height][(r.pole or 1) - 1]) * state.get("field", 1.0)

    def output(self, r: Reading, readings: Sequence[Reading], state: State) -> float:
        """20 log₁₀ |∂λ/∂z|; the gaps of `readings` say how far its curve goes."""
        number = r.string or 1
        low, high = gap_range([q.gap or 0.0 for q in readings if q.quantity == "output" and q.string == number])
        string = self.strings[number - 1]
        shape, base = string.shape, string.grounded
        key = (number, low, high)
        if key not in self._curves:
            self._curves[key] = linkage_curve(self._among.over(number), shape, self.materials, base + low,
                                              base + high, self.numerics)
        gap = min(max((r.gap or 0.0) + state.get("gap", 0.0), low), high)
        return 20 * float(np.log10(abs(self._curves[key](base + gap))))


def build_fits(case: Case) -> tuple[str, ...]:
    """What can be fitted to readings of a build."""
    return ("gap", "probe") if len(case.coils()) > 1 else ("gap", "probe", "turns", "capacitance")
