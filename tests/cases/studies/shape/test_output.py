"""What a search for a shape tells: a point of a front once, and a gain only where it is more than the noise."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from stringflux.cases import load_case
from stringflux.cases.studies.shape.output import _gains
from stringflux.cases.studies.shape.result import ShapeStudy
from stringflux.cases.studies.shape.search import Best, GoalNoise, Round
from stringflux.cases.studies.shape.study import told_apart

QUIET = {"output": GoalNoise(scatter=1e-5, range=1e-2), "inductance": GoalNoise(scatter=1e-4, range=0.1)}


def design(output: float, inductance: float, anew: float = 0.0) -> Any:
    """A shape of these figures; a mesh of its own changes both by `anew`."""
    ended = {"output": output, "inductance": inductance}
    meshed = {n: (1 + anew) * v for n, v in ended.items()}
    best = Best(p=np.zeros(1), moved=ended, meshed=meshed, held=False,
                rounds=(Round(began=ended, ended=ended, meshed=meshed, steps=1, message=""),))
    return SimpleNamespace(best=best, figures=ended)


def study(*designs: Any) -> Any:
    asked: Any = SimpleNamespace(goals=("output", "inductance"))
    other: Any = None
    return ShapeStudy(case=load_case("bench-single"), quality="draft", asked=asked, poles=(1,),
                      form=other, before={"output": 0.060, "inductance": 2.0}, look=other,
                      designs=designs, noise=QUIET, solves=0, adjoints=0)


def test_one_point_found_three_times_is_told_once() -> None:
    found = [design(0.0610, 2.0), design(0.061005, 2.00005), design(0.060995, 1.99995)]
    assert told_apart(found, QUIET) == found[:1]


def test_points_that_differ_in_one_goal_are_told_apart() -> None:
    found = [design(0.0610, 2.0), design(0.061005, 1.99), design(0.0600, 1.99)]
    assert told_apart(found, QUIET) == found
    rough = [design(0.0610, 2.0, anew=0.01), design(0.061005, 1.99, anew=0.01)]
    assert told_apart(rough, QUIET) == rough[:1]


@pytest.mark.parametrize(("output", "anew", "gained", "said"), [
    (0.0630, 0.0, True, "output S +5 %"),
    (0.060005, 0.0, False, "output S none, +0.0083 % is under the noise of 0.017 %"),
    (0.0606, 0.02, False, "output S none, +1 % is under the noise of 2 %"),
    (0.0590, 0.0, False, "output S -1.67 %, which is no gain"),
])
def test_a_gain_under_the_noise_is_none(output: float, anew: float, gained: bool, said: str) -> None:
    found = design(output, 2.0, anew)
    asked = study(found)
    assert asked.gained(found, "output") is gained
    assert _gains(asked, found).split("; ")[0] == said
    assert _gains(asked, found).split("; ")[1].startswith("inductance none")
