"""What a search for a shape draws is what it found."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from rigs.cases.drawn import drawn, line_of
from stringflux.cases import load_case
from stringflux.cases.studies.shape.result import ShapeRequest, ShapeStudy
from stringflux.geometry.errors import InputError
from stringflux.postprocess.study_figures.shape import Look

CASE = load_case("bench-single")


def look(name: str, strength: float) -> Look:
    height, gap = np.linspace(0.3e-3, 6e-3, 13), np.linspace(1e-3, 4e-3, 7)
    return Look(name=name, shape=CASE.placed_poles()[0].shape, height=height, gap=gap,
                field=-strength * 0.1 * np.exp(-height / 3e-3), output=strength * 0.1 * np.exp(-gap / 2e-3))


def study(*goals: str) -> ShapeStudy:
    """Two designs with one goal or two; what is drawn of them is a formula."""
    designs: Any = tuple(
        SimpleNamespace(look=look("after", 1 + i / 10), shape=look("", 1.0).shape,
                        figures={"output": 0.06 + i / 100, "inductance": 2.0 + i})
        for i in (1, 2)[:len(goals)])
    form: Any = None
    return ShapeStudy(case=CASE, quality="draft", asked=ShapeRequest(form="length", goals=goals), poles=(1,),
                      form=form, before={"output": 0.06, "inductance": 2.0}, before_by_curve={},
                      look=look("before", 1.0), designs=designs, noise={}, solves=0, adjoints=0)


def test_before_and_after() -> None:
    found = study("output", "inductance")
    for what, scale, mark in (("output", 1e3, "S, mV per m/s"), ("field", 1e3, "field on the axis, mT")):
        ax = drawn(found, what, design=2)
        assert ax.get_ylabel() == mark
        for line, shown in ((0, found.look), (1, found.designs[1].look)):
            x, y = (shown.gap, shown.output) if what == "output" else (shown.height, np.abs(shown.field))
            assert np.interp(1e3 * x, *line_of(ax, line)) == pytest.approx(scale * y, rel=1e-3)
    rest = line_of(drawn(found, "output"), 2)[0][0]
    assert rest == pytest.approx(1e3 * found.rest_gap)
    radius, _ = line_of(drawn(found, "tip"))
    assert max(radius) == pytest.approx(1e3 * found.look.shape.radius)
    assert drawn(found, "tip").get_ylabel() == "z from the face, mm"


def test_front() -> None:
    found = study("output", "inductance")
    ax = drawn(found, "front")
    assert np.transpose(line_of(ax)) == pytest.approx(np.array([[70.0, 3.0], [80.0, 4.0]]))
    assert np.transpose(line_of(ax, 1)) == pytest.approx(np.array([[60.0, 2.0]]))
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("output S, mV per m/s", "inductance, H")
    with pytest.raises(InputError, match='what: received "front", but one goal has none'):
        study("output").plot(what="front")


def test_figures_by_the_names_of_the_files() -> None:
    made = study("output", "inductance").figures()
    assert list(made) == ["1-drawing", "1-before-after", "2-drawing", "2-before-after", "front"]
    for fig in made.values():
        fig.draw_without_rendering()
    assert list(study("output").figures()) == ["drawing", "before-after"]


def test_what_there_is_not() -> None:
    with pytest.raises(InputError, match="design: received 3; there are 1 to 2"):
        study("output", "inductance").plot(design=3)
    with pytest.raises(InputError, match='what: received "nought"; write tip, field, output'):
        study("output").plot(what="nought")
