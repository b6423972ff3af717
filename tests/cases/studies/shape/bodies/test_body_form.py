"""Lengths of bodies that a search may vary: which there are, what they make, and what is refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from rigs.cases.shaped_bodies import chisel_file, edge_file
from rigs.source_tree import ROOT
from stringflux.cases import load_case
from stringflux.cases.cli import main
from stringflux.cases.files.load import built_in_uses, read_content
from stringflux.cases.solved.numerics import SHIPPED
from stringflux.cases.studies.shape.bodies.form import chosen_body, make_body_form
from stringflux.cases.studies.shape.bodies.subject import BodySubject
from stringflux.cases.studies.shape.result import ShapeRequest
from stringflux.cases.studies.shape.varied import VariedLength, read_varied
from stringflux.geometry.errors import CaseError
from stringflux.geometry.kernel.solids import exact_volume
from stringflux.geometry.reading.read import read_case
from stringflux.geometry.units import mm


def test_an_edge_has_the_heights_of_its_upper_corners(tmp_path: Path) -> None:
    case = load_case(edge_file(tmp_path))
    form = make_body_form(case, 0, "edge", (), 1e-3)
    assert form.keys == ("outline.2.2", "outline.3.2", "outline.4.2")
    assert form.start.tolist() == form.high.tolist() == [1.5e-3] * 3
    assert form.low == pytest.approx([0.5e-3] * 3)
    lower = np.array([1.5e-3, 1.0e-3, 1.5e-3])
    # two triangles of half a millimetre by 10 mm are gone from each half of the side
    assert form.volume(form.start) - form.volume(lower) == pytest.approx(0.5e-3 * 10e-3 * 3e-3, rel=1e-9)
    assert form.volume(lower) == exact_volume(form.body(lower).form)
    assert form.depth(lower) == pytest.approx(0.5e-3)
    assert form.read(form.made(lower)).tolist() == lower.tolist()


def test_lengths_are_read_from_their_words(tmp_path: Path) -> None:
    (one,) = read_varied(["tip_along=0.5mm:3 mm"])
    assert one == VariedLength(key="tip_along", low=0.5e-3, high=3e-3)
    form = make_body_form(load_case(chisel_file(tmp_path)), 0, "lengths", (one,), 1e-3)
    assert form.start.tolist() == [2e-3]
    assert form.bends(form.start).size == 0
    assert form.turned(np.array([1.234e-3]), 0.05e-3)[0] == pytest.approx([1.25e-3])


def test_a_body_from_a_file_is_found_from_anywhere(tmp_path: Path) -> None:
    """Its path is written against the folder of its case; the new case lies elsewhere."""
    beside = tmp_path / "mine"
    beside.mkdir()
    (beside / "blade.dxf").write_bytes((ROOT / "docs" / "forms" / "blade.dxf").read_bytes())
    text = chisel_file(tmp_path).read_text(encoding="utf-8")
    first, last = text.index("[[body]]"), text.index("[[body]]", text.index("[[body]]") + 1)
    filed = '''[[body]]
file = "blade.dxf"
unit = "mm"
name = "blade"
material = "steel-1008"
lies = "along the strings"
length = "4 mm"
top = "1.5 mm"

'''
    wide = text[last:].replace('inner_length = "10 mm"', 'inner_length = "64 mm"').replace(
        'bottom = "-9.6 mm"', 'bottom = "-9 mm"')
    path = beside / "case.toml"
    path.write_text(text[:first] + filed + wide, encoding="utf-8")
    asked = ShapeRequest(form="lengths", body="blade", varied=read_varied(["length=3mm:5mm"]))
    subject = BodySubject(load_case(path), path.read_text(encoding="utf-8"), read_content(path), {}, asked, "draft",
                          SHIPPED)
    made, case = subject.changed(np.array([4.5e-3]), (), "found")
    elsewhere = tmp_path / "new.toml"
    elsewhere.write_text(made, encoding="utf-8")
    assert load_case(elsewhere).own_bodies()[0] == case.own_bodies()[0]
    assert np.diff([corner[0] for corner in case.own_bodies()[0].form.bounds]) == pytest.approx(4.5e-3)


CHISEL = ("--body", "chisel")


@pytest.mark.parametrize(("arguments", "words"), [
    (("--body", "chisle", "--vary", "tip_along=1mm:2mm"), ('"chisle"', "did you mean", "chisel")),
    ((*CHISEL, "--vary", "tip_along=2mm"), ("--vary: received", "tip_along=0.5mm:3mm")),
    ((*CHISEL, "--vary", "tip_along=3mm:2mm"), ("--vary tip_along", "leaves no room")),
    ((*CHISEL, "--vary", "tip_along=1:2"), ("--vary tip_along", "unit")),
    ((*CHISEL, "--vary", "tip_wide=1mm:2mm"), ('"tip_wide" is no length that "chisel" has',)),
    ((*CHISEL, "--vary", "tip_along=1mm:9mm"), ("--vary tip_along: with 9 mm there is no such case", "foot")),
    ((*CHISEL, "--vary", "height=11mm:14.4mm"), ("--vary height: chisel hangs from its top", "write bottom")),
    ((*CHISEL, "--form", "dome"), ('--form: received "dome", which is no form of a body', "edge")),
    ((*CHISEL, "--form", "edge"), ("--form edge: it is of a prism that lies",)),
    ((*CHISEL, "--vary", "tip_along=1mm:2mm", "--for", "unevenness"), ("unevenness is of several strings",)),
    ((*CHISEL, "--vary", "tip_along=1mm:2mm", "--for", "magnet"), ("--for: magnet", "that is no magnet")),
    ((*CHISEL, "--vary", "tip_along=1mm:2mm", "--pole", "1"), ("--pole: received together with --body",)),
    (("--vary", "tip_along=1mm:2mm"), ("shape takes one row of poles", "--body")),
])
def test_what_cannot_be_is_one_sentence(tmp_path: Path, capsys: pytest.CaptureFixture[str],
                                        arguments: tuple[str, ...], words: tuple[str, ...]) -> None:
    assert main(["shape", str(chisel_file(tmp_path)), "--quality", "draft", *arguments]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    for word in words:
        assert word in said


def test_a_part_of_a_pole_is_refused_with_what_to_write_and_that_is_taken() -> None:
    """The same wedge in the pole and as a body: one is refused, and the other, which is told, is the same steel."""
    wedge = {"shape": "wedge", "material": "steel-1008", "along": "4 mm", "across": "4 mm", "height": "12 mm",
             "tip_along": "1 mm", "tip_height": "3 mm"}
    standing = read_case({**read_content("bench-single"), "pole": [{"part": [wedge]}]}, materials=built_in_uses())
    (face,) = standing.row.faces()
    content = {k: v for k, v in read_content("bench-single").items() if k not in ("row", "pole")}
    body = read_case({**content, "body": [{**wedge, "name": "tip", "top": mm(face)}],
                      "strings": {**content["strings"], "spacing": "10 mm"}}, materials=built_in_uses())
    assert chosen_body(body, "tip") == 0
    assert body.own_bodies()[0].form == standing.rows()[0].bodies()[0].form
    for name in ("pole 1", "wedge"):
        with pytest.raises(CaseError, match=r"parts of poles are not shaped where they stand; write the part as a "):
            chosen_body(standing, name)
    both = standing.model_copy(update={"body": body.body})
    assert chosen_body(both, "tip") == 0
    with pytest.raises(CaseError, match="not shaped where they stand"):
        chosen_body(both, "pole 1")
    with pytest.raises(CaseError, match="names no body"):
        chosen_body(both, "wedge")
