"""What a search for a shape tells: a point of a front once, and a gain only where it is more than the noise."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from stringflux.cases import load_case, solve
from stringflux.cases.files.load import read_content
from stringflux.cases.solved.numerics import SHIPPED
from stringflux.cases.studies.shape.bodies.subject import BodySubject
from stringflux.cases.studies.shape.output import _by_curve, _gains
from stringflux.cases.studies.shape.result import ShapeRequest, ShapeStudy
from stringflux.cases.studies.shape.search import Best, GoalNoise, Round
from stringflux.cases.studies.shape.study import RowSubject, told_apart
from stringflux.cases.studies.shape.varied import read_varied

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
                      form=other, before={"output": 0.060, "inductance": 2.0},
                      before_by_curve={"output": 0.066}, look=other,
                      designs=designs, noise=QUIET, solves=0, adjoints=0)


@pytest.mark.parametrize(("case", "alone", "beside"), [
    ("bench-single", "", ""), ("baritone-six", ", each string alone,", " and the other strings beside each")])
def test_what_the_search_went_by_stands_beside_what_is_told(case: str, alone: str, beside: str) -> None:
    """Of output alone: inductance is the same both ways."""
    found = design(0.0630, 2.1), design(0.0640, 2.2)
    for one, by_curve in zip(found, (0.0695, 0.0710), strict=True):
        one.by_curve = {"output": by_curve}
    assert _by_curve(replace(study(*found), case=load_case(case))) == [
        f"The search went by output S on the static curve of the strings' steel{alone} from 66 to 69.5, 71 mV per "
        f"m/s; with what the steel remembers{beside}, as predict tells it, that is from 60 to 63, 64 mV per m/s."]


@pytest.mark.slow
@pytest.mark.parametrize("name", ["bench-single", "chisel-tip"])
def test_both_are_what_the_program_computes_of_the_case(name: str) -> None:
    """Of one string there is no other beside it."""
    case, content = load_case(name), read_content(name)
    asked = ShapeRequest(form="length") if name == "bench-single" else ShapeRequest(
        form="lengths", body=case.own_bodies()[0].name, varied=read_varied(["height=9mm:11mm"]))
    kind = BodySubject if asked.body else RowSubject
    figures, by_curve, _ = kind(case, "", content, {}, asked, "draft", SHIPPED).looked(case, "before")
    played, curve = (
        solve(load_case(name, {"strings.state": state}), quality="draft").prediction(maps=False).strings[0]
        for state in ("played", "curve"))
    assert by_curve == {"output": pytest.approx(curve.sensitivity, rel=1e-6)}
    assert figures["output"] == pytest.approx(played.sensitivity, rel=1e-6)
    assert abs(figures["output"] / by_curve["output"] - 1) > 0.05


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
