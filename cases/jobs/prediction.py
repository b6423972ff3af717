"""The main job: from a case to the prediction of every string."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import ClassVar

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import PlacedString
from stringflux.geometry.reading.check_sense import oddities
from stringflux.geometry.shapes.row import StringShape
from stringflux.postprocess.plucked.sensed import ONE_SIDED
from stringflux.postprocess.records.balance import with_balance
from stringflux.postprocess.records.prediction import CoilRecord, StringRecord
from stringflux.postprocess.results.prediction import Prediction
from stringflux.postprocess.string.aperture import aperture
from stringflux.postprocess.string.heard import heard_model, swung_string, with_memory
from stringflux.postprocess.string.layers import WRAP_GAPS, layers_of
from stringflux.postprocess.string.linkage import (
    LinkageMap,
    RestStencil,
    Slopes,
    linkage_map,
    rest_model,
)
from stringflux.postprocess.string.loop import COARSE, SwungString, swing_together
from stringflux.postprocess.string.model import StringModel, StringState, around, string_model
from stringflux.solver.constants import MU0
from stringflux.solver.materials import Materials
from stringflux.solver.seam import SolvedField

from ..solved.abstract import SolvedCase
from ..solved.signal_doubt import signal_notes
from ..solved.solve import solved_case
from ..solved.solve_row import one_thread
from ..solved.temperature import temperature_notes
from ..solved.unmagnetised import UNMAGNETISED
from ..solved.windings import connection_words
from .mesh_error import said_of_draft

Progress = Callable[[str, float], None]
_ROUND = 4  # samples of the fields across a string, for means round its surface


def predict(case: Case, *, quality: str = "normal", progress: Progress = lambda stage, share: None,
            maps: bool = True, solver: str = "auto") -> Prediction:
    """Compute a case.

    Parameters
    ----------
    case : Case
        From :func:`stringflux.cases.load_case`.
    quality : {"draft", "normal", "fine"}
    progress : callable
        Told the stage's name and the share of the work done, 0…1.
    maps : bool
        Also compute the linkage maps (± 2 mm) of all strings.
    solver : {"auto", "row", "solid", "plane"}
        "auto": the one that the case needs.

    Returns
    -------
    Prediction

    Raises
    ------
    CaseError, SolveError, MissingLibraryError

    Examples
    --------
    >>> from stringflux.cases import load_case, predict
    >>> result = predict(load_case("bench-single"), quality="draft", maps=False)
    >>> 0.1 < result.coil.inductance < 0.3
    True
    """
    return prediction_of(solved_case(case, quality, solver=solver), progress=progress, maps=maps)


def prediction_of(solved: SolvedCase, *, progress: Progress = lambda stage, share: None,
                  maps: bool = True) -> Prediction:
    """The prediction of a solved case; parameters as of :func:`predict`."""
    with one_thread():
        return _predict(solved, progress, maps)


def _predict(solved: SolvedCase, progress: Progress, maps: bool) -> Prediction:
    case = solved.case
    clock = _Clock(progress, len(case.string))
    solution = solved.solution(stage=clock.stage)
    strings, models = [], []
    for string in solved.strings:
        clock.stage(f"string {string.number} of {len(case.string)}")
        record, sensitivities = _kept_string(solved, string, maps)
        strings.append(record)
        models.append(sensitivities)
    clock.stage("poles")
    poles = solved.poles()
    coils, pairs = solved.coils()
    picture, settled = solved.picture(clock.stage, cut=maps), solved.settled()
    doubts = signal_notes(solved, clock.stage)
    balanced = with_balance(strings, [s.scale for s in solved.strings], np.abs(np.array(models)).T)
    clock.stage("")
    return Prediction(
        title=case.title, quality=solved.quality, probe_height=case.probe_height, poles=poles, strings=balanced,
        coil=CoilRecord(turns=sum(c.turns for c in coils), inductance_air=abs(solution.inductance_air),
                        inductance=abs(solution.inductance)),
        coils=coils, pairs=pairs, connection=connection_words(case), solver=solved.choice.solver,
        why=solved.choice.why, section=picture.section, slice=picture.cut, coupling=settled.coupling,
        rounds=settled.rounds,
        timings=clock.seconds,
        notes=(*(_against(solved) or _unheard(case, balanced)), *solved.remarks(), *doubts,
               *_notes(case, solved.materials), *said_of_draft(solved.choice.solver, solved.quality)),
    )


def _unheard(case: Case, strings: Sequence[StringRecord]) -> tuple[str, ...]:
    """What to say of strings that the coil does not hear moving up and down."""
    if not case.is_magnetised:
        return (f"{UNMAGNETISED}, so linkage and S are 0.",)
    return tuple(
        f"string {s.number}: its coil does not hear it move up and down where it lies" +
        (f"; only sideways motion is heard, with {1e3 * s.sensitivity_across:.3g} mV per m/s."
         if s.sensitivity_across else ", and sideways neither.")
        for s in strings if not s.heard)


def _against(solved: SolvedCase) -> tuple[str, ...]:
    """What to say of coils that cancel each other over the strings."""
    case = solved.case
    if len(case.coils()) == 1 or not case.connection.reversed or not case.is_magnetised:
        return ()
    shape, field = solved.strings[0].shape, solved.solution().field
    model = rest_model(field, shape, layers_of(shape, solved.materials), solved.numerics.string)
    if aperture(model).one_sided >= ONE_SIDED:
        return ()
    return ("as they are connected the coils cancel each other for a string that moves as a whole: linkage, S and "
            "the balance by it are small differences of large numbers. What is heard of a plucked string, which "
            "bends over the coils, is computed by `stringflux signal`.",)


def _notes(case: Case, materials: Materials) -> tuple[str, ...]:
    """What the printed ranges leave out."""
    parts, notes = case.solid_bodies(), [f"{oddity}." for oddity in oddities(case)]
    if any(0 < p.state.charge < 1 for p in parts if p.polarity):
        notes.append("a charge below 1 puts the magnet on a recoil line, capped by its full curve.")
    notes += temperature_notes(case, materials)
    return tuple(notes)


def _kept_string(solved: SolvedCase, string: PlacedString, maps: bool) -> tuple[StringRecord, Array]:
    """The record of a string (balance still empty) and its S on every model of its metal, (k,): for one turn, made
    only where something that it depends on is new, and then wound."""
    unit = solved.unit_fields()
    metals = [solved.materials[name] for name in (string.shape.steel, string.shape.wrap) if name]
    key = *unit.magnets, *unit.coils, solved.numerics.string, string, metals, maps
    record, sensitivities = solved.keep("string", key, lambda: _string(solved, unit.field, string, maps))
    record, over = record.with_turns(unit.turns), solved.over_coils(string)
    if over:
        record = replace(record, over=over, bias=over[0].bias, reciprocal=over[0].reciprocal)
    return record, abs(unit.turns) * np.array(sensitivities)


def _string(solved: SolvedCase, field: SolvedField, string: PlacedString,
            maps: bool) -> tuple[StringRecord, list[float]]:
    shape, materials = string.shape, solved.materials
    layers, numerics = layers_of(shape, materials), solved.numerics.string
    model = heard_model(field, shape, layers, numerics)
    stencil = RestStencil(model)
    curve = stencil.static()
    swinging = swung_string(curve, field, shape, layers, numerics, model)
    ends = []
    if swinging is not None and not swinging.sideways:
        ends = [swinging.of(layers_of(shape, materials, memory_end=end), COARSE) for end in (0, 1)]
        swing_together([swinging, swinging.above(), *ends])
    slopes = curve if swinging is None else with_memory(curve, swinging)
    reversible = stencil.reversible(curve.rest) if curve.heard else 0.0
    sensitivities = [slopes.z, *_other_models(stencil, shape, materials, (curve, slopes), swinging, ends)]
    if not slopes.heard:
        sensitivities = [0.0] * len(sensitivities)
    table = linkage_map(field, model, rest=curve.rest) if maps else None
    bias, reciprocal = _over_the_row(field, shape)
    f = slopes.z / curve.z if curve.heard else 1.0
    x, lines, flux_density = _lines(field, shape, model, stencil, curve.rest)
    record = StringRecord(
        number=string.number, pole=string.pole, wound=shape.wrap_diameter > 0, y=shape.y, height=shape.axis_height,
        gap=string.gap, diameter=2 * shape.outer_radius,
        pitch=string.pitch, tension=string.tension, unit_mass=string.unit_mass,
        bias=bias, reciprocal=reciprocal, linkage=slopes.linkage if slopes.heard or slopes.linked else 0.0,
        sensitivity=float(abs(sensitivities[0])), sensitivity_curve=float(abs(curve.z)) if curve.heard else 0.0,
        sensitivity_reversible=float(abs(reversible)),
        sensitivity_across=float(abs(slopes.y)) if slopes.heard or slopes.heard_across else 0.0,
        sensitivity_band=(float(np.min(np.abs(sensitivities))), float(np.max(np.abs(sensitivities)))),
        gap_slope=slopes.gap_slope, peak_flux_density=float(np.max(np.abs(flux_density))),
        offset=table.y - model.pole.y if table else np.zeros(0), sensitivity_offset=_across(table, shape, f),
        map_y=table.y - shape.y if table else np.zeros(0),
        map_z=table.z - shape.axis_height if table else np.zeros(0),
        map_linkage=table.linkage if table else np.zeros((0, 0)),
        x=x, line_bias=lines[:3], line_reciprocal=lines[3:], line_flux_density=flux_density,
    )
    return record, sensitivities


def _over_the_row(field: SolvedField, shape: StringShape) -> tuple[Array, Array]:
    """B₀ (3,) and b (3,) at a string's axis over x = 0, along x, y and z; its own table has them along the string."""
    at = np.array([[0.0], [shape.y], [shape.axis_height]])
    return field.bias(at)[:, 0], field.reciprocal(at)[:, 0]


def _other_models(stencil: RestStencil, shape: StringShape, materials: Materials, found: tuple[Slopes, Slopes],
                  swinging: SwungString | None, ends: list[SwungString]) -> list[float]:
    """∂λ/∂z at both ends of what is known of the metal (on its reversible slopes where it does not remember) and,
    wound, with the wrap's gaps of the range; `found`: on the curve, and with memory."""
    curve, slopes = found
    if swinging is None or swinging.sideways:
        out = [stencil.reversible(curve.rest, layers_of(shape, materials, reversible=end)) for end in (0.0, 1.0)]
        f = 1.0
    else:
        out = [abs(slopes.z) * end.light().sensitivity / swinging.light().sensitivity for end in ends]
        f = slopes.z / curve.z
    for gap in WRAP_GAPS:  # a plain string repeats its own value, so that all strings have equal lists
        layers = layers_of(shape, materials, wrap_gap=gap)
        out.append(f * (stencil.slope_of(layers) if len(layers) > 1 else curve.z))
    return out


def _across(table: LinkageMap | None, shape: StringShape, f: float) -> Array:
    """S of the string moved aside, its memory as at rest."""
    return f * np.abs(table.slope_z(shape.axis_height)) if table else np.zeros(0)


def _lines(field: SolvedField, shape: StringShape, level: StringModel, stencil: RestStencil,
           rest: StringState) -> tuple[Array, Array, Array]:
    """Along the string: x, B₀ and b averaged round its surface, and the flux density in its core; as it leans."""
    if shape.slope == level.shape.slope:
        model, surface, axial = level, stencil.surface, rest.axial
    else:
        span = replace(around(shape, 0.0), ny=_ROUND, nz=_ROUND)
        model = string_model(field, shape, level.layers, span, level.numerics)
        setting = model.setting(np.array([shape.y]), np.array([shape.axis_height]))
        surface, axial = setting.surface[0], setting.static().axial
    flux_density = MU0 * np.pad(axial.m[0, 0] + axial.h[0], 1)
    return _whole_line(model, surface, flux_density)


def _whole_line(model: StringModel, fields: Array, flux_density: Array) -> tuple[Array, Array, Array]:
    """A mirrored line unfolded: along-components are odd in x, the others even."""
    x = model.grid.x
    if not model.grid.mirrored:
        return x, fields, flux_density
    sign = np.array([-1.0, 1.0, 1.0, -1.0, 1.0, 1.0])[:, None]
    return (np.concatenate([-x[:0:-1], x]), np.concatenate([sign * fields[:, :0:-1], fields], axis=1),
            np.concatenate([-flux_density[:0:-1], flux_density]))


class _Clock:
    """Times the stages and tells how far the work is, by what stages usually cost."""

    _WEIGHTS: ClassVar[dict[str, float]] = {"mesh": 1.0, "3-D": 10.0, "bias": 3.0, "small": 3.0, "coil": 1.0,
                                            "coupling": 4.0}

    def __init__(self, progress: Progress, strings: int) -> None:
        self._progress = progress
        self._total = 12.0 + strings
        self._done = 0.0
        self._last = ("", time.perf_counter())
        self.seconds: dict[str, float] = {}

    def stage(self, name: str) -> None:
        now = time.perf_counter()
        before, since = self._last
        if before:
            key = before.split(" of ")[0].rstrip(" 0123456789").replace(" ", "_")
            self.seconds[key] = self.seconds.get(key, 0.0) + now - since
            self._done += self._WEIGHTS.get(before.split()[0], 1.0)
            self._total = max(self._total, self._done + 1.0)
        self._last = (name, now)
        self._progress(name, 1.0 if not name else min(self._done / self._total, 0.99))
