"""The search on a real pole: a brute-force best, its noise, slopes of the adjoint, whole runs of the command."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import ezdxf
import numpy as np
import pytest

from rigs.cases.envelope import document_of
from stringflux.cases import load_case
from stringflux.cases.cli import main
from stringflux.cases.jobs.prediction import prediction_of
from stringflux.cases.output import figure_files
from stringflux.cases.solved.numerics import SHIPPED, Numerics
from stringflux.cases.solved.solve import solved_case
from stringflux.cases.studies.shape import study as shape_study
from stringflux.cases.studies.shape.command import ShapeOptions, run
from stringflux.cases.studies.shape.forms import Form, make_form
from stringflux.cases.studies.shape.limits import Making
from stringflux.cases.studies.shape.model import ShapeModel
from stringflux.cases.studies.shape.numerics import SearchNumerics
from stringflux.cases.studies.shape.search import ShapeSearch
from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.mesh.pole import Quality
from stringflux.postprocess.string.numerics import StringNumerics
from stringflux.postprocess.study_figures.shape import Look
from stringflux.solver.row.numerics import RowNumerics

HASTY = SearchNumerics(rounds=1, noise_steps=5, scan=3, fine=0.02)
"""One round, few looks: enough for one hollow."""
COARSE = Numerics(mesh=Quality(divisions=2.0, growth=0.5, far=5.0))
"""For all that is compared alike."""
NOISE = 1e-3  # most of a goal's range that its scatter may be


def form(name: str, points: int = 6) -> Form:
    return make_form(name, load_case("bench-single").pole[0], controls=points, deepest=2e-3, widest=6e-3,
                     soft=lambda m: "steel" in m, cap="steel-1008")


def model(of: Form, *goals: str, adjoint: bool = False, numerics: Numerics = SHIPPED) -> ShapeModel:
    return ShapeModel(case=load_case("bench-single"), form=of, poles=(1,), quality="draft", base=of.start,
                      goals=goals, adjoint=adjoint, numerics=numerics)


@pytest.mark.slow
def test_best_width_of_a_bevel_by_brute_force() -> None:
    """A bevel 1.1 mm deep: its width with most output lies inside the range, and the goal is smooth there."""
    bevel = form("bevel")
    width = replace(bevel.parameters[1], low=0.1e-3, high=0.7e-3, start=0.4e-3)
    one = replace(bevel, parameters=(width,), build=lambda p: bevel.build(np.array([1.1e-3, p[0]])))
    search = ShapeSearch(model(one, "output", numerics=COARSE), Making(), numerics=HASTY)
    best = search.best(search.start)
    widths = np.linspace(width.low, width.high, 6)
    output = np.array([search.model.values(np.array([w]))["output"] for w in widths])
    top = int(np.argmax(output))
    assert 0 < top < widths.size - 1
    assert best.moved["output"] >= output[top]
    # three points round the best make a parabola, whose top is the best within a tenth of their distance
    a, b, c = np.polyfit(widths[top - 1:top + 2] - widths[top], output[top - 1:top + 2] / output[top], 2)
    assert best.p[0] == pytest.approx(widths[top] - b / (2 * a), abs=0.15 * (widths[1] - widths[0]))
    assert best.moved["output"] / output[top] == pytest.approx(c - b**2 / (4 * a), abs=1e-5)
    assert abs(best.remeshing["output"]) < 1e-3  # the draft mesh itself is good to 7e-4


def test_slopes_of_the_adjoint_of_a_profile() -> None:
    """The chain from a spline's heights to the adjoint's points, against central differences on the same mesh."""
    profile = form("profile", points=4)
    p = np.array([-0.3e-3, -0.1e-3, -0.2e-3, -0.6e-3])
    m = replace(model(profile, "output", "inductance", adjoint=True), base=p + 0.1e-3)
    values, slopes = m.values_and_slopes(p)
    h = 5e-6
    e = h * np.array([0.3, -1.0, 0.5, 0.8])
    up, down = m.values(p + e), m.values(p - e)
    for goal in m.goals:
        assert up[goal] - down[goal] == pytest.approx(2 * slopes[goal] @ e, rel=1e-3)
    # the same chain by another way to the fields, on another mesh: draft meshes differ by less than 7e-4
    assert values["output"] == pytest.approx(model(profile, "output").rebased(p).values(p)["output"], rel=2e-3)


@pytest.mark.slow
def test_an_adjoint_that_cannot_follow_the_settings_is_not_asked() -> None:
    """Its orders and passes are fixed; slopes then come from differences."""
    profile = form("profile", points=4)
    at = np.full(4, -0.1e-3)
    for numerics, adjoints in ((SHIPPED, 1), (Numerics(row=RowNumerics(orders=2)), 0),
                               (Numerics(string=StringNumerics(passes=1)), 0)):
        m = replace(model(profile, "output", adjoint=True, numerics=replace(numerics, mesh=COARSE.mesh)), base=at)
        m.values_and_slopes(at)
        assert m.counts["adjoints"] == adjoints


@pytest.mark.slow
def test_command_writes_a_case_that_keeps_its_promise(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "found"
    run(ShapeOptions(which="bench-single", form="dome", goals="aperture", quality="draft", deepest="1mm",
                     out=str(out), json=True), COARSE, HASTY)
    read = document_of(capsys.readouterr().out, "shape")
    told = read["result"]
    (design,) = told["designs"]
    assert {p.name for p in out.iterdir()} == set(read["files"])
    (rise,) = [q["value"] for q in design["lengths"] if q["name"] == "rise of the dome"]
    assert rise / 0.05e-3 == pytest.approx(round(rise / 0.05e-3), abs=1e-9)
    assert design["made"]["depth"] <= 1e-3 * (1 + 1e-6)
    assert design["kept"]
    assert design["turned"]["depth"] == pytest.approx(rise)
    # the new case, loaded and computed by the main job, gives what was promised
    case = load_case(out / "case.toml")
    assert case.pole[0].part[0].tip.shape == "domed"
    assert "# no inner_length: a round coil" in (out / "case.toml").read_text()  # the person's remarks stay
    found = prediction_of(solved_case(case, "draft", numerics=COARSE), maps=False)
    assert found.strings[0].sensitivity == pytest.approx(design["figures"]["output"], rel=1e-6)
    assert found.strings[0].gap == pytest.approx(2.5e-3, abs=1e-9)
    # steps of the lathe (here from a rise of 0.02 mm to 0.05), and then a mesh of its own: each is little
    promised, got = design["found"]["aperture"], design["figures"]["aperture"]
    turned = model(form("dome"), "aperture", numerics=COARSE).values(np.array([rise]))["aperture"]
    assert turned == pytest.approx(promised, rel=2e-3)
    assert design["by_curve"]["aperture"] == pytest.approx(turned, rel=2e-3)
    assert got == pytest.approx(turned, rel=2e-3)
    drawing = ezdxf.readfile(out / "profile.dxf")
    assert drawing.units == ezdxf.units.MM
    outline, = drawing.modelspace().query("LWPOLYLINE[layer=='OUTLINE']")
    assert outline.closed
    points = np.array([(x, y) for x, y, *_ in outline.get_points()])
    assert points == pytest.approx(1e3 * np.array(case.placed_poles()[0].shape.parts[0].outline), abs=1e-9)
    assert len(drawing.modelspace().query("LINE[layer=='AXIS']")) == 1
    rows = (out / "profile.csv").read_text().splitlines()
    assert rows[0] == "point,r mm,diameter mm,depth mm"
    assert rows[-1].split(",")[1] == "2.4"
    assert 0 < told["noise"]["aperture"]["share"] < NOISE


def test_command_makes_a_front(monkeypatch: pytest.MonkeyPatch, tmp_path: Path,
                               capsys: pytest.CaptureFixture[str]) -> None:
    """Longer magnets give more output, shorter ones cost less. Output is a law here, √length: nothing is solved."""

    def values(self: ShapeModel, p: Array, names: object = None) -> dict[str, float]:
        return {"output": float(np.sqrt(p[0])), "magnet": float(p[0])}

    def slopes(self: ShapeModel, p: Array) -> tuple[dict[str, float], dict[str, Array]]:
        return values(self, p), {"output": 0.5 / np.sqrt(p), "magnet": np.ones(1)}

    def looked(case: Case, poles: object, quality: str, name: str, numerics: object,
               goals: object) -> tuple[dict[str, float], dict[str, float], Look]:
        length = np.array([case.pole[0].part[0].length])
        some = np.linspace(1e-3, 2e-3, 3)
        look = Look(name=name, shape=case.placed_poles()[0].shape, height=some, field=some, gap=some, output=some)
        return {"output": float(np.sqrt(length[0])), "magnet": float(length[0])}, {}, look

    monkeypatch.setattr(ShapeModel, "values", values)
    monkeypatch.setattr(ShapeModel, "values_and_slopes", slopes)
    monkeypatch.setattr(shape_study, "_looked", looked)
    monkeypatch.setattr(figure_files, "save_figure", lambda figure, *paths: [path.touch() for path in paths])
    out = tmp_path / "front"
    assert main(["shape", "bench-single", "--form", "length", "--for", "output,magnet", "--front", "4", "--out",
                 str(out)]) == 0
    capsys.readouterr()
    read = document_of((out / "shape.json").read_text(encoding="utf-8"), "shape")
    assert {p.name for p in out.iterdir()} == set(read["files"])
    lengths = [load_case(out / f"{i}-case.toml").pole[0].part[0].length for i in (1, 2, 3, 4)]
    # ends of the range, 1.4 and 0.5 of the magnet's 17 mm, and ceilings evenly between: whole steps of 0.05 mm
    assert lengths == pytest.approx([23.8e-3, 18.7e-3, 13.6e-3, 8.5e-3], abs=1e-9)
    assert (out / "front.csv").read_text().count("\n") == 5


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["bench-single", "--for", "outptu"], ("--for", "output")),
        (["bench-single", "--for", "output,output"], ("two different",)),
        (["bench-single", "--form", "doom"], ("--form", "dome")),
        (["lap-steel-eight"], ("--pole", "1, 2, 3, 4; 5, 6, 7, 8")),
        (["lap-steel-eight", "--pole", "4,5"], ("not made alike",)),
        (["lap-steel-eight", "--pole", "9"], ("poles 1 to 8",)),
        (["lap-steel-eight", "--pole", "x"], ("--pole", "1,2,3")),
        (["bench-single", "--form", "dome", "--deepest", "3"], ("--deepest", "unit")),
        (["bench-single", "--form", "dome", "--deepest", "40mm"], ("--deepest", "20 mm")),
        (["bench-single", "--least-volume", "1cm^3", "--form", "dome"], ("making limits",)),
        (["bench-single", "--least-volume", "2 mm"], ("--least-volume", "volume")),
        (["bench-single", "--form", "cap", "--cap", "alnico-5"], ("--cap", "no soft steel")),
        (["bench-single", "--form", "cap", "--cap", "steel-1009"], ("--cap", "steel-1008")),
        (["bench-single", "--quality", "best"], ("--quality",)),
    ],
)
def test_bad_input_is_one_sentence(arguments: list[str], words: tuple[str, ...],
                                   capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["shape", *arguments]) == 2
    told = capsys.readouterr().err.strip().splitlines()[-1]
    assert all(word in told for word in words), told
