"""Figures: they build for 1, 6 and 12 strings, stay on their canvas, and say their units."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from dataclasses import replace

import matplotlib
import numpy as np
import pytest
from matplotlib import pyplot
from matplotlib.figure import Figure
from matplotlib.text import Text

from stringflux.cases.files.load import load_case, shipped_cases
from stringflux.cases.jobs.prediction import predict
from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import InputError
from stringflux.geometry.notes import pitch_words
from stringflux.postprocess.drawings import scene
from stringflux.postprocess.drawings.to_scale import drawing
from stringflux.postprocess.figures.balance import balance_figure
from stringflux.postprocess.figures.fields import ALONG, fields_figure
from stringflux.postprocess.figures.linkage import linkage_figure
from stringflux.postprocess.figures.material import material_figure
from stringflux.postprocess.figures.section import outline_edges, patch_of, section_figure, window_of
from stringflux.postprocess.figures.style import house_style, legible
from stringflux.postprocess.results.prediction import Prediction
from stringflux.solver.materials import find_material

pytestmark = pytest.mark.usefixtures("shared_solutions")

UNIT = re.compile(r"\((mm|mT|T|mT/A|µWb|nWb|dB|kA/m|k?Oe|kG|1|mV per m/s)(; 1 mT = 10 G)?\)|in mm|^pole$")


@pytest.fixture(scope="module")
def bench() -> tuple[Case, Prediction]:
    case = load_case("bench-single")
    return case, predict(case, quality="draft")


def with_strings(one: Prediction, count: int) -> Prediction:
    """The only string and pole of a prediction repeated along a row, a little weaker every time."""
    string, pole = one.strings[0], one.poles[0]
    strings, poles = [], []
    for i in range(count):
        y, down = 10e-3 * i, 0.93**i
        poles.append(replace(pole, number=i + 1, y=y))
        strings.append(replace(
            string, number=i + 1, pole=i + 1, y=y, pitch=82.407 * 2 ** (5 * i / 12), wound=i < count / 2,
            sensitivity=down * string.sensitivity, map_linkage=down * string.map_linkage,
            linkage=down * string.linkage, sensitivity_offset=down * string.sensitivity_offset,
            line_bias=down * string.line_bias, balance=20 * np.log10(down),
            balance_band=(20 * np.log10(down) - 1, 20 * np.log10(down) + 0.7), balance_force=-0.3 * i,
            balance_displacement=-0.5 * (count - 1 - i)))
    return replace(one, poles=tuple(poles), strings=tuple(strings))


def visible_texts(fig: Figure) -> Iterator[Text]:
    for text in fig.findobj(Text):
        if text.get_visible() and text.get_text().strip():
            yield text


def check_inside(fig: Figure) -> None:
    """Everything that is drawn lies on the canvas."""
    fig.draw_without_rendering()
    box, (width, height) = fig.get_tightbbox(), fig.get_size_inches()
    assert box.x0 >= -0.01
    assert box.y0 >= -0.01
    assert box.x1 <= width + 0.01
    assert box.y1 <= height + 0.01


def check_units(fig: Figure) -> None:
    """Every axis label ends in its unit."""
    labels = [label for ax in fig.axes for label in (ax.get_xlabel(), ax.get_ylabel()) if label]
    assert labels
    assert all(UNIT.search(label) for label in labels), labels


def check_apart(texts: list[Text]) -> None:
    """No two texts cover each other (a pixel is allowed)."""
    boxes = [t.get_window_extent() for t in texts]
    for i, a in enumerate(boxes):
        for j in range(i):
            b = boxes[j]
            over = min(a.x1, b.x1) - max(a.x0, b.x0), min(a.y1, b.y1) - max(a.y0, b.y0)
            assert min(over) < 1.0, (texts[i].get_text(), texts[j].get_text())


@pytest.mark.parametrize("count", [1, 6, 12])
def test_figures_of_strings(bench: tuple[Case, Prediction], count: int) -> None:
    many = with_strings(bench[1], count)
    with house_style():
        fields, linkage = fields_figure(many.strings, many.section), linkage_figure(many.strings)
        balance = balance_figure(many.strings)
    for fig in (fields, linkage, balance):
        check_inside(fig)
        check_units(fig)
    labels = [t for ax in balance.axes for t in ax.get_xticklabels() if t.get_text() and t.get_visible()]
    check_apart(labels[-count:])
    check_apart(list(fields.axes[0].texts))
    check_apart(list(linkage.axes[3].texts))


def test_all_figures(bench: tuple[Case, Prediction]) -> None:
    before = dict(matplotlib.rcParams)
    made = bench[1].figures()
    assert list(made) == ["section", "fields", "linkage", "balance"]
    check_inside(made["section"])
    check_units(made["section"])
    assert dict(matplotlib.rcParams) == before  # the caller's settings stay


PANELS = ("balance", "balance_force", "balance_displacement", "sensitivity", "faces", "bias", "bias_along",
          "reciprocal", "reciprocal_along", "steel", "linkage", "linkage_across", "offset", "section")


@pytest.mark.slow
@pytest.mark.parametrize("what", PANELS)
def test_a_panel_on_axes_of_ones_own(bench: tuple[Case, Prediction], what: str) -> None:
    fig = Figure(figsize=(6.4, 6.4), layout="compressed" if what == "section" else "constrained")
    ax = fig.subplots()
    many = with_strings(bench[1], 6)
    assert many.plot(ax, what) is ax
    check_inside(fig)
    check_units(fig)
    a_line_a_string = what in (*ALONG, "linkage", "linkage_across", "offset")
    assert (ax.get_legend() is not None) == a_line_a_string


def test_a_panel_on_a_new_figure(bench: tuple[Case, Prediction]) -> None:
    before = dict(matplotlib.rcParams)
    ax = bench[1].plot()
    assert pyplot.get_fignums()  # a notebook shows it
    pyplot.close(ax.figure)
    assert dict(matplotlib.rcParams) == before


def test_bars_are_the_record(bench: tuple[Case, Prediction]) -> None:
    many = with_strings(bench[1], 3)
    heights = [bar.get_height() for bar in many.plot(Figure().subplots(), "sensitivity").patches]
    assert heights == pytest.approx([1e3 * s.sensitivity for s in many.strings])
    heights = [bar.get_height() for bar in many.plot(Figure().subplots(), "faces").patches]
    assert heights == pytest.approx([1e3 * p.field for p in many.poles])


def test_a_panel_that_is_not_there(bench: tuple[Case, Prediction]) -> None:
    one = bench[1]
    bare = replace(one, strings=(replace(one.strings[0], map_linkage=np.zeros((0, 0))),), poles=(), section=None)
    for record, what, words in (
        (one, "nought", 'what: received "nought"; write balance, balance_force'),
        (one, "slice", 'what: received "slice", but a row of poles has none'),
        (bare, "linkage", 'what: received "linkage", but the maps are not computed'),
        (bare, "faces", 'what: received "faces", but this pickup has no poles'),
    ):
        with pytest.raises(InputError, match=words):
            record.plot(what=what)


def test_without_maps_there_is_no_linkage_figure(bench: tuple[Case, Prediction]) -> None:
    one = bench[1]
    bare = replace(one, strings=(replace(one.strings[0], map_linkage=np.zeros((0, 0))),))
    assert "linkage" not in bare.figures()


@pytest.mark.parametrize("name", shipped_cases())
def test_drawing(name: str) -> None:
    fig = drawing(load_case(name))
    check_inside(fig)
    for ax in fig.axes:
        check_apart([t for t in ax.texts if t.get_text()])
    # to scale: as many mm per inch across as up
    for ax in fig.axes:
        size = ax.get_position()
        w, h = fig.get_size_inches()
        assert np.ptp(ax.get_xlim()) / (size.width * w) == pytest.approx(np.ptp(ax.get_ylim()) / (size.height * h))


@pytest.mark.parametrize("name", ["alnico-5", "ndfeb-38", "steel-1008", "string-steel", "string-bronze", "air"])
def test_material(name: str) -> None:
    fig = material_figure(find_material(name))
    check_inside(fig)
    check_units(fig)
    assert name in [t.get_text() for t in visible_texts(fig)]


def test_the_picture_is_the_same_every_time(bench: tuple[Case, Prediction]) -> None:
    def svg() -> str:
        out = io.StringIO()
        with matplotlib.rc_context({"svg.hashsalt": "stringflux"}), house_style():
            fig = section_figure(bench[1].section, bench[1].poles[0], bench[1].strings)
            fig.savefig(out, format="svg", metadata={"Date": None})
        return out.getvalue()

    assert svg() == svg()


def test_refined_section_keeps_the_flux(bench: tuple[Case, Prediction]) -> None:
    section = bench[1].section
    window = window_of(section)
    rod = patch_of(section, 0, window)
    assert rod is not None
    inside = section.triangles[:, section.region == 0]
    # the refined cubic meets the solved values; between them it may bulge a little
    assert np.abs(rod.flux).max() == pytest.approx(np.abs(section.flux[inside]).max(), rel=0.02)
    edges = section.points[:, outline_edges(section)]
    length = np.hypot(*(edges[:, 0] - edges[:, 1])).sum()
    assert length == pytest.approx(17e-3 + 2 * 2.4e-3, rel=1e-6)  # side, face and bottom of the rod


def test_words_and_places(bench: tuple[Case, Prediction]) -> None:
    assert [pitch_words(f) for f in (82.407, 440.0, 61.735, 277.18, 100.0)] == ["E2", "A4", "B1", "C#4", "100.0 Hz"]
    assert [legible(v) for v in (-3.14159, 0.01234, 12345.0)] == ["−3.14", "0.0123", "12345"]
    assert bench[1].strings[0].diameter == pytest.approx(0.017 * 25.4e-3)


def test_scene_is_written_or_says_why(bench: tuple[Case, Prediction], tmp_path, monkeypatch) -> None:
    target = tmp_path / "scene.png"
    case, found = bench
    said = scene.write_scene(case, found.strings, found.section, target)
    assert (said is None) == target.exists()
    if said is None:
        assert matplotlib.image.imread(target).std() > 0.02  # something is on it

    def broken(*asked: object) -> None:
        raise RuntimeError("no context")

    with monkeypatch.context() as patch:
        patch.setattr(scene, "why_no_renderer", lambda: None)
        patch.setattr(scene, "_plotter", broken)
        assert "failed (no context)" in (scene.write_scene(case, found.strings, found.section, target) or "")
        scene.load_renderer()  # says nothing: who draws does

    def none(name: str) -> None:
        raise OSError(name)

    monkeypatch.setattr(scene.ctypes, "CDLL", none)
    monkeypatch.delenv("DISPLAY", raising=False)
    assert "libegl1" in (scene.write_scene(case, found.strings, found.section, tmp_path / "no.png") or "")
    assert not (tmp_path / "no.png").exists()
