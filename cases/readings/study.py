"""Readings of a case against its prediction, and the fit: what `stringflux readings` computes."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.postprocess.coil.circuit import CoilCircuit, coil_circuit
from stringflux.postprocess.coil.winding import Winding, winding
from stringflux.postprocess.readings.driven import LAW, LawModel, as_outputs
from stringflux.postprocess.readings.fit import Fit, fit_readings
from stringflux.postprocess.readings.parameters import ALL, ReadModel, asked_parameters, prediction_doubts
from stringflux.postprocess.readings.problem import Parameter, Predictor, prediction_doubt
from stringflux.postprocess.readings.reading import Reading, Residual, asks_inductance, levelled
from stringflux.postprocess.readings.row_model import BenchModel
from stringflux.solver.materials import Materials
from stringflux.solver.row.impedance import row_impedance
from stringflux.solver.row.solve import SolvedRow, with_signals
from stringflux.solver.stages import Keep

from ..files.load import find_readings
from ..kept.store import memory
from ..solved.direct_current import refuse_direct_current
from ..solved.numerics import SHIPPED, Numerics
from ..solved.row_case import RowCase
from ..solved.signal_doubt import inductance_span, signal_materials
from ..solved.solve import solved_case
from ..solved.unmagnetised import refuse_unmagnetised
from .build import AS_READ, build_model, reaching
from .file import read_readings
from .law import law_model, refuse_law

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Stage = Callable[[str, float], None]
FAR_OFF = 3.0  # σ; a reading further off is named


@dataclass(frozen=True, kw_only=True, eq=False)
class Study:
    """What came out.

    Attributes
    ----------
    residuals : tuple of Residual
    start : dict
        The state that the case itself stands for.
    fit : Fit or None
    notes : tuple of str
    model : Predictor
        A `ReadModel` of a pickup; of a falling magnet one of which nothing is fitted.
    """

    residuals: tuple[Residual, ...]
    start: Mapping[str, float]
    fit: Fit | None
    notes: tuple[str, ...]
    model: Predictor

    def plot(self, ax: Axes | None = None, what: str = "residuals") -> Axes:
        """Draw the "residuals", or the readings of "field" or "output" on the curves of the prediction.

        Parameters
        ----------
        ax : Axes, optional
            A new figure's if left out.

        Raises
        ------
        InputError
            For another panel, or one without readings.
        """
        from stringflux.postprocess.figures import readings
        from stringflux.postprocess.figures.panel import panel

        of = {kind: [r for r in self.residuals if r.reading.quantity == kind] for kind in ("field", "output")}
        panels: dict[str, Callable[[Axes], object]] = {"residuals": lambda ax: readings.residuals(ax, self.residuals)}
        if of["field"]:
            panels["field"] = lambda ax: readings.field_curves(ax, of["field"], self.model, self.start, self._state)
        if of["output"]:
            panels["output"] = lambda ax: readings.output_curves(ax, of["output"], self.model, self._state)
        return panel(ax, panels, what, dict.fromkeys(of, "but there is no such reading"))

    def figures(self, title: str = "") -> dict[str, Figure]:
        """The figure that `stringflux readings` writes, by the name of its file."""
        from stringflux.postprocess.figures.readings import readings_figure

        return {"readings": readings_figure(self.residuals, self.model, self.start, self._state, title)}

    @property
    def _state(self) -> Mapping[str, float]:
        """As fitted, or as the case stands."""
        return self.start if self.fit is None else self.fit.state


def compare_readings(case: Case, which: str, fit: Sequence[str] = (), *, quality: str = "normal",
                     progress: Stage = lambda stage, share: None) -> Study:
    """Hold readings from the bench against the prediction of a case, and fit what was asked for.

    Parameters
    ----------
    case : Case
        Of the pickup that was measured.
    which : str
        A CSV file, or the name of shipped readings.
    fit : sequence of str
        "coercivity", "charge" (or either with "-each"), "turns", "capacitance", "gap", "probe", or "all".
    quality : {"draft", "normal", "fine"}

    Raises
    ------
    CaseError
        When the readings do not fit the case, or do not determine something that is asked for.
    SolveError

    Examples
    --------
    >>> from stringflux.cases import compare_readings, load_case
    >>> import tempfile, pathlib
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = pathlib.Path(folder, "mine.csv")
    ...     _ = file.write_text("quantity, value, uncertainty\\nresistance, 0.9 kohm, 2 %")
    ...     found = compare_readings(load_case("bench-single"), str(file), quality="draft")
    >>> 0.5 < found.residuals[0].sigma < 1.5
    True
    >>> found.plot().get_xlabel()
    'reading − prediction (σ)'
    """
    return study_readings(case, read_readings(find_readings(which), case), fit, quality=quality, progress=progress)


def study_readings(case: Case, readings: Sequence[Reading], fit: Sequence[str] = (), *, quality: str = "normal",
                   progress: Stage = lambda stage, share: None, numerics: Numerics = SHIPPED) -> Study:
    """Compare readings with the prediction of a case, and fit what was asked for.

    Parameters
    ----------
    case : Case
    readings : sequence of Reading
        From :func:`stringflux.cases.readings.file.read_readings`.
    fit : sequence of str
        Names of `FIT_NAMES`, or "all".
    quality : {"draft", "normal", "fine"}
    numerics : Numerics

    Raises
    ------
    CaseError
        When something asked for is not determined by the readings.
    SolveError
    """
    refuse_direct_current(case, "readings")
    if fit or any(r.quantity in ("output", *LAW) for r in readings):
        refuse_unmagnetised(case, "so there is no output, and nothing of a magnet to fit; without both, readings of "
                            "resistance, inductance and resonance can be held against it")
    refuse_law(case, readings, fit)
    keep = memory()
    model = bench_model(case, as_outputs(readings), quality, progress, keep, numerics)
    model = law_model(case, readings, model, quality, keep, numerics, progress)
    doubts = prediction_doubts(model, readings)
    if isinstance(model, LawModel):
        doubts += model.doubts(readings)
    start = {p.name: p.start for p in doubts}
    data = [r for r in readings if r.quantity != "probe offset"]
    if not data:
        raise CaseError("the readings hold nothing that could be compared; add fields, resistances or outputs")
    data, notes = _probe_turned(data, model, start)
    asked = asked_parameters(fit, model, readings)
    raw = model.predict(data, start)
    for r, value in zip(data, raw, strict=True):
        if not np.isfinite(value):
            raise CaseError(f"line {r.line}: the prediction has no {r.label}; leave this reading out")
    progress("doubts of the prediction", 0.6)
    predicted, doubt = levelled(data, raw), prediction_doubt(model, data, doubts)
    found = None
    if fit:
        progress("fit", 0.7)
        found = fit_readings(model, data, asked, doubts, drop=ALL in fit)
        notes += _written_nowhere(found)
    rows = []
    for i, r in enumerate(data):
        off = r.value - float(predicted[i])
        rows.append(Residual(
            reading=r, predicted=float(predicted[i]), difference=off,
            sigma=off / float(np.hypot(r.uncertainty, doubt[i])), doubt=float(doubt[i]),
            fitted=None if found is None else float(found.predicted[i]),
            sigma_fitted=None if found is None else (r.value - float(found.predicted[i])) / r.uncertainty,
        ))
    notes += _far_off(rows) if found else []
    progress("", 1.0)
    return Study(residuals=tuple(rows), start=start, fit=found, notes=tuple(notes), model=model)


def bench_model(case: Case, readings: Sequence[Reading], quality: str, progress: Stage,
                keep: Keep | None = None, numerics: Numerics = SHIPPED) -> ReadModel:
    """The case solved as far as these readings need it, by the solver that it needs."""
    solved = solved_case(case, quality, keep=keep, numerics=numerics)
    if not isinstance(solved, RowCase):
        return build_model(case, readings, quality, progress, solved.keep, numerics)
    materials, made = solved.materials, winding(case, AS_READ)
    reached, above = reaching(case, readings)
    row = RowCase(reached, solved.choice, quality, solved.keep, numerics=numerics).solution(
        above, lambda stage: progress(stage, 0.3))
    circuit, span = None, (1.0, 1.0)
    if any(r.alternating for r in readings):
        progress("eddy currents", 0.5)
        circuit = _circuit(row, materials, made, numerics, case.lead.farads)
    if asks_inductance(readings):
        span = inductance_span(row.inductance, [with_signals(row, m).inductance for m in signal_materials(materials)])
    return BenchModel(case, row, materials, made, circuit, numerics.string, span)


def _circuit(row: SolvedRow, materials: Materials, made: Winding, numerics: Numerics, lead: float) -> CoilCircuit:
    f = np.array(numerics.frequencies)
    return coil_circuit(frequency=f, inductance=row_impedance(row, materials, f).inductance,
                        resistance=made.resistance, capacitance=made.capacitance, loss=made.loss, lead=lead)


def _probe_turned(data: list[Reading], model: ReadModel,
                  start: Mapping[str, float]) -> tuple[list[Reading], list[str]]:
    """Fields that all have the other sign than predicted come from a probe that was turned over."""
    fields = [r for r in data if r.quantity == "field"]
    if not fields or np.any(np.array([r.value for r in fields]) * model.predict(fields, start) >= 0):
        return data, []
    turned = [replace(r, value=-r.value) if r.quantity == "field" else r for r in data]
    return turned, ["all fields have the other sign than predicted, as if the probe or the magnets were the other "
                    "way up; they are compared with their sign changed"]


def _written_nowhere(fit: Fit) -> list[str]:
    if any(f.parameter.name == "probe" for f in fit.fitted):
        return ["the offset of the probe belongs to the gaussmeter and is not written into the case"]
    return []


def _far_off(rows: Sequence[Residual]) -> list[str]:
    """Which reading does not go with the others."""
    def sigma(row: Residual) -> float:
        return abs(row.sigma_fitted or 0.0)

    worst = max(rows, key=sigma)
    if sigma(worst) < FAR_OFF:
        return []
    return [f"line {worst.reading.line} ({worst.reading.label}) is {sigma(worst):.1f} σ off; read it again"]


def value_words(p: Parameter, value: float) -> str:
    """A parameter's value as people read it."""
    if p.name == "probe" or p.name.startswith("gap"):
        return f"{value * 1e3:.3f} mm"
    if p.name == "turns":
        return f"{value:.0f}"
    return f"{value * 1e12:.4g} pF" if p.name == "capacitance" else f"{value:.3f}"
