"""Time of a shape's value and gradient, and how smooth the value is, for the benchmark."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable

import numpy as np
from rich.table import Table

from stringflux.cases.files.load import load_case
from stringflux.cases.solved.materials import case_materials
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.postprocess.shape.checks import noise
from stringflux.postprocess.shape.problem import ShapeProblem, shape_problem
from stringflux.postprocess.string.layers import layers_of
from stringflux.solver.shape.morph import profile_morph

CASES = ("bench-single", "baritone-six", "bass-four")
POINTS = (10, 50)
RUNS = 7
_REACH = 0.05e-3  # m


def first_pole_problem(name: str, points: int, quality: str = "normal") -> ShapeProblem:
    """The first string of a shipped case over its pole, whose upper profile has so many control points."""
    case = load_case(name)
    materials = case_materials(case)
    places, first = case.placed_poles(), placed_strings(case)[0]
    string, shape = first.shape, places[first.pole - 1].shape
    morph = profile_morph(shape, QUALITIES[quality], np.linspace(0.0, shape.parts[0].radius, points))
    return shape_problem(places, case.racetrack(), materials, [string], [layers_of(string, materials)], morph=morph,
                         history=case.history, quality=QUALITIES[quality])


def shape_table() -> Table:
    """Processor times of value and of value plus gradient, medians; the limit is twice the value."""
    table = Table(title="shape of a pole: S of one string and its gradient, the whole row coupled")
    for head in ("case", "control points", "unknowns", "value ms", "value + gradient ms", "ratio", "noise / range"):
        table.add_column(head, justify="left" if head == "case" else "right")
    for name in CASES:
        for points in POINTS:
            problem = first_pole_problem(name, points)
            alone, both = _times(problem)
            scatter = noise(problem, np.zeros(points), _wave(points), reach=_REACH, count=11).share
            unknowns = problem.cells[problem.changing[0]].section.unknowns
            table.add_row(name, str(points), str(unknowns), f"{1e3 * alone:.0f}", f"{1e3 * both:.0f}",
                          f"{both / alone:.2f}", f"{scatter:.1e}")
    return table


def _times(problem: ShapeProblem) -> tuple[float, float]:
    """Seconds of processor time, the two measured in turns so that other work on the machine hits both."""
    p = _REACH * _wave(problem.morph.count)
    problem.value(p)
    values, gradients = [], []
    for _ in range(RUNS):
        values.append(_seconds(lambda: problem.value(p)))
        gradients.append(_seconds(lambda: problem.value_and_gradient(p)))
    return statistics.median(values), statistics.median(gradients)


def _seconds(job: Callable[[], object]) -> float:
    start = time.process_time()
    job()
    return time.process_time() - start


def _wave(points: int) -> np.ndarray:
    """A shape that no symmetry spares, smooth for any number of points."""
    return np.asarray(np.cos(4.0 * np.linspace(0.0, 1.0, points)))
