"""The pictures of a results folder, as the contents of their files. A copy of this process draws about half of them.

What it draws needs no gmsh, which outlives no copy. Of bodies made of pieces the drawing to scale and the scene do.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING

from stringflux.geometry.case.model import Case
from stringflux.geometry.shapes.pieces import Shaped
from stringflux.postprocess.results.prediction import Prediction
from stringflux.solver.aside import Ready

from .figure_files import figure_contents

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_DRAWING, _SCENE = "drawing", "scene"


@dataclass(frozen=True, kw_only=True)
class Pictures:
    """Contents of files by their names, and why one of them cannot be made here."""

    files: Mapping[str, bytes]
    missing: str | None = None


Drawer = Ready[Prediction, Pictures]


def drawer(case: Case) -> Drawer:
    """What draws the half of a prediction's pictures that can be drawn by a copy; it begins with what it can now."""
    half = _Half(case)
    return Ready(half.prepare, half.of)


def pictures(case: Case, prediction: Prediction, drawn: Drawer,
             progress: Callable[[str, float], None] = lambda stage, share: None) -> Pictures:
    """All pictures of a prediction, the other half of them drawn by `drawn`."""
    progress("figures", 0.1)
    there = drawn(prediction)
    names = _there(case)
    makers = {name: make for name, make in _makers(case, prediction).items() if name not in names}
    files = _contents(makers)
    progress("3-D picture", 0.7)
    mine = Pictures(files={}) if _SCENE in names else _scene(case, prediction)
    theirs = there()
    return Pictures(files={**files, **mine.files, **theirs.files}, missing=mine.missing or theirs.missing)


class _Half:
    """What a copy draws."""

    def __init__(self, case: Case) -> None:
        self._case, self._names = case, _there(case)
        self._drawing: dict[str, bytes] = {}

    def prepare(self) -> None:
        """Load what takes long to load, and draw what does not need the prediction."""
        from stringflux.postprocess.drawings.scene import load_renderer
        from stringflux.postprocess.figures import balance, fields, linkage  # noqa: F401 - with all that they load

        if _SCENE in self._names:
            load_renderer()
        self._drawing = _contents({name: _to_scale(self._case) for name in self._names if name == _DRAWING})

    def of(self, prediction: Prediction) -> Pictures:
        """The scene first, which takes longest."""
        scene = _scene(self._case, prediction) if _SCENE in self._names else Pictures(files={})
        makers = {name: make for name, make in _makers(self._case, prediction).items()
                  if name in self._names and not (name == _DRAWING and self._drawing)}
        return Pictures(files={**self._drawing, **scene.files, **_contents(makers)}, missing=scene.missing)


def _there(case: Case) -> frozenset[str]:
    """Names of the pictures that a copy draws: what takes it as long as this process takes for the others."""
    if any(isinstance(body.form, Shaped) for body in case.solid_bodies()):
        return frozenset({"fields", "linkage"})
    return frozenset({_DRAWING, _SCENE, "linkage"})


def _contents(makers: Mapping[str, Callable[[], Figure]]) -> dict[str, bytes]:
    return {f"{name}.{kind}": content for name, make in makers.items()
            for kind, content in figure_contents(make(), "png", "svg").items()}


def _makers(case: Case, prediction: Prediction) -> dict[str, Callable[[], Figure]]:
    return {_DRAWING: _to_scale(case), **prediction.figure_makers()}


def _to_scale(case: Case) -> Callable[[], Figure]:
    def make() -> Figure:
        from stringflux.postprocess.drawings.to_scale import drawing

        return drawing(case)

    return make


def _scene(case: Case, prediction: Prediction) -> Pictures:
    from stringflux.postprocess.drawings.scene import write_scene

    content = BytesIO()
    missing = write_scene(case, prediction.strings, prediction.section, content)
    return Pictures(files={} if missing else {f"{_SCENE}.png": content.getvalue()}, missing=missing)
