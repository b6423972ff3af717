"""A case whose poles get a better shape: what is asked, what was found, and the cases that hold it."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any, Protocol

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.materials import USES
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.case.poles import Part
from stringflux.geometry.errors import CaseError
from stringflux.geometry.shapes.profiles import Edge
from stringflux.geometry.units import mm
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.linkage import RestStencil, rest_model
from stringflux.postprocess.string.neighbours import StringsTogether
from stringflux.postprocess.string.numerics import StringNumerics
from stringflux.postprocess.study_figures.shape import Look
from stringflux.postprocess.study_figures.shaped_body import BodyLook
from stringflux.solver.materials import Materials
from stringflux.solver.row.solve import SolvedRow

from ...ending import patient
from ...files.load import find_case, load_case, load_row_case, read_content
from ...jobs.plucked import bridge_distance
from ...kept.store import memory
from ...solved.choice import choose
from ...solved.direct_current import refuse_direct_current
from ...solved.numerics import SHIPPED, Numerics
from ...solved.row_case import RowCase
from ...solved.unmagnetised import refuse_unmagnetised
from .bodies.subject import BodySubject
from .files import changed_case
from .forms import Form, make_form
from .goals import BY_CURVE, GOALS, ROW_GOALS, figures_of, strings_over
from .limits import made, turned
from .model import ShapeModel
from .numerics import SHIPPED as SEARCH
from .numerics import SearchNumerics
from .result import ShapeDesign, ShapeRequest, ShapeStudy, doubt
from .search import GoalNoise, LengthsKind, ModelKind, ShapeSearch
from .so_far import ShapeStopped

Progress = Callable[[str, float], None]
PROFILE = ShapeRequest()
"""A free profile, for output."""
_LEAST_GAP = 0.8e-3  # in the figure of the output against the gap, m


def shape(which: str | os.PathLike[str], asked: ShapeRequest = PROFILE, *,
          changes: Mapping[str, Any] | None = None, quality: str = "normal",
          progress: Progress = lambda stage, share: None) -> ShapeStudy:
    """Find a better shape for the poles of a row or for a body, for one goal or two.

    Parameters
    ----------
    which : str or path
        A case file, or the name of a shipped case.
    asked : ShapeRequest
    changes : mapping of str to object, optional
        As of :func:`stringflux.cases.load_case`.
    quality : {"draft", "normal", "fine"}

    Returns
    -------
    ShapeStudy
        Its designs hold the figures and the text of the new case; ``study.plot(what="tip")`` draws one.

    Raises
    ------
    CaseError
        When something is asked that cannot be, or no body is named and the case is no row of poles in one coil.

    Examples
    --------
    >>> from stringflux.cases import ShapeRequest, shape
    >>> shorter = shape("bench-single", ShapeRequest(form="length", goals=("inductance",)), quality="draft")
    >>> shorter.designs[0].figures["inductance"] < shorter.before["inductance"]  # H
    True
    """
    changes = dict(changes or {})
    case = case_to_shape(which, changes, asked.body)
    text = find_case(which).read_text(encoding="utf-8-sig")
    return shape_case(case, text, read_content(which, changes), changes, asked, progress, quality=quality)


def case_to_shape(which: str | os.PathLike[str], changes: Mapping[str, Any], body: str) -> Case:
    """A case whose poles can be shaped, or a `body` of it that is named.

    Raises
    ------
    CaseError
        Where none is named and it is no row of poles in one coil.
    """
    if body:
        return load_case(which, changes)
    return load_row_case(which, changes, what="shape", instead="name a [[body]] of it by --body, or compare "
                         "tips of your own by stringflux compare --vary pole.part.tip=...")


def chosen_poles(case: Case, asked: Sequence[int]) -> tuple[int, tuple[int, ...]]:
    """Item of the case's `pole` (from 0) and the poles that change together.

    Raises
    ------
    CaseError
        When it is not plain which.
    """
    count = len(case.row.places())
    for i, pole in enumerate(case.pole, start=1):
        for j, part in enumerate(pole.part, start=1):
            if not isinstance(part, Part):
                raise CaseError(f"pole {i}, part {j}: shape changes round parts that are written as such, and this "
                                f"is a {part.shape}; write its diameter, length and tip")
    entries = {n: e for e in range(len(case.pole)) for n in case.pole_numbers(e)}
    if not asked:
        if len(case.pole) > 1:
            made_alike = "; ".join(", ".join(map(str, case.pole_numbers(e))) for e in range(len(case.pole)))
            raise CaseError(f"--pole: it is missing, and the case makes its poles in {len(case.pole)} ways; write "
                            f"numbers of poles that are made alike ({made_alike})")
        return 0, tuple(sorted(entries))
    for n in asked:
        if n not in entries:
            raise CaseError(f"--pole: received {n}; the row has poles 1 to {count}")
    if len({entries[n] for n in asked}) > 1:
        raise CaseError(f"--pole: poles {', '.join(map(str, asked))} are not made alike; change them in two runs")
    return entries[asked[0]], tuple(sorted(set(asked)))


def shape_case(case: Case, text: str, data: Mapping[str, Any], changes: Mapping[str, Any], asked: ShapeRequest,
               progress: Progress = lambda stage, share: None, *, quality: str = "normal",
               numerics: Numerics = SHIPPED, search_numerics: SearchNumerics = SEARCH) -> ShapeStudy:
    """Search.

    Parameters
    ----------
    text, data, changes
        The case file as it is, its content, and the changes of the command line in it.
    numerics, search_numerics
        Of the rows and strings, and of the search.

    Raises
    ------
    CaseError
        When something is asked that cannot be; before anything is solved where that can be known.
    """
    refuse_direct_current(case, "shape")
    refuse_unmagnetised(case, "so there is no output, aperture or pull that a shape could change")
    if asked.body:
        subject: WhatIsShaped = BodySubject(case, text, data, changes, asked, quality, numerics)
        few = min(search_numerics.noise_steps, search_numerics.body_noise_steps)
        return searched(subject, case, asked, progress, quality=quality,
                        search_numerics=replace(search_numerics, noise_steps=few))
    if foreign := [n for n in asked.goals if n not in ROW_GOALS]:
        raise CaseError(f"--for: {foreign[0]} is of a body under several strings, and poles that change together "
                        "stay alike; `stringflux balance` evens out a row")
    subject = RowSubject(case, text, data, changes, asked, quality, numerics)
    return searched(subject, case, asked, progress, quality=quality, search_numerics=search_numerics)


class WhatIsShaped(Protocol):
    """What is shaped: poles of a row, or a body."""

    @property
    def model(self) -> ModelKind:
        """Its goals, on a mesh that follows."""

    @property
    def poles(self) -> tuple[int, ...]:
        """Numbers of the poles that change; none of a body."""

    def looked(self, case: Case, name: str, /) -> tuple[dict[str, float], dict[str, float], Look | BodyLook]:
        """All figures of a case as `stringflux predict` computes it, its goals as the search does, and what is drawn
        of it."""

    def changed(self, lengths: Array, edge: Edge, remark: str, /) -> tuple[str, Case]:
        """The text of the case with a shape, and that case."""


class RowSubject:
    """Poles of a row that change together."""

    def __init__(self, case: Case, text: str, data: Mapping[str, Any], changes: Mapping[str, Any],
                 asked: ShapeRequest, quality: str, numerics: Numerics) -> None:
        self._case, self._text, self._data, self._changes = case, text, data, changes
        self._quality, self._numerics = quality, numerics
        self._entry, self.poles = chosen_poles(case, asked.poles)
        form = _form(case, self._entry, asked)
        strings_over(case, self.poles)
        if "pull" in asked.goals:
            bridge_distance(case)
        self.model = ShapeModel(case=case, form=form, poles=self.poles, quality=quality, base=form.start,
                                goals=asked.goals, numerics=numerics)

    def looked(self, case: Case, name: str) -> tuple[dict[str, float], dict[str, float], Look]:
        return _looked(case, self.poles, self._quality, name, self._numerics, self.model.goals)

    def changed(self, lengths: Array, edge: Edge, remark: str) -> tuple[str, Case]:
        parts = self.model.form.write(lengths, edge, self._data["pole"][self._entry]["part"])
        return changed_case(self._text, self._data, self._case, self._entry, self.poles, parts, self._changes, remark)


def searched(subject: WhatIsShaped, case: Case, asked: ShapeRequest, progress: Progress, *, quality: str,
             search_numerics: SearchNumerics) -> ShapeStudy:
    """Search for better shapes of what is shaped, and look at each as a case of its own.

    Raises
    ------
    ShapeStopped
        When it is interrupted and has come by a shape.
    """
    search = ShapeSearch(subject.model, asked.making, progress, numerics=search_numerics)
    try:
        return _searched(subject, search, case, asked, progress, quality)
    except KeyboardInterrupt:
        if search.so_far.p is None:
            raise
        with patient():
            lengths, edge, *_ = turned(subject.model.form, asked.making, search.so_far.p)
            text, _ = subject.changed(lengths, edge, _remark(subject, asked, edge, "stopped before its end"))
            raise ShapeStopped(text, _named(subject.model.form, lengths), search.so_far.goals) from None


def _searched(subject: WhatIsShaped, search: ShapeSearch, case: Case, asked: ShapeRequest, progress: Progress,
              quality: str) -> ShapeStudy:
    model, form = subject.model, subject.model.form
    progress("the case as it is", 0.02)
    before, before_by_curve, look = subject.looked(case, "before")
    found = search.front(asked.front) if len(asked.goals) == 2 else (search.best(search.start),)
    designs = list[ShapeDesign]()
    for best in found:
        progress("the new case", 0.92)
        lengths, edge, comes, kept = turned(form, asked.making, best.p)
        new_text, new_case = subject.changed(lengths, edge, _remark(subject, asked, edge))
        figures, by_curve, new_look = subject.looked(new_case, "after")
        designs.append(ShapeDesign(best=best, lengths=_named(form, lengths), edge=edge, made=made(form, best.p),
                                   turned=comes, kept=kept, figures=figures,
                                   by_curve=by_curve, text=new_text, look=new_look))
    better = undominated(designs, asked.goals)
    progress("noise", 0.96)
    noise = search.noise(better[0].best.p)
    told = told_apart(better, noise)
    progress("", 1.0)
    return ShapeStudy(case=case, quality=quality, asked=asked, poles=subject.poles, form=form, before=before,
                      before_by_curve=before_by_curve, look=look, designs=tuple(told),
                      repeated=len(designs) - len(told), noise=noise, solves=model.counts["solves"],
                      adjoints=model.counts["adjoints"], fitted=search.fitted)


def _named(form: LengthsKind, lengths: Array) -> dict[str, float]:
    """Lengths by name; none of a profile, which has its points."""
    return {} if form.curve else dict(zip((q.name for q in form.parameters), map(float, lengths), strict=True))


def _remark(subject: WhatIsShaped, asked: ShapeRequest, edge: Edge, how: str = "") -> str:
    """What the new case says of where its shape comes from."""
    goals = " and ".join(GOALS[n].title for n in asked.goals)
    stopped = f", {how}" if how else ""
    return (f"Shape found by `stringflux shape` ({subject.model.form.name}){stopped} for {goals}; {made_in(edge)} in "
            f"steps of {mm(asked.making.step)}.")


def made_in(edge: Edge) -> str:
    """How what has this edge is made."""
    return "turned" if edge else "made"


def undominated(designs: Sequence[ShapeDesign], goals: Sequence[str]) -> list[ShapeDesign]:
    """As turned: of those that the lathe's steps make alike or worse in both goals, one is left."""
    if len(goals) < 2:
        return list(designs)

    def at(d: ShapeDesign) -> tuple[float, ...]:
        return tuple(GOALS[n].sign * d.figures[n] for n in goals)

    kept = list[ShapeDesign]()
    for d in sorted(designs, key=at):
        if not kept or at(d)[1] < at(kept[-1])[1]:
            kept.append(d)
    return kept


def told_apart(designs: Sequence[ShapeDesign], noise: Mapping[str, GoalNoise]) -> list[ShapeDesign]:
    """Designs of a front without those whose goals are all within their doubt of one before."""
    def alike(d: ShapeDesign, k: ShapeDesign) -> bool:
        return all(abs(d.figures[n] - k.figures[n]) <= max(doubt(x, noise, n) for x in (d, k))
                   for n in noise)

    kept = list[ShapeDesign]()
    for d in designs:
        if not any(alike(d, k) for k in kept):
            kept.append(d)
    return kept


def _form(case: Case, entry: int, asked: ShapeRequest) -> Form:
    from stringflux.solver.materials import material_uses

    uses = {**material_uses(), **{n: USES[d.kind] for n, d in case.materials.items()}}
    places, coil = case.row.places(), case.racetrack()
    apart = min((b - a for a, b in zip(sorted(places), sorted(places)[1:], strict=False)), default=np.inf)
    widest = max(min(2 * coil.inner_radius, apart - 0.1e-3), case.pole[entry].round_parts[0].diameter)
    if asked.form == "cap" and asked.cap not in uses:
        from stringflux.geometry.case.keys import near

        raise CaseError(f'--cap: received "{asked.cap}", which is no known material{near(asked.cap, uses)}')
    return make_form(asked.form, case.pole[entry], controls=asked.points, deepest=asked.making.deepest, widest=widest,
                     soft=lambda name: uses.get(name) == "soft", cap=asked.cap)


def _looked(case: Case, poles: Sequence[int], quality: str, name: str, numerics: Numerics,
            goals: Sequence[str]) -> tuple[dict[str, float], dict[str, float], Look]:
    """As of :meth:`WhatIsShaped.looked`."""
    solved = RowCase(case, choose(case, "row"), quality, memory(), numerics=numerics)
    materials, row = solved.materials, solved.solution()
    names = [n for n in ROW_GOALS if n != "pull" or case.strings.bridge_distance is not None]
    figures = figures_of(row, case, materials, poles, names, numerics.string)
    by_curve = figures_of(row, case, materials, poles, [n for n in goals if n in BY_CURVE], numerics.string,
                          curve=True)
    place = row.places[poles[0] - 1]
    height = np.linspace(0.3e-3, 6e-3, 13)
    field = np.array([row.face_field(h)[poles[0] - 1] for h in height])
    gap, output = _against_gap(case, row, materials, poles, numerics.string)
    return figures, by_curve, Look(name=name, shape=place.shape, height=height, field=field, gap=gap, output=output)


def _against_gap(case: Case, row: SolvedRow, materials: Materials,
                 poles: Sequence[int], numerics: StringNumerics) -> tuple[np.ndarray, np.ndarray]:
    """Mean S of the strings over the poles, all of them raised and lowered together."""
    over = strings_over(case, poles)
    gaps = np.array([s.gap for s in over])
    moves = np.linspace(-min(1.8e-3, float(gaps.min()) - _LEAST_GAP), 1.8e-3, 7)
    out = []
    for move in moves:
        lifted = {s.number: replace(s.shape, axis_height=s.shape.axis_height + move) for s in over}
        every = [lifted.get(s.number, s.shape) for s in placed_strings(case)]
        among = StringsTogether(row.field, every, materials, numerics)
        models = [rest_model(among.over(n), s, layers_of(s, materials), numerics) for n, s in lifted.items()]
        out.append(np.mean([abs(RestStencil(model).static().z) for model in models]))
    return float(gaps.mean()) + moves, np.array(out)
