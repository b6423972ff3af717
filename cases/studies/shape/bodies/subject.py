"""A body of a build as what is shaped: looked at as a case of its own, and written into the case."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from typing import Any

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.case.strings import GapRule
from stringflux.geometry.errors import CaseError
from stringflux.geometry.kernel.views import silhouette
from stringflux.geometry.reading.changes import change_value
from stringflux.geometry.reading.read import read_case
from stringflux.geometry.shapes.bodies import Form
from stringflux.geometry.shapes.pieces import Shaped
from stringflux.geometry.shapes.profiles import Edge
from stringflux.geometry.units import mm
from stringflux.postprocess.string.heard import heard_slopes
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.study_figures.shaped_body import BodyLook

from ....files.changed import with_changes
from ....files.load import built_in_uses
from ....jobs.plucked import bridge_distance
from ....kept.store import memory
from ....solved.build_case import SolidCase
from ....solved.choice import choose
from ....solved.numerics import Numerics
from ..goals import BY_CURVE, GOALS, OF_STRINGS, levels, of_strings
from ..result import ShapeRequest
from .form import chosen_body, make_body_form
from .model import BodyModel

_SAME = 1e-9  # m
_SIDE, _END = (1, 2), (0, 2)


class BodySubject:
    """One body of a build."""

    poles: tuple[int, ...] = ()

    def __init__(self, case: Case, text: str, data: Mapping[str, Any], changes: Mapping[str, Any],
                 asked: ShapeRequest, quality: str, numerics: Numerics) -> None:
        self._case, self._text, self._data, self._changes = case, text, data, changes
        self._quality, self._numerics = quality, numerics
        self._entry = chosen_body(case, asked.body)
        if "magnet" in asked.goals and case.body[self._entry].direction() is None:
            raise CaseError("--for: magnet is the volume of the body that is shaped, and that is no magnet; write "
                            "another goal")
        if "unevenness" in asked.goals and len(case.string) < 2:
            raise CaseError("--for: unevenness is of several strings, and the case has one; write another goal")
        if "pull" in asked.goals:
            bridge_distance(case)
        form = make_body_form(case, self._entry, asked.form, asked.varied, asked.making.deepest)
        self.model = BodyModel(case=case, form=form, quality=quality, base=form.start, goals=asked.goals,
                               numerics=numerics)

    def looked(self, case: Case, name: str) -> tuple[dict[str, float], dict[str, float], BodyLook]:
        """All figures of a case as `stringflux predict` computes it, its goals as the search does, and what is drawn
        of it."""
        solved = SolidCase(case, choose(case, "solid"), self._quality, memory(), numerics=self._numerics)
        materials, found, strings = solved.materials, solved.solution(), placed_strings(case)
        has = {"pull": case.strings.bridge_distance is not None, "unevenness": len(strings) > 1,
               "magnet": case.body[self._entry].direction() is not None}
        names = [n for n in GOALS if has.get(n, True)]
        fields = [solved.among(found.field).over(s.number) for s in strings]
        own = of_strings(fields, strings, case, materials, names, self._numerics.string)
        by_curve = of_strings([found.field] * len(strings), strings, case, materials,
                              [n for n in self.model.goals if n in BY_CURVE], self._numerics.string, curve=True)
        own["inductance"] = abs(solved.inductance())
        if "magnet" in names:
            own["magnet"] = self.model.form.volume(self.model.form.read(case))
        heard = [abs(heard_slopes(field, s.shape, layers_of(s.shape, materials), self._numerics.string).z)
                 for field, s in zip(fields, strings, strict=True)]
        body = case.own_bodies()[self._entry].form
        look = BodyLook(name=name, side=_rims(body, _SIDE), end=_rims(body, _END), strings=np.array(
            [[s.y for s in strings], [s.underside for s in strings], levels(np.array(heard), strings), heard]))
        return {n: own[n] for n in names if n in own or n not in OF_STRINGS}, by_curve, look

    def changed(self, lengths: Array, edge: Edge, remark: str) -> tuple[str, Case]:
        """The text of the case with these lengths, its strings where they were, and that case."""
        wanted = copy.deepcopy(dict(self._data))
        written: dict[str, Any] = {}
        for key, value in zip(self.model.form.keys, lengths, strict=True):
            steps = ["body", str(self._entry + 1), *key.split(".")]
            change_value(wanted, ".".join(steps), mm(float(value)))
            while steps and steps[-1].isdigit():  # a list is written as a whole
                steps.pop()
            written[".".join(steps)] = _at(wanted, steps)
        try:
            made = self._read(wanted)
            for before, after in zip(placed_strings(self._case), placed_strings(made), strict=True):
                if abs(before.underside - after.underside) > _SAME:
                    string = wanted["string"][before.number - 1]
                    for rule in GapRule.model_fields:
                        string.pop(rule, None)
                    string["height"] = mm(before.underside)
                    written[f"string.{before.number}.height"] = string["height"]
            made = self._read(wanted)
        except CaseError as error:
            raise CaseError(f"the shape that was found makes no possible case: {error}") from None
        return with_changes(self._text, wanted, {**self._changes, **written}, remark), made

    @staticmethod
    def _read(wanted: Mapping[str, Any]) -> Case:
        return read_case(wanted, materials=built_in_uses())


def _at(data: Any, steps: list[str]) -> Any:
    for step in steps:
        data = data[int(step) - 1] if isinstance(data, list) else data[step]
    return data


def _rims(form: Form, pair: tuple[int, int]) -> tuple[Array, ...]:
    if isinstance(form, Shaped):
        return silhouette(form, pair)
    (a, b), (c, d) = ((form.bounds[k][pair[0]], form.bounds[k][pair[1]]) for k in (0, 1))
    return (np.array([(a, b), (c, b), (c, d), (a, d)]),)
