"""The strings of a prediction: what is heard of each, and the fields along it.

Each is a kept stage, for a coil of one turn, and its map another. Those that are not there are put at rest one by
one, swung side by side, and then told of one by one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import cast

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.placed_strings import PlacedString
from stringflux.geometry.shapes.row import StringShape
from stringflux.postprocess.records.prediction import StringRecord
from stringflux.postprocess.string.heard import heard_model, swung_string, with_memory
from stringflux.postprocess.string.layers import WRAP_GAPS, layers_of
from stringflux.postprocess.string.linkage import LinkageMap, RestStencil, Slopes, linkage_map
from stringflux.postprocess.string.loop import COARSE, SwungString
from stringflux.postprocess.string.magnetisation import Layer
from stringflux.postprocess.string.model import StringModel, StringState, around, string_model
from stringflux.postprocess.string.together import swing_together
from stringflux.solver.constants import MU0
from stringflux.solver.materials import Materials
from stringflux.solver.seam import SolvedField, StringField
from stringflux.solver.stages import if_kept

from ..solved.abstract import SolvedCase

_ROUND = 4  # samples of the fields across a string, for means round its surface
_ODD = np.array([1, 0, 0, 1, 0, 0, 1, 1, 0, 0], dtype=bool)
"""Of B₀, b, flux density and moments along a string, which are along it."""
_Told = tuple[StringRecord, list[float]]
"""The record of a string (balance still empty) and its S on every model of its metal."""


def string_records(solved: SolvedCase, maps: bool, stage: Callable[[str], None],
                   over_strings: Callable[[], None] = lambda: None) -> list[_Told]:
    """Every string's record (balance still empty) and its S on every model of its metal, V·s/m.

    Parameters
    ----------
    maps : bool
        Also compute the linkage maps; of strings that are known without, nothing else.
    stage : callable
        Told the name of each stage as it begins.
    over_strings : callable
        Called when the fields along every string alone are there.
    """
    unit, strings = solved.unit_fields(), solved.strings
    together = solved.among(unit.field)
    keys = [string_key(solved, string) for string in strings]
    found = [cast(_Told | None, if_kept(solved.keep, "string", key)) for key in keys]
    if None in found and together.known:
        for string in strings:
            stage(f"field along string {string.number} of {len(strings)}")
            together.alone(string.number)
    over_strings()
    new = {}
    for i, string in enumerate(strings):
        stage(f"string {string.number} of {len(strings)}")
        if found[i] is None:
            new[i] = _at_rest(solved, together.over(string.number), string)
    last = f"string {len(strings)} of {len(strings)}"
    swing_together((s for rest in new.values() for s in rest.swinging), lambda: stage(last))
    out = []
    for i, string in enumerate(strings):
        stage(last)
        record, models = found[i] or solved.keep("string", keys[i], partial(_told, unit.field, new[i]))
        if maps:
            stage(last)
            record = _mapped(record, solved.keep("map", keys[i], partial(_map, solved, string, new.get(i))))
        record, over = record.with_turns(unit.turns), solved.over_coils(string)
        if over:
            record = replace(record, over=over, bias=over[0].bias, reciprocal=over[0].reciprocal)
        out.append((record, [abs(unit.turns) * s for s in models]))
    return out


def string_key(solved: SolvedCase, string: PlacedString) -> tuple[object, ...]:
    """All that a string over a coil of one turn depends on."""
    unit = solved.unit_fields()
    metals = [solved.materials[name] for name in (string.shape.steel, string.shape.wrap) if name]
    return *unit.magnets, *unit.coils, solved.numerics.string, string, metals, others_key(solved, string.number)


def others_key(solved: SolvedCase, number: int) -> list[object]:
    """What a string by its number from 1 depends on of the others."""
    return [(s.shape, [solved.materials[name] for name in (s.shape.steel, s.shape.wrap) if name])
            for s in solved.strings if s.number != number]


@dataclass(frozen=True, kw_only=True, eq=False)
class _AtRest:
    """A string at rest, and ready to swing."""

    string: PlacedString
    field: StringField
    layers: tuple[Layer, ...]
    materials: Materials
    model: StringModel
    stencil: RestStencil
    curve: Slopes
    swung: SwungString | None
    ends: tuple[SwungString, ...]

    @property
    def swinging(self) -> tuple[SwungString, ...]:
        """What is to be swung up and down of it."""
        return (self.swung, self.swung.above(), *self.ends) if self.swung is not None and self.ends else ()


def _at_rest(solved: SolvedCase, field: StringField, string: PlacedString) -> _AtRest:
    shape, materials, numerics = string.shape, solved.materials, solved.numerics.string
    layers = layers_of(shape, materials)
    model = heard_model(field, shape, layers, numerics)
    stencil = RestStencil(model)
    curve = stencil.static()
    swung = swung_string(curve, field, shape, layers, numerics, model)
    ends: tuple[SwungString, ...] = ()
    if swung is not None and not swung.sideways:
        ends = tuple(swung.of(layers_of(shape, materials, memory_end=end), COARSE) for end in (0, 1))
    return _AtRest(string=string, field=field, layers=layers, materials=materials, model=model, stencil=stencil,
                   curve=curve, swung=swung, ends=ends)


def _told(pickup: SolvedField, rest: _AtRest) -> _Told:
    string, model, stencil, curve = rest.string, rest.model, rest.stencil, rest.curve
    shape = string.shape
    slopes = curve if rest.swung is None else with_memory(curve, rest.swung)
    reversible = stencil.reversible(curve.rest) if curve.heard else 0.0
    sensitivities = [slopes.z, *_other_models(rest, slopes)]
    if not slopes.heard:
        sensitivities = [0.0] * len(sensitivities)
    bias, reciprocal = _over_the_row(pickup, shape)
    x, along = _lines(rest.field, shape, model, stencil, curve.rest)
    record = StringRecord(
        number=string.number, pole=string.pole, wound=shape.wrap_diameter > 0, y=shape.y, height=shape.axis_height,
        gap=string.gap, diameter=2 * shape.outer_radius,
        pitch=string.pitch, tension=string.tension, unit_mass=string.unit_mass,
        bias=bias, reciprocal=reciprocal, linkage=slopes.linkage if slopes.heard or slopes.linked else 0.0,
        sensitivity=float(abs(sensitivities[0])), sensitivity_curve=float(abs(curve.z)) if curve.heard else 0.0,
        sensitivity_reversible=float(abs(reversible)),
        sensitivity_across=float(abs(slopes.y)) if slopes.heard or slopes.heard_across else 0.0,
        sensitivity_band=(float(np.min(np.abs(sensitivities))), float(np.max(np.abs(sensitivities)))),
        gap_slope=slopes.gap_slope, peak_flux_density=float(np.max(np.abs(along[6]))),
        offset=np.zeros(0), sensitivity_offset=np.zeros(0), map_y=np.zeros(0), map_z=np.zeros(0),
        map_linkage=np.zeros((0, 0)),
        x=x, line_bias=along[:3], line_reciprocal=along[3:6], line_flux_density=along[6],
        line_moment=along[7], line_moment_across=along[8:],
    )
    return record, sensitivities


def _over_the_row(field: SolvedField, shape: StringShape) -> tuple[Array, Array]:
    """B₀ (3,) and b (3,) at a string's axis over x = 0, along x, y and z; its own table has them along the string."""
    at = np.array([[0.0], [shape.y], [shape.axis_height]])
    return field.bias(at)[:, 0], field.reciprocal(at)[:, 0]


def _other_models(rest: _AtRest, slopes: Slopes) -> list[float]:
    """∂λ/∂z at both ends of what is known of the metal (on its reversible slopes where it does not remember) and,
    wound, with the wrap's gaps of the range; `slopes`: with memory."""
    shape, materials, curve, stencil = rest.string.shape, rest.materials, rest.curve, rest.stencil
    if rest.swung is None or rest.swung.sideways:
        out = [stencil.reversible(curve.rest, layers_of(shape, materials, reversible=end)) for end in (0.0, 1.0)]
        f = 1.0
    else:
        out = [abs(slopes.z) * end.light().sensitivity / rest.swung.light().sensitivity for end in rest.ends]
        f = slopes.z / curve.z
    for gap in WRAP_GAPS:  # a plain string repeats its own value, so that all strings have equal lists
        layers = layers_of(shape, materials, wrap_gap=gap)
        out.append(f * (stencil.slope_of(layers) if len(layers) > 1 else curve.z))
    return out


def _map(solved: SolvedCase, string: PlacedString, rest: _AtRest | None) -> tuple[LinkageMap, float]:
    """λ over its places, and at which y its pole lies, m."""
    field = solved.among(solved.unit_fields().field).over(string.number)
    if rest is None:  # its record is remembered, without this
        layers = layers_of(string.shape, solved.materials)
        model = heard_model(field, string.shape, layers, solved.numerics.string)
        curve = RestStencil(model).static()
    else:
        model, curve = rest.model, rest.curve
    return linkage_map(field, model, rest=curve.rest), model.pole.y


def _mapped(record: StringRecord, found: tuple[LinkageMap, float]) -> StringRecord:
    """The record with its map; S of the string moved aside has its memory as at rest."""
    table, pole = found
    f = record.sensitivity / record.sensitivity_curve if record.sensitivity_curve else 1.0
    return replace(record, offset=table.y - pole, sensitivity_offset=f * np.abs(table.slope_z(record.height)),
                   map_y=table.y - record.y, map_z=table.z - record.height, map_linkage=table.linkage)


def _lines(field: StringField, shape: StringShape, level: StringModel, stencil: RestStencil,
           rest: StringState) -> tuple[Array, Array]:
    """Along the string, as it leans: x (n,), and (10, n) B₀ and b averaged round its surface, the flux density in its
    core, and its moments along, across and normal."""
    if shape.slope == level.shape.slope:
        model, surface = level, stencil.surface
    else:
        span = replace(around(shape, 0.0), ny=_ROUND, nz=_ROUND)
        model = string_model(field, shape, level.layers, span, level.numerics)
        setting = model.setting(np.array([shape.y]), np.array([shape.axis_height]))
        surface, rest = setting.surface[0], setting.static()
    own = np.stack([MU0 * (rest.axial.m[0, 0] + rest.axial.h[0]), rest.moment[0]])
    return _whole_line(model, np.concatenate([surface, np.pad(own, ((0, 0), (1, 1))), rest.moment_across[0]]))


def _whole_line(model: StringModel, values: Array) -> tuple[Array, Array]:
    """A mirrored line unfolded: along-components are odd in x, the others even."""
    x = model.grid.x
    if not model.grid.mirrored:
        return x, values
    sign = np.where(_ODD, -1.0, 1.0)[:, None]
    return np.concatenate([-x[:0:-1], x]), np.concatenate([sign * values[:, :0:-1], values], axis=1)
