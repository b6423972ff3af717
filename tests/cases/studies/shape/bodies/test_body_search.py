"""Bodies shaped on a mesh that follows: how smooth the goals are, and a whole run of the command."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from rigs.cases.shaped_bodies import chisel_file, edge_file
from stringflux.cases import load_case
from stringflux.cases.solved.numerics import Numerics
from stringflux.cases.studies.shape.bodies.form import make_body_form
from stringflux.cases.studies.shape.bodies.model import BodyModel
from stringflux.cases.studies.shape.command import ShapeOptions, run
from stringflux.cases.studies.shape.numerics import SearchNumerics
from stringflux.cases.studies.shape.varied import read_varied
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.mesh.pole import Quality
from stringflux.geometry.mesh.solid_quality import SolidQuality
from stringflux.geometry.shapes.symmetry import Symmetry

HASTY = SearchNumerics(rounds=1, noise_steps=5, scan=3, fine=0.1, iterations=2)
COARSE = Numerics(mesh=Quality(divisions=2.0, growth=0.5, far=5.0),
                  solid=SolidQuality(divisions=2.0, largest=3e-3, tip=1.2e-3, edge=0.6, growth=0.5, far=4.0))
DIFFERENCES = 1e-3  # of the largest slope
NOISE = 1e-3  # of a goal's range, rms from a smooth curve


@pytest.mark.slow
def test_goals_are_smooth_along_a_length(tmp_path: Path) -> None:
    """Eleven values over a third of a chisel's range, on one mesh, against a polynomial of degree 4."""
    case = load_case(chisel_file(tmp_path))
    form = make_body_form(case, 0, "lengths", read_varied(["tip_along=1mm:3mm"]), 1e-3)
    model = BodyModel(case=case, form=form, quality="draft", base=form.start, goals=("output", "aperture"),
                      numerics=COARSE)
    assert model._symmetry == Symmetry(x=True, y=True)
    t = np.linspace(-1, 1, 11)
    values = [model.values(form.start + 0.35e-3 * s) for s in t]
    for name in model.goals:
        y = np.array([v[name] for v in values])
        off = y - np.polynomial.Chebyshev.fit(t, y, 4)(t)
        assert np.std(off) * np.sqrt(11 / 6) < NOISE * np.ptp(y), name


@pytest.mark.slow
def test_slopes_are_those_of_central_differences(tmp_path: Path) -> None:
    """Of the mean S, of unevenness and of every string's level, for every height of an edge."""
    case = load_case(edge_file(tmp_path))
    form = make_body_form(case, 0, "edge", (), 1e-3)
    model = BodyModel(case=case, form=form, quality="draft", base=form.start, goals=("output", "unevenness"),
                      numerics=COARSE)
    assert model.traced
    at = form.start - 0.1e-3 * np.arange(1, form.start.size + 1)
    _, slopes = model.values_and_slopes(at)
    own, sides = model.level_slopes(at), 1e-6 * np.eye(at.size)
    for name in model.goals:
        true = [(model.values(at + h)[name] - model.values(at - h)[name]) / 2e-6 for h in sides]
        assert slopes[name] == pytest.approx(true, abs=DIFFERENCES * np.max(np.abs(true))), name
    true = [(model.levels(at + h) - model.levels(at - h)) / 2e-6 for h in sides]
    assert own == pytest.approx(np.array(true).T, abs=DIFFERENCES * np.max(np.abs(true)))


@pytest.mark.slow
def test_what_the_adjoint_says_is_what_differences_say(tmp_path: Path) -> None:
    """On the main chain, whose answers to strings are told in another way; one-sided differences are good to 1 %."""
    case = load_case(edge_file(tmp_path))
    form = make_body_form(case, 0, "edge", (), 1e-3)
    by_adjoint = BodyModel(case=case, form=form, quality="draft", base=form.start, goals=("output",), numerics=COARSE)
    values, slopes = by_adjoint.values_and_slopes(form.start - 0.1e-3)
    theirs, other = replace(by_adjoint, adjoint=False, known={}, newest={}).values_and_slopes(form.start - 0.1e-3)
    assert values["output"] == pytest.approx(theirs["output"], rel=3e-4)
    assert slopes["output"] == pytest.approx(other["output"], abs=0.01 * float(np.max(np.abs(other["output"]))))


@pytest.mark.slow
def test_a_whole_run_of_an_edge(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two strings are evened out; they stay where they were, and the new case says what was found."""
    out = tmp_path / "shaped"
    options = ShapeOptions(which=str(edge_file(tmp_path)), body="blade", goals="unevenness", quality="draft",
                           out=str(out))
    run(options, replace(COARSE), HASTY)
    said = capsys.readouterr().out
    assert "Edge of blade for unevenness" in said
    assert "Gain: unevenness of the strings -" in said  # in dB, whatever little is left of it
    found = json.loads((out / "shape.json").read_text(encoding="utf-8"))["result"]
    (design,) = found["designs"]
    assert found["body"] == "blade"
    assert found["poles"] == []
    assert design["found"]["unevenness"] < 0.01  # dB: two strings over three corners are level at once
    assert design["figures"]["unevenness"] < 0.3 * found["before"]["unevenness"]
    assert {p.name for p in out.iterdir()} == {"shape.json", "case.toml", "before-after.png", "before-after.svg"}
    before, after = (placed_strings(load_case(path)) for path in (edge_file(tmp_path), out / "case.toml"))
    assert [s.underside for s in after] == pytest.approx([s.underside for s in before], abs=1e-9)
    outline = load_case(out / "case.toml").body[0].outline  # type: ignore[union-attr]
    assert [z for _, z in outline[1:4]] == pytest.approx([one["value"] for one in design["lengths"]], abs=1e-9)
    assert min(z for _, z in outline[1:4]) < 1.4e-3
