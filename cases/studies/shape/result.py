"""What a search for a shape is asked and has found, and how it is drawn."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError, InputError
from stringflux.geometry.shapes.profiles import Edge
from stringflux.geometry.shapes.row import PoleShape
from stringflux.geometry.units import mm
from stringflux.postprocess.results.each import numbered
from stringflux.postprocess.study_figures.shape import Look
from stringflux.postprocess.study_figures.shaped_body import BodyLook

from .goals import GOALS, check_goals, strings_over
from .limits import MadeShape, Making
from .search import Best, GoalNoise, LengthsKind
from .varied import VariedLength

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True, kw_only=True)
class ShapeRequest:
    """What shape is looked for.

    Attributes
    ----------
    form : str
        "profile", "bevel", "dome", "cup", "diameter", "length" or "cap"; of a body "edge" or "lengths".
    goals : tuple of str
        One or two of "output", "aperture", "pull", "inductance", "magnet", of a body also "unevenness".
    body : str
        Name or number of the item of `body` that is shaped; empty for poles of a row.
    varied : tuple of VariedLength
        Its lengths, for the form "lengths"; "edge" has its own.
    poles : tuple of int
        Numbers; empty for all, if they are made alike.
    points, front : int
        Control points of a profile; points of a front of two goals.
    making : Making
        Limits of the workshop.
    cap : str
        Material of a cap where there is none.
    """

    form: str = "profile"
    goals: tuple[str, ...] = ("output",)
    body: str = ""
    varied: tuple[VariedLength, ...] = ()
    poles: tuple[int, ...] = ()
    points: int = 6
    front: int = 5
    making: Making = field(default_factory=Making)
    cap: str = "steel-1008"

    def __post_init__(self) -> None:
        check_goals(self.goals)
        if not 3 <= self.front <= 25:
            raise CaseError(f"front: received {self.front}; write 3 to 25 points")


@dataclass(frozen=True, kw_only=True, eq=False)
class ShapeDesign:
    """A shape as it can be turned, and the case with it.

    Attributes
    ----------
    best : Best
        What the search found, before the lathe's steps.
    lengths : dict
        By name, whole steps of the lathe, m.
    edge : sequence of (float, float)
        Upper surface as turned, highest point at 0, m.
    made, turned : Made
        Of the curve that was found, and as turned (the radius is the curve's).
    kept : bool
        Whether the turned shape keeps the limits too.
    figures : dict
        All figures of the new case, computed afresh as `stringflux predict` does, SI.
    by_curve : dict
        Goals of :data:`.goals.BY_CURVE` of the new case as the search computes them, SI.
    text : str
        The new case file.
    look : Look
    """

    best: Best
    lengths: dict[str, float]
    edge: Edge
    made: MadeShape
    turned: MadeShape
    kept: bool
    figures: dict[str, float]
    by_curve: dict[str, float]
    text: str
    look: Look | BodyLook

    @property
    def shape(self) -> PoleShape:
        """The turned pole, its face at z = 0.

        Raises
        ------
        InputError
            Of a body, which is no pole.
        """
        if isinstance(self.look, BodyLook):
            raise InputError("shape: a body that was shaped is no pole; it stands in the text of the new case")
        return self.look.shape


@dataclass(frozen=True, kw_only=True, eq=False)
class ShapeStudy:
    """All of a search: figures before (and what the search goes by of them), designs from the best of goal 1 to that
    of goal 2, noise of the goals, and how many points of the front came out again and are not among the designs."""

    case: Case
    quality: str
    asked: ShapeRequest
    poles: tuple[int, ...]
    form: LengthsKind
    before: dict[str, float]
    before_by_curve: dict[str, float]
    look: Look | BodyLook
    designs: tuple[ShapeDesign, ...]
    noise: dict[str, GoalNoise]
    solves: int
    adjoints: int
    fitted: int = 0  # shapes in the fit that the front was searched in
    repeated: int = 0

    def gained(self, design: ShapeDesign, goal: str) -> bool:
        """Whether a goal changed by more than its doubt, and the wanted way."""
        change = -GOALS[goal].sign * (design.figures[goal] - self.before[goal])
        return change > doubt(design, self.noise, goal)

    @property
    def points(self) -> Array:
        """Both goals of every design of a front (n, 2), in the units that people read."""
        return np.array([[d.figures[n] / GOALS[n].size for n in self.asked.goals] for d in self.designs])

    def plot(self, ax: Axes | None = None, what: str = "output", *, design: int = 1) -> Axes:
        """Draw the "tip", the "field" over it or the "output" against the gap, before and after; or the "front". Of a
        body draw its "side", its "end" or the "output" of every string.

        Parameters
        ----------
        ax : Axes, optional
            A new figure's if left out.
        design : int
            Whose tip, field and output, from 1; a front has several.

        Raises
        ------
        InputError
            For another panel or design, or a front of one goal.
        """
        from stringflux.postprocess.figures.panel import panel
        from stringflux.postprocess.study_figures import shape, shaped_body

        looks = [self.look, numbered(design, self.designs, "design").look]
        if bodies := [look for look in looks if isinstance(look, BodyLook)]:
            panels = {"side": lambda ax: shaped_body.side(ax, bodies), "end": lambda ax: shaped_body.end(ax, bodies),
                      "output": lambda ax: shaped_body.outputs(ax, bodies)}
        else:
            poles = [look for look in looks if isinstance(look, Look)]
            panels = {"tip": lambda ax: shape.tips(ax, poles), "field": lambda ax: shape.fields(ax, poles),
                      "output": lambda ax: shape.outputs(ax, poles, self.rest_gap)}
        if len(self.asked.goals) == 2:
            panels["front"] = lambda ax: shape.front(ax, self.points, self._names, self._before, self._better)
        return panel(ax, panels, what, {"front": "but one goal has none"})

    def figures(self) -> dict[str, Figure]:
        """The figures that `stringflux shape` writes, by the names of its files.

        Returns
        -------
        dict of str to Figure
            "drawing", to scale, of poles, and "before-after"; of several designs "1-drawing", "1-before-after" … and
            "front".
        """
        from stringflux.postprocess.study_figures.shape import comparison_figure, front_figure, turning_drawing
        from stringflux.postprocess.study_figures.shaped_body import body_figure

        title, several, made = self.case.title or "Untitled case", len(self.designs) > 1, {}
        for i, d in enumerate(self.designs, start=1):
            start, poles = f"{i}-" if several else "", ", ".join(map(str, self.poles))
            changes = ", ".join(
                f"{GOALS[n].title} {shown_figure(n, self.before[n])} → {shown_figure(n, d.figures[n])}"
                for n in self.asked.goals)
            if isinstance(self.look, BodyLook) and isinstance(d.look, BodyLook):
                made[f"{start}before-after"] = body_figure([self.look, d.look], title, changes)
            elif isinstance(self.look, Look) and isinstance(d.look, Look):
                under = f"pole {poles}; mm; points in {start}profile.csv, steps of {mm(self.asked.making.step)}"
                made[f"{start}drawing"] = turning_drawing(d.shape, title, under)
                made[f"{start}before-after"] = comparison_figure([self.look, d.look], title, changes, self.rest_gap)
        if several:
            made["front"] = front_figure(self.points, self._names, self._before, title, self._better)
        return made

    @property
    def rest_gap(self) -> float:
        """Mean gap of the strings over the poles, m."""
        return float(np.mean([s.gap for s in strings_over(self.case, self.poles)]))

    @property
    def _names(self) -> tuple[str, str]:
        a, b = (f"{GOALS[n].title}, {GOALS[n].shown}" for n in self.asked.goals)
        return a, b

    @property
    def _before(self) -> tuple[float, float]:
        a, b = (self.before[n] / GOALS[n].size for n in self.asked.goals)
        return a, b

    @property
    def _better(self) -> tuple[float, float]:
        a, b = (-GOALS[n].sign for n in self.asked.goals)
        return a, b


def doubt(design: ShapeDesign, noise: Mapping[str, GoalNoise], goal: str) -> float:
    """What a goal of a design is not known by, SI: its scatter on one mesh, or what a mesh of its own changes (of a
    fit over such meshes: what it missed), whichever is more."""
    size = 1.0 if GOALS[goal].unit == "dB" else design.figures[goal]
    return max(noise[goal].scatter, abs(design.best.remeshing[goal] * size))


def shown_figure(name: str, value: float, *, unit: bool = True) -> str:
    """A figure in its shown unit."""
    goal = GOALS[name]
    return f"{value / goal.size:.4g}" + (f" {goal.shown}" if unit else "")
