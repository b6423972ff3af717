"""The field in a plane through a pickup, with what its strings add."""

from __future__ import annotations

from collections.abc import Callable

from stringflux.geometry.errors import InputError
from stringflux.geometry.units import shown
from stringflux.postprocess.pictures.plane import added_by, lines_of
from stringflux.postprocess.results.each import numbered
from stringflux.postprocess.results.picture import FieldPicture
from stringflux.postprocess.results.prediction import Prediction

from ..solved.abstract import SolvedCase
from ..solved.solve_row import one_thread

PLANES = ("along", "side")


def picture_of(solved: SolvedCase, plane: str, string: int, prediction: Callable[..., Prediction]) -> FieldPicture:
    """Of :meth:`..pickup.Pickup.picture`; `prediction` gives what is known of the strings."""
    if plane not in PLANES:
        raise InputError(f"plane: received {shown(plane)}; write {', '.join(PLANES)}")
    place = numbered(string, solved.strings)
    with one_thread():
        found = solved.plane(plane, place)
        lines, step = lines_of(found)
        return FieldPicture(
            plane=found.plane, at=found.at, u=found.u, z=found.z, b=found.b, inside=found.inside, names=found.names,
            strings=added_by(found, solved.strings, prediction(maps=False).strings), lines=lines, step=step,
            per_metre=any(not s.round for s in found.sources), endless=found.endless)
