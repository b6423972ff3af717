"""The pictures are the same whoever draws them, and a copy of this process draws none that needs gmsh."""

from __future__ import annotations

import os
import sys

import pytest

from stringflux.cases import load_case
from stringflux.cases.jobs.prediction import predict
from stringflux.cases.output import pictures as module
from stringflux.cases.output.figure_files import figure_contents
from stringflux.cases.output.pictures import Pictures, drawer, pictures
from stringflux.geometry.kernel import session
from stringflux.postprocess.drawings.scene import load_renderer, why_no_renderer
from stringflux.postprocess.results.prediction import Prediction
from stringflux.solver.aside import allow

pytestmark = pytest.mark.usefixtures("shared_solutions")

CASES = ["bench-single", "stacked-six", "chisel-tip"]


def found(name: str) -> Prediction:
    return predict(load_case(name), quality="draft")


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="processes are copied on Linux alone")
@pytest.mark.parametrize("name", CASES[:2])
def test_a_copy_draws_the_same(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    case, prediction = load_case(name), found(name)
    alone = pictures(case, prediction, drawer(case))
    monkeypatch.setattr(os, "sched_getaffinity", lambda pid: {0, 1})
    allow()
    try:
        ready = drawer(case)
        monkeypatch.setattr(module, "_scene", never)  # here; the copy has its own
        beside = pictures(case, prediction, ready)
    finally:
        allow(False)
    assert beside.missing == alone.missing == why_no_renderer()
    assert set(beside.files) == set(alone.files)
    assert [name for name in alone.files if beside.files[name] != alone.files[name]] == []


def all_names(made: Pictures) -> set[str]:
    return {name.partition(".")[0] for name in made.files}


def never(*args: object) -> Pictures:
    raise AssertionError("drawn here")


@pytest.mark.slow
@pytest.mark.parametrize("name", CASES)
def test_a_copy_needs_no_gmsh(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    case, prediction = load_case(name), found(name)

    def refuse(*args: object, **more: object) -> None:
        raise AssertionError("gmsh")

    monkeypatch.setattr(session, "gmsh_model", refuse)
    for loaded in list(sys.modules.values()):
        if loaded is not None and "gmsh_model" in getattr(loaded, "__dict__", {}):
            monkeypatch.setattr(loaded, "gmsh_model", refuse)
    half = module._Half(case)
    half.prepare()
    assert all_names(half.of(prediction)) >= module._there(case) - {"scene"}


def test_a_layout_found_without_drawing_is_the_one_that_drawing_finds() -> None:
    makers = found("bench-single").figure_makers()
    for make in makers.values():
        drawn = make()
        drawn.draw_without_rendering()
        figure_contents(laid := make(), "svg")
        assert [ax.get_position().bounds for ax in laid.axes] == [ax.get_position().bounds for ax in drawn.axes]


def test_a_renderer_can_be_loaded_twice() -> None:
    load_renderer()
    load_renderer()
