"""What a case of one row predicts for readings, as a function of what is usually unknown about it.

    field        B_z on the pole's axis at distance + probe offset, times a factor for the doubt about μ_⊥
    output       20 log₁₀ |∂λ/∂z| at gap + offset, on the string's static curve; its level is anyone's guess

Resistance, inductance and resonance: :mod:`.terminals`. Only the bias is solved again for another charge or
coercivity of a magnet.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.shapes.row import PartShape, PoleShape, StringShape
from stringflux.solver.materials import Materials
from stringflux.solver.row.other_magnets import with_magnets
from stringflux.solver.row.solve import SolvedRow
from stringflux.solver.seam import StringField

from ..coil.circuit import CoilCircuit
from ..coil.winding import Winding, warming
from ..string.heard import factor_over_heights
from ..string.layers import layers_of
from ..string.line_fields import Span
from ..string.linkage import PLAIN, rest_model, rest_slopes
from ..string.model import string_model
from ..string.neighbours import StringsTogether
from ..string.numerics import SHIPPED, StringNumerics
from .reading import Reading
from .terminals import coil_value, direct_resistance, inductance_share, wound

GAP_ROOM = 1e-3
"""How far an offset may move the gaps, m; the fields are tabulated that much lower and higher."""
LEAST_GAP = 0.25e-3
_KEPT, _KEPT_FACES = 40, 400

State = Mapping[str, float]
"""Values by name: "turns", "wire", "inductance", "capacitance", "gap", "probe", "field" and, for all magnets or
those of one pole, "coercivity", "coercivity 3", "charge", "charge 3"."""


class BenchModel:
    """The prediction of a case for its readings.

    Parameters
    ----------
    case : Case
    row : SolvedRow
        Solved for the case, its fields tabulated as far as the readings' gaps reach.
    materials : mapping
        Material objects by name.
    made : Winding
        At 20 °C.
    circuit : CoilCircuit, optional
        Of the case; needed for readings of the coil with alternating current.
    numerics : StringNumerics
    inductance_range : (float, float)
        What the doubt about the permeability that a signal meets multiplies the inductance with, low and high.
    """

    def __init__(self, case: Case, row: SolvedRow, materials: Materials, made: Winding,
                 circuit: CoilCircuit | None = None, numerics: StringNumerics = SHIPPED,
                 inductance_range: tuple[float, float] = (1.0, 1.0)) -> None:
        self.case, self.row, self.materials, self.made, self.circuit = case, row, materials, made, circuit
        self.numerics, self.inductance_range = numerics, inductance_range
        self.strings = placed_strings(case)
        self._rows: dict[tuple[PoleShape, ...], SolvedRow] = {tuple(p.shape for p in row.places): row}
        self._faces: dict[tuple[int, float], Array] = {}  # by the row's id, as below
        self._curves: dict[tuple[int, int, float, float], np.polynomial.Chebyshev] = {}
        self._last: tuple[SolvedRow, StringsTogether] | None = None

    def magnets(self) -> tuple[int, ...]:
        """Numbers (from 1) of the poles that hold a magnet."""
        return tuple(i for i, p in enumerate(self.row.places, start=1) if any(q.polarity for q in p.shape.parts))

    def charges(self) -> tuple[float, ...]:
        """Charge of the uppermost magnet of each pole of :meth:`magnets`, as the case has it."""
        shapes = [self.row.places[i - 1].shape for i in self.magnets()]
        return tuple(next(q.state.charge for q in shape.parts if q.polarity) for shape in shapes)

    @property
    def fits(self) -> tuple[str, ...]:
        """What of it can be fitted."""
        return ("coercivity", "coercivity-each", "charge", "charge-each", "turns", "capacitance", "gap", "probe")

    def field_ranges(self, height: float) -> list[tuple[float, float]]:
        """What the doubt about μ_⊥ multiplies the field with at a height over each kind of pole."""
        return list(self.row.face_factors(height).values())

    def predict(self, readings: Sequence[Reading], state: State) -> Array:
        """Predicted values (n,), outputs without their level."""
        row = self._row(state)
        out = np.empty(len(readings))
        for i, r in enumerate(readings):
            if r.quantity == "field":
                out[i] = self._field(r, row, state)
            elif r.quantity == "probe offset":
                out[i] = state.get("probe", 0.0)
            elif r.quantity == "output":
                out[i] = self.output(r, readings, state)
            elif r.frequency is None and r.quantity == "resistance":
                out[i] = direct_resistance(self.made, state) * warming(r.temperature)
            else:
                out[i] = self._coil(r, state)
        return out

    def _row(self, state: State) -> SolvedRow:
        shapes = tuple(_in_state(p.shape, i, state) for i, p in enumerate(self.row.places, start=1))
        if shapes not in self._rows:
            self._rows[shapes] = with_magnets(self.row, shapes, self.case.history)
            if len(self._rows) > _KEPT:
                gone = self._rows.pop(list(self._rows)[1])  # the first one, the case's own, stays
                self._curves = {key: c for key, c in self._curves.items() if key[0] != id(gone)}
                self._faces = {key: b for key, b in self._faces.items() if key[0] != id(gone)}
        return self._rows[shapes]

    def _field(self, r: Reading, row: SolvedRow, state: State) -> float:
        height = max((r.distance or 0.0) + state.get("probe", 0.0), 0.0)
        key = (id(row), round(height, 9))
        if key not in self._faces:
            if len(self._faces) > _KEPT_FACES:
                self._faces.clear()
            self._faces[key] = row.face_field(height)
        return float(self._faces[key][(r.pole or 1) - 1]) * state.get("field", 1.0)

    def _coil(self, r: Reading, state: State) -> float:
        if self.circuit is None:
            raise ValueError("circuit: it is needed for readings with alternating current")
        coil = wound(self.circuit, inductance_share(self.made, state),
                     direct_resistance(self.made, state) * warming(r.temperature),
                     state.get("capacitance", self.made.capacitance))
        return coil_value(r, coil, self.case.load)

    def output(self, r: Reading, readings: Sequence[Reading], state: State) -> float:
        """20 log₁₀ |∂λ/∂z|; the gaps of `readings` say how far its curve goes."""
        number, row = r.string or 1, self._row(state)
        gaps = [q.gap or 0.0 for q in readings if q.quantity == "output" and q.string == number]
        string = self.strings[number - 1]
        shape, base = string.shape, string.grounded
        low, high = gap_range(gaps)
        key = (id(row), number, low, high)
        if key not in self._curves:
            field = self._among(row).over(number)
            self._curves[key] = linkage_curve(field, shape, self.materials, base + low, base + high, self.numerics)
        gap = min(max((r.gap or 0.0) + state.get("gap", 0.0), low), high)
        return 20 * float(np.log10(abs(self._curves[key](base + gap))))

    def _among(self, row: SolvedRow) -> StringsTogether:
        if self._last is None or self._last[0] is not row:
            shapes = [s.shape for s in self.strings]
            self._last = row, StringsTogether(row.field, shapes, self.materials, self.numerics)
        return self._last[1]


def gap_range(gaps: Sequence[float]) -> tuple[float, float]:
    """Gaps that an offset may turn these into, m."""
    return max(min(gaps) - GAP_ROOM, LEAST_GAP), max(gaps) + GAP_ROOM


def linkage_curve(field: StringField, shape: StringShape, materials: Materials, low: float,
                  high: float, numerics: StringNumerics = SHIPPED) -> np.polynomial.Chebyshev:
    """∂λ/∂z, V·s/m, against the height of the string's axis, m, from λ at Chebyshev–Lobatto heights; nan for a string
    that its coil does not hear."""
    n = 9 + 2 * int(max(high - low - 4e-3, 0.0) / 1e-3)
    z = (low + high) / 2 - (high - low) / 2 * np.cos(np.pi * np.arange(n) / (n - 1))
    room = shape.outer_radius + 1e-5
    span = Span(y=(shape.y - room, shape.y + room), z=(low - room, high + room), ny=4, nz=n + 2)
    model = string_model(field, replace(shape, axis_height=(low + high) / 2), layers_of(shape, materials), span,
                         numerics)
    state = model.at(np.full(n, shape.y), z)
    curve, gross = (np.polynomial.Chebyshev.fit(z, values, n - 1, domain=[low, high]).deriv()
                    for values in (state.linkage, state.gross))
    middle = (low + high) / 2
    if abs(curve(middle)) < PLAIN * abs(gross(middle)) and not rest_slopes(
            rest_model(field, model.shape, model.layers, numerics)).heard:
        return curve * np.nan
    return curve * factor_over_heights(field, model.shape, model.layers, low, high)


def _in_state(shape: PoleShape, number: int, state: State) -> PoleShape:
    scale = state.get(f"coercivity {number}", state.get("coercivity", 1.0))
    charge = state.get(f"charge {number}", state.get("charge"))
    if scale == 1.0 and charge is None:
        return shape

    def changed(part: PartShape) -> PartShape:
        if not part.polarity:
            return part
        was = part.state
        return replace(part, state=replace(was, coercivity=was.coercivity * scale,
                                           charge=was.charge if charge is None else charge))

    return PoleShape(parts=tuple(changed(part) for part in shape.parts))
