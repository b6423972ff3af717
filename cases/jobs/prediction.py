"""The main job: from a case to the prediction of every string."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from typing import ClassVar

import numpy as np

from stringflux.geometry.case.model import Case
from stringflux.geometry.reading.check_sense import oddities
from stringflux.postprocess.plucked.sensed import ONE_SIDED
from stringflux.postprocess.records.balance import with_balance
from stringflux.postprocess.records.prediction import CoilRecord, StringRecord
from stringflux.postprocess.results.prediction import Prediction
from stringflux.postprocess.string.aperture import aperture
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.linkage import rest_model
from stringflux.solver.materials import Materials

from ..solved.abstract import SolvedCase
from ..solved.signal_doubt import signal_notes
from ..solved.solve import solved_case
from ..solved.solve_row import one_thread
from ..solved.temperature import temperature_notes
from ..solved.unmagnetised import UNMAGNETISED
from ..solved.windings import connection_words
from .mesh_error import said_of_draft
from .string_records import string_records

Progress = Callable[[str, float], None]


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
                  maps: bool = True, over_strings: Callable[[], None] = lambda: None) -> Prediction:
    """The prediction of a solved case; parameters as of :func:`predict`. `over_strings` is called when the fields
    along the strings are there, and nothing else of them yet."""
    with one_thread():
        return _predict(solved, progress, maps, over_strings)


def _predict(solved: SolvedCase, progress: Progress, maps: bool, over_strings: Callable[[], None]) -> Prediction:
    case = solved.case
    clock = _Clock(progress, len(case.string), build=solved.choice.solver == "solid")
    solved.ahead(clock.stage)
    solution = solved.solution(stage=clock.stage)
    strings, models = zip(*string_records(solved, maps, clock.stage, over_strings), strict=True)
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


class _Clock:
    """Times the stages and tells how far the work is, by what stages usually cost."""

    _WEIGHTS: ClassVar[dict[str, float]] = {"mesh": 1.0, "3-D": 10.0, "magnet": 3.0, "signal": 3.0, "coil": 1.0,
                                            "coupling": 4.0, "answers": 12.0}

    def __init__(self, progress: Progress, strings: int, *, build: bool) -> None:
        self._progress = progress
        self._total = (31.0 if build else 12.0) + 2 * strings  # what its stages add up to
        self._done = 0.0
        self._last = ("", time.perf_counter())
        self.seconds: dict[str, float] = {}

    def stage(self, name: str) -> None:
        now = time.perf_counter()
        before, since = self._last
        if before == name:  # it goes on
            self._progress(name, min(self._done / self._total, 0.99))
            return
        if before:
            key = before.split(" of ")[0].rstrip(" 0123456789").replace(" ", "_")
            self.seconds[key] = self.seconds.get(key, 0.0) + now - since
            self._done += self._WEIGHTS.get(before.split()[0], 1.0)
            self._total = max(self._total, self._done + 1.0)
        self._last = (name, now)
        self._progress(name, 1.0 if not name else min(self._done / self._total, 0.99))
