"""Strings whose levels are a formula, and the balance of a case with them in place of its pickup."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from stringflux.cases.files.load import built_in_uses
from stringflux.cases.studies.balance.levels import Curve, Measured
from stringflux.cases.studies.balance.problem import BalanceRequest, SettingProblem, balance_problem
from stringflux.cases.studies.balance.result import Balanced
from stringflux.cases.studies.balance.study import balanced
from stringflux.geometry.case.model import Case
from stringflux.geometry.reading.read import read_case

MM = 1e-3


def written(document: dict[str, Any]) -> Case:
    """The case of a file with that content."""
    return read_case(document, materials=built_in_uses())


class Formula:
    """Strings whose level falls by a few dB/mm with their gap, and by less with the pole's place in the coil.

    level_i = l_i − s_i gap_i + c_i gap_i² − t (face_own(i)) + u Σ_neighbours face,     pull_i = p_i exp(−gap_i/1 mm)
    """

    def __init__(self, problem: SettingProblem, start: Sequence[float], *, coil: float = 0.6, neighbour: float = 0.05,
                 pull: Sequence[float] | None = None) -> None:
        self.problem, self.start, self.coil, self.neighbour = problem, np.array(start), coil, neighbour
        n = self.start.size
        self.slope, self.bend = np.linspace(2.4, 3.0, n), np.linspace(0.1, 0.15, n)
        self.strength = None if pull is None else np.array(pull)
        self.gap0, self.asked = problem.gaps_at(np.zeros(len(problem.unknowns))) / MM, 0

    def own(self, i: int, gap: float) -> float:
        g = gap / MM
        return float(self.start[i] - self.slope[i] * (g - self.gap0[i]) + self.bend[i] * (g - self.gap0[i]) ** 2)

    def measure(self, faces: np.ndarray[Any, Any], lows: np.ndarray[Any, Any]) -> Measured:
        self.asked += 1
        gaps, moved = lows - faces[self.problem.own], (faces - self.problem.faces) / MM
        beside = np.convolve(moved, [1.0, 0.0, 1.0], mode="same") if moved.size > 2 else 0 * moved
        level = [self.own(i, g) - self.coil * moved[j] + self.neighbour * beside[j]
                 for i, (g, j) in enumerate(zip(gaps, self.problem.own, strict=True))]
        cents = None if self.strength is None else -np.outer(self.strength * np.exp(-gaps / MM), [0.2, 1.0])
        return Measured(level=np.array(level), cents=cents)

    def curves(self, faces: np.ndarray[Any, Any], lows: np.ndarray[Any, Any]) -> list[Curve]:
        def curve(i: int, gap: float) -> Curve:
            def slope(g: float) -> float:
                return float((-self.slope[i] + 2 * self.bend[i] * (g / MM - self.gap0[i])) / MM)

            def pull(g: float) -> float:
                return float(self.strength[i] * math.exp(-g / MM)) if self.strength is not None else 0.0

            return Curve(low=gap - 1.7 * MM, high=gap + 4 * MM, level=lambda g: self.own(i, g), slope=slope,
                         pull=None if self.strength is None else pull)

        return [curve(i, float(g)) for i, g in enumerate(lows - faces[self.problem.own])]


def solved(document: dict[str, Any], start: Sequence[float], request: BalanceRequest, **more: Any) -> Balanced:
    case = written(document)
    problem = balance_problem(case, request)
    return balanced(problem, Formula(problem, start, **more), case)
