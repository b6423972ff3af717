# ruff: noqa: E501  (a table of sentences reads best one to a line)
"""Bodies of any form in a case: what strings and coils make of them, and the sentence for each fault."""

from __future__ import annotations

from typing import Any

import pytest

from measure.forms import PAGE, read, sections
from rigs.cases.case_data import BUILD, DROP, USES, changed
from rigs.cases.forms import points
from rigs.cases.strings_at_rest import faces_below, gaps
from stringflux.geometry import Case, CaseError, read_case
from stringflux.geometry.reading.read import changed_case
from stringflux.geometry.reading.written import written_case
from stringflux.postprocess.report.inputs import input_tables

WAVY = points((-31, 0), (31, 0), (31, 12), (5, 10), (-5, 11), (-31, 12))
PRISM: dict[str, Any] = {"shape": "prism", "name": "blade", "material": "steel-1008", "lies": "along the strings",
                         "outline": WAVY, "length": "3 mm", "top": "1.6 mm"}  # fmt: skip
BLADE: dict[str, Any] = {
    "title": "blade",
    "body": [PRISM, {"shape": "box", "name": "bar", "material": "alnico-5", "along": "10 mm", "across": "64 mm",
                     "height": "5 mm", "top": "-10.4 mm", "magnetised": "up"}],
    "coil": {"inner_width": "4 mm", "inner_length": "66 mm", "outer_width": "13 mm", "bottom": "-9.6 mm", "top": "-1 mm",
             "turns": 5000, "wire": "42 AWG"},
    "strings": {"scale": "25.5 in", "spacing": "10 mm", "gap": "2.5 mm"},
    "string": [{"gauge": "0.017 in", "pitch": "G3"}, {"gauge": "0.013 in", "pitch": "B3"}],
}  # fmt: skip


BAR: dict[str, Any] = {"shape": "box", "along": "5 mm", "across": "60 mm", "height": "20 mm",
                       **dict.fromkeys(("lies", "outline", "length"), DROP)}  # fmt: skip
REVOLVED: dict[str, Any] = {"shape": "revolved", "length": DROP}
SCREW: dict[str, Any] = {"shape": "screw", "head_diameter": "8 mm", "head_height": "3 mm", "diameter": "4 mm",
                         "length": "12 mm", **dict.fromkeys(("lies", "outline"), DROP)}  # fmt: skip
PLATE: dict[str, Any] = BAR | {"shape": "plate", "along": "10 mm", "height": "2 mm"}
HOLE: dict[str, Any] = {"shape": "cylinder", "diameter": "3 mm", "length": "40 mm", "top": "5 mm"}


def blade(changes: dict[str, Any] | None = None) -> Case:
    return read_case(changed(changes or {}, BLADE), materials=USES)


def test_a_gap_counts_from_the_edge_under_the_string() -> None:
    """Strings at y = ∓5 mm over corners of the blade's edge, 1 and 2 mm under its ends."""
    assert faces_below(blade()) == pytest.approx([0.6e-3, -0.4e-3])
    assert gaps(blade()) == pytest.approx([2.5e-3] * 2)


def test_a_case_is_read_again_as_it_was() -> None:
    case = blade({"body.0.corner": "0.2 mm", "body.0.rotated": [{"about": "z", "by": "0.1 deg"}]})
    again = changed_case(case, {"string.1.gap": "2.4 mm"}, materials=USES)
    assert again.own_bodies() == case.own_bodies()
    assert "rotated" not in blade().model_dump()["body"][0]


def test_a_case_of_every_form_is_written_and_told() -> None:
    """As the content of a file that is read back to the same, and as the tables of a report."""
    screw = {"shape": "screw", "name": "screw", "material": "brass", "head_diameter": "3 mm", "head_height": "1 mm",
             "diameter": "2 mm", "length": "5 mm", "top": "-20 mm", "cut": [HOLE | {"length": "1 mm", "diameter": "0.5 mm", "top": "0 mm"}]}
    case = blade({"body": [dict(PRISM), BLADE["body"][1], screw], "body.0.holes": [points((0, 3), (2, 3), (2, 5))],
                  "body.0.corner": "0.1 mm", "body.0.rotated": [{"about": "z", "by": "0.1 deg"}]})
    again = read_case(written_case(case), materials=USES)
    assert again.own_bodies() == case.own_bodies()
    told = {table.caption: {column.head: column.cells for column in table.columns} for table in input_tables(case)}
    assert "join" not in told["Bodies: screw"]
    assert told["Bodies: prism"]["holes"] == ("[0 mm at 3 mm, 2 mm at 3 mm, 2 mm at 5 mm]",)
    assert told["Bodies: screw"]["cut"] == ("cylinder, centre 0 mm (all 2), top 0 mm, diameter 0.5 mm, length 1 mm, "
                                            "lies upright",)


def test_every_table_of_the_page_is_read_and_drawn() -> None:
    for name, tables in sections(PAGE.read_text(encoding="utf-8")).items():
        assert PAGE.with_suffix("").joinpath(f"{name}.png").exists(), name
        assert f"](forms/{name}.png)" in PAGE.read_text(encoding="utf-8")
        assert all(body.form.thickness > 0 for body in read(tables))


@pytest.mark.parametrize(("changes", "says"), [
    ({"outline": points((0, 0), (1, 0))}, "body 1, outline: received 2 items; write at least 3"),
    ({"outline": points((0, 0), (2, 2), (2, 0), (0, 2))}, "body 1, outline: it crosses or touches itself near [0 mm, 0 mm]; write its points in order round the outline"),
    ({"outline": points((0, 0), (2, 0), (2, 0), (0, 2))}, "body 1, outline: points 2 and 3 are the same; leave one of them out"),
    ({"outline": points((0, 0), (2, 0), (4, 0))}, "body 1, outline: it crosses or touches itself"),
    ({"outline": points((0, 0), (2, 0), (2, 200))}, 'body 1, outline 3 2: received "200 mm"; write a length from -150 mm'),
    ({"corner": "30 mm"}, "body 1, corner: received 30 mm, and the side from point"),
    ({"round_holes": [{"at": ["0 mm", "0 mm"], "diameter": "2 mm"}]}, "body 1, round_holes 1: it does not lie within the outline"),
    ({"round_holes": [{"at": ["0 mm", "5 mm"], "diameter": "2 mm"}, {"at": ["1 mm", "5 mm"], "diameter": "2 mm"}]}, "body 1, round_holes 2: it runs into hole 1; move one of them"),
    ({"holes": [points((0, 2), (1, 2), (0, 20))]}, "body 1, holes 1: it does not lie within the outline"),
    ({"rotated": [{"about": "w", "by": "3 deg"}]}, 'body 1, rotated 1, about: received "w"; write "x", "y" or "z"'),
    ({"rotated": [{"about": "x", "by": "3 mm"}]}, 'body 1, rotated 1, by: received "3 mm"'),
    ({"along": "3 mm"}, 'body 1: "along" is not a key here'),
    (BAR | {"chamfer": "6 mm"}, "body 1, chamfer: received 6 mm, which leaves nothing of a face of the box; write less than 2.5 mm"),
    (BAR | {"chamfer": "1 mm", "chamfered": "lower"}, 'body 1, chamfered: received "lower"; write "upper edges", "upright edges" or "all edges"'),
    (BAR | {"shape": "wedge", "tip_along": "6 mm"}, "body 1, tip_along: received 6 mm, which reaches beyond the foot, 5 mm; write at most 5 mm"),
    (BAR | {"shape": "wedge", "tip_height": "21 mm"}, "body 1, tip_height: received 21 mm, more than height, 20 mm"),
    (REVOLVED | {"outline": points((0, 0), (2, 0), (2, 5))}, "body 1, outline: it touches the axis in one point alone"),
    (REVOLVED | {"outline": points((-1, 0), (2, 0), (2, 5))}, 'body 1, outline 1 1: received "-1 mm"; write a length from 0 mm'),
    (SCREW | {"diameter": "8 mm"}, "body 1, diameter: received 8 mm, which is no less than head_diameter, 8 mm"),
    (SCREW | {"head_height": "20 mm"}, "body 1, head_height: received 20 mm, no less than length, 12 mm"),
    (SCREW | {"head": "dome", "head_height": "5 mm"}, "body 1, head_height: received 5 mm, more than half of head_diameter, 4 mm"),
    (SCREW | {"drive": "slot"}, "body 1, drive_width: it is missing; a slot has both, drive_width and drive_depth"),
    (SCREW | {"drive_depth": "1 mm"}, 'body 1, drive: it is missing; write "slot" or "hex"'),
    (SCREW | {"drive": "hex", "drive_width": "7.5 mm", "drive_depth": "1 mm"}, "body 1, drive_width: received 7.5 mm, which takes the whole head; write less than 6.9"),
    (PLATE | {"screw_holes": [{"at": ["0 mm", "0 mm"], "diameter": "3 mm", "countersunk": "2 mm"}]}, "body 1, screw_holes 1, countersunk: received 2 mm, no more than diameter, 3 mm"),
    (PLATE | {"screw_holes": [{"at": ["0 mm", "0 mm"], "diameter": "3 mm", "countersunk": "8 mm"}]}, "body 1, screw_holes 1, countersunk: received 8 mm, whose cone is deeper than the plate"),
    (PLATE | {"screw_holes": [{"at": ["0 mm", "29 mm"], "diameter": "3 mm"}]}, "body 1, screw_holes 1: it does not lie within the outline"),
    (PLATE | {"corner": "9 mm"}, "body 1, corner: received 9 mm, and the side from point"),
    (BAR | {"cut": [HOLE | {"centre": ["30 mm", "0 mm"]}]}, "body 1, cut 1: it takes nothing away; move it into the body"),
    (BAR | {"cut": [HOLE, HOLE | {"diameter": "90 mm"}]}, "body 1, cut 2: it leaves nothing of the body"),
    (BAR | {"cut": [HOLE | {"shape": "box", "along": "20 mm", "across": "3 mm", "height": "40 mm", "diameter": DROP, "length": DROP}]}, "body 1, cut: the body falls into 2 pieces"),
    (BAR | {"join": [HOLE | {"centre": ["30 mm", "0 mm"]}]}, "body 1, join: its pieces make 2 bodies, as they do not touch"),
    (BAR | {"join": [HOLE | {"bottom": "1 mm"}]}, "body 1, join 1, top: received together with bottom"),
    (BAR | {"cut": [HOLE | {"material": "brass"}]}, 'body 1, cut 1: "material" is not a key here'),
    (BAR | {"cut": [{"shape": "cover"}]}, 'body 1, cut 1: received "cover"; write one of "box", "cylinder", "prism", "revolved", "wedge"'),
])  # fmt: skip
def test_faults(changes: dict[str, Any], says: str) -> None:
    with pytest.raises(CaseError) as error:
        blade({f"body.0.{key}": _kept(value) for key, value in changes.items()})
    assert says in str(error.value)


def _kept(value: Any) -> Any:
    if not isinstance(value, list) or not isinstance(value[0], dict):
        return value
    return [{key: v for key, v in item.items() if v is not DROP} for item in value]


def test_what_runs_into_what() -> None:
    with pytest.raises(CaseError, match='body "bar" runs into body "blade"; move one of them'):
        blade({"body.1.top": "-10.3 mm"})
    with pytest.raises(CaseError, match='coil: its winding runs into body "blade"; make inner_width'):
        blade({"body.0.length": "4.1 mm"})
    with pytest.raises(CaseError, match='string 1, gap: the string runs into body "blade"'):
        blade({"body.0.outline": points((-31, 0), (31, 0), (31, 12), (-4.9, 12), (-4.9, 8), (-31, 8)), "strings.gap": "3.9 mm"})
    holed = changed({"body.3.shape": "prism", "body.3.outline": points((-23, -23), (23, -23), (23, 23), (-23, 23)),
                     "body.3.length": "1 mm"}, BUILD)  # fmt: skip
    for key in ("along", "across", "height"):
        del holed["body"][3][key]
    assert read_case(holed, materials=USES).own_bodies()[3].form.bounds[0][2] == pytest.approx(-17.3e-3)
