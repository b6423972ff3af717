# ruff: noqa: E501  (a table of sentences reads best one to a line)
"""Bodies of a case: what they become, what they may not cut, and the sentence for each fault."""

from __future__ import annotations

import math
from typing import Any

import pytest

from rigs.cases.case_data import BUILD, DROP, USES, changed
from rigs.cases.strings_at_rest import faces_below, gaps, poles, undersides
from stringflux.geometry import Case, CaseError, read_case
from stringflux.geometry.case.bodies import DIRECTIONS
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.shapes.bodies import Box, Cover, Cylinder, Revolved
from stringflux.geometry.shapes.magnet_state import MagnetState

BOX: dict[str, Any] = {"shape": "box", "material": "steel-1008", "along": "3 mm", "across": "62 mm", "height": "12 mm"}
BLADE: dict[str, Any] = {
    "title": "blade",
    "body": [
        BOX | {"name": "blade", "top": "1.6 mm"},
        BOX | {"name": "bar", "material": "alnico-5", "along": "10 mm", "height": "5 mm", "top": "-10.4 mm", "magnetised": "up"},
    ],
    "coil": {"inner_width": "4 mm", "inner_length": "66 mm", "outer_width": "13 mm", "bottom": "-9.6 mm", "top": "-1 mm",
             "turns": 5000, "wire": "42 AWG"},
    "strings": {"scale": "25.5 in", "spacing": "10 mm", "gap": "2.5 mm"},
    "string": [{"gauge": "0.017 in", "pitch": "G3"}, {"gauge": "0.013 in", "pitch": "B3"}],
}  # fmt: skip
MORE = {"shape": "box", "material": "brass", "along": "4 mm", "across": "4 mm", "height": "4 mm", "bottom": "-30 mm"}


def build(changes: dict[str, Any] | None = None) -> Case:
    return read_case(changed(changes or {}, BUILD), materials=USES)


def blade(changes: dict[str, Any] | None = None, *more: dict[str, Any]) -> Case:
    data = changed(changes or {}, BLADE)
    data["body"] += more
    return read_case(data, materials=USES)


def test_forms() -> None:
    bodies = {body.name: body for body in build().solid_bodies()}
    bar, rod, cover, plate = bodies["bar"], bodies["body 2"], bodies["cover"], bodies["plate"]
    assert isinstance(bar.form, Box)
    assert bar.form.low == pytest.approx((-1e-3, -20e-3, -14e-3))
    assert bar.form.high == pytest.approx((1e-3, 20e-3, -10e-3))
    assert (bar.axis, bar.polarity) == ((1.0, 0.0, 0.0), 1)
    assert bar.state == MagnetState(charge=0.95, coercivity=0.9, remanence=0.97)
    assert rod.form == Cylinder(base=(20e-3, -14e-3, -10.5e-3), along=1, length=30e-3, radius=1.5e-3)
    assert rod.axis == pytest.approx((math.sqrt(0.5), 0, math.sqrt(0.5)))
    assert isinstance(cover.form, Cover)
    assert (cover.form.wall, cover.form.high) == (0.4e-3, pytest.approx((22e-3, 22e-3, 1.7e-3)))
    assert (cover.magnetisation, plate.magnetisation) == (None, None)


@pytest.mark.parametrize(
    ("lies", "along", "low", "high"),
    [
        ("upright", 2, (-1.5, -1.5, -40), (1.5, 1.5, -20)),
        ("along the strings", 0, (-10, -1.5, -40), (10, 1.5, -37)),
        ("across the strings", 1, (-1.5, -10, -40), (1.5, 10, -37)),
    ],
)
def test_cylinders_lie_where_they_are_said_to(lies: str, along: int, low: Any, high: Any) -> None:
    rod = {"shape": "cylinder", "material": "brass", "diameter": "3 mm", "length": "20 mm", "bottom": "-40 mm"}
    form = blade({}, rod | {"lies": lies}).own_bodies()[-1].form
    assert isinstance(form, Cylinder)
    assert form.along == along
    for found, wanted in zip(form.bounds, (low, high), strict=True):
        assert found == pytest.approx([v * 1e-3 for v in wanted])


@pytest.mark.parametrize("word", DIRECTIONS)
def test_words_and_numbers_of_a_direction_are_the_same(word: str) -> None:
    by_word = blade({"body.1.magnetised": word}).own_bodies()[1]
    by_numbers = blade({"body.1.magnetised": [3 * v for v in DIRECTIONS[word]]}).own_bodies()[1]
    assert by_word.axis == by_numbers.axis == DIRECTIONS[word]


def test_poles_come_first_and_count_on_through_the_rows() -> None:
    bodies = build().solid_bodies()
    assert [b.name for b in bodies[:4]] == [f"pole {n}, part 1" for n in (1, 2, 3, 4)]
    assert [b.name for b in bodies[4:]] == ["bar", "body 2", "cover", "plate"]
    forms = [b.form for b in bodies[:4]]
    assert all(isinstance(f, Revolved) for f in forms)
    assert [f.x for f in forms if isinstance(f, Revolved)] == pytest.approx([-9e-3, -9e-3, 9e-3, 9e-3])
    assert [f.y for f in forms if isinstance(f, Revolved)] == pytest.approx([-10e-3, 10e-3, -10e-3, 10e-3])
    assert [b.axis for b in bodies[:4]] == [(0, 0, 1), (0, 0, 1), (0, 0, -1), (0, 0, 1)]
    assert [b.polarity for b in bodies[:4]] == [0, 0, 1, 0]
    assert [b.form.bounds[1][2] for b in bodies[:4]] == pytest.approx([1e-3, 1e-3, 1e-3, 1.2e-3])
    assert [b.form.bounds[0][2] for b in bodies[:4]] == pytest.approx([-15e-3] * 4)


def test_gaps_over_a_blade() -> None:
    case = blade()
    assert not case.is_plain_row
    assert faces_below(case) == pytest.approx([1.6e-3] * 2)
    assert undersides(case) == pytest.approx([4.1e-3] * 2)
    assert case.placed_poles() == case.rows() == ()
    assert poles(case) == [0, 0]


def test_a_gap_counts_where_the_blade_stands() -> None:
    # 9 mm towards the bridge a string that rises by 1 degree is 0.157 mm higher than at x = 0
    away = {"body.0.centre": ["9 mm", "0 mm"], "body.1.centre": ["9 mm", "0 mm"], "coil.x": "9 mm"}
    case = blade({**away, "strings.plane_angle": "1 deg"})
    rise = math.tan(math.radians(1)) * 9e-3
    assert undersides(case) == pytest.approx([4.1e-3 - rise] * 2)
    assert gaps(case) == pytest.approx([2.5e-3] * 2)
    assert placed_strings(case)[0].shape.axis_height == pytest.approx(4.1e-3 - rise + 0.0085 * 0.0254)


def test_only_what_is_magnetic_makes_a_gap() -> None:
    lid = MORE | {"along": "60 mm", "across": "64 mm", "height": "0.4 mm", "bottom": "2 mm"}
    assert faces_below(blade({}, lid)) == pytest.approx([1.6e-3] * 2)
    assert faces_below(blade({}, lid | {"material": "steel-1008"})) == pytest.approx([2.4e-3] * 2)
    own = {"materials": {"weak": {"kind": "constant permeability", "permeability": 1}}}
    assert faces_below(blade(own, lid | {"material": "weak"})) == pytest.approx([1.6e-3] * 2)


def test_a_plain_row_is_told_from_the_rest() -> None:
    plain = changed({"body": DROP, "second_coil": DROP, "connection": DROP, "row.x": DROP, "coil.x": DROP}, BUILD)
    assert read_case(plain, materials=USES).is_plain_row
    assert not read_case(changed({"row.x": "1 mm"}, plain), materials=USES).is_plain_row
    assert not read_case(changed({"coil.x": "0.2 mm"}, plain), materials=USES).is_plain_row
    assert not read_case(plain | {"body": [MORE]}, materials=USES).is_plain_row
    assert not build().is_plain_row


def test_dump_in_si_reads_back() -> None:
    for case in (build(), blade()):
        again = Case.model_validate(case.model_dump(), context={"si": True})
        assert again == case
    assert "row" not in blade().model_dump()


FAULTS: list[tuple[str, dict[str, Any], str]] = [
    ("shape", {"body.0.shape": "ball"}, 'body 1: received "ball"; write one of "box", "cylinder", "cover"'),
    ("no shape", {"body.0.shape": DROP}, "body 1: shape is missing"),
    ("key of another shape", {"body.0.wall": "1 mm"}, 'body 1: "wall" is not a key here'),
    ("no height", {"body.0.top": DROP}, "body 1, bottom: it is missing; write the height of its underside over the top plate, or top"),
    ("two heights", {"body.0.bottom": "-13 mm"}, "body 1, top: received together with bottom; keep one of them"),
    ("lies", {"body.1.lies": "flat"}, 'body 2, lies: received "flat"; write "upright", "along the strings" or'),
    ("size", {"body.0.along": "0 mm"}, 'body 1, along: received "0 mm"; write a length from 0.05 mm'),
    ("centre", {"body.1.centre": ["1 mm"]}, "body 2, centre 2: it is missing"),
    ("centre as a text", {"body.1.centre": "1 mm"}, 'body 2, centre: received "1 mm"; write a list'),
    ("thick wall", {"body.2.wall": "19 mm"}, "body 3, wall: received 19 mm, which leaves nothing hollow in height 18 mm"),
    ("wall of half the width", {"body.2.along": "0.8 mm"}, "body 3, wall: received 0.4 mm, which leaves nothing hollow in along 0.8 mm"),
    ("direction", {"body.0.magnetised": "left"}, 'body 1, magnetised: received "left"; write one of "up", "down", "to +x"'),
    ("direction of two", {"body.1.magnetised": [1, 0]}, "body 2, magnetised: received a list that is not three numbers"),
    ("direction of words", {"body.1.magnetised": [1, "0", 0]}, "body 2, magnetised: received a list that is not three numbers"),
    ("direction of nan", {"body.1.magnetised": [1, float("nan"), 0]}, "body 2, magnetised: received a list that is not three"),
    ("no direction", {"body.1.magnetised": [0, 0, 0]}, "body 2, magnetised: received [0, 0, 0], which points nowhere"),
    ("magnet with no axis", {"body.0.magnetised": DROP}, 'body 1, magnetised: a magnet with no axis; "alnico-5" is a magnet, so write where its north end points'),
    ("steel with an axis", {"body.3.magnetised": "up"}, 'body 4, magnetised: received "up", but "steel-1008" is no magnet; drop magnetised'),
    ("sheet metal with an axis", {"body.2.magnetised": "up"}, 'but "nickel-silver" is no magnet; drop magnetised'),
    ("charge of steel", {"body.3.charge": 0.5}, 'body 4, charge: received 0.5, but "steel-1008" is no magnet; drop charge'),
    ("coercivity of sheet", {"body.2.coercivity_scale": 0.9}, "body 3, coercivity_scale: received 0.9, but"),
    ("unknown material", {"body.2.material": "bras"}, 'body 3, material: received "bras", which is no known material (did you mean "brass"?)'),
    ("string steel", {"body.2.material": "string-steel"}, 'body 3, material: received "string-steel", which is no material of a body'),
    ("pole of brass", {"pole.0.part.0.material": "brass"}, 'pole 1, part 1, material: received "brass", which is no magnet or soft steel'),
    ("name twice", {"body.2.name": "bar"}, 'body 3, name: "bar" is the name of body 1 too; give each its own'),
    ("name of another's number", {"body.2.name": "body 2"}, 'body 3, name: "body 2" is the name of body 2 too'),
    ("name of a pole", {"body.2.name": "pole 1, part 1"}, "is the name of pole 1, part 1 too"),
    ("empty name", {"body.0.name": ""}, "body 1, name: received a text that is too short; write at least 1"),
    ("body in a body", {"body.0.height": "8 mm"}, 'body "plate" runs into body "bar"; move one of them, or make one smaller (they may touch)'),
    ("unnamed body", {"body.1.centre": ["21 mm", "0 mm"]}, 'body "cover" runs into body 2; move one of them'),
    ("pole through a plate", {"body.3.bottom": "-15.5 mm", "body.2.height": "16 mm"}, 'body "plate" runs into pole 1 part 1; end the pole on the plate, at -14.5 mm, or move the plate'),
    ("pole through a bar", {"body.0.along": "14 mm"}, 'body "bar" runs into pole 1 part 1; end the pole on the plate, at -10 mm'),
    ("pole in a block", {"body.0.along": "14 mm", "body.0.height": "15 mm"}, 'body "bar" runs into pole 1 part 1; end the pole on the body, or move one of them'),
    ("rows in one another", {"second_coil.0.row.x": "-9 mm"}, "pole 3 part 1 runs into pole 1 part 1; move one of the rows along the strings by its x"),
    ("winding in a body", {"body.0.top": "-9 mm", "body.0.along": "6 mm"}, 'coil "first": its winding runs into body "bar"; make inner_width or inner_length larger, or move one of them clear'),
    ("string in a body", {"body.2.top": "3.42 mm"}, 'string 1, gap: the string runs into body "cover", which reaches from -14.58 mm to 3.42 mm; raise the string or lower the body'),
    ("no row", {"row": DROP}, "row: it is missing; say where the poles stand, or drop pole"),
    ("no pole", {"pole": DROP}, "pole: it is missing; say how the poles of [row] are made, or drop the row"),
    ("forty-one bodies", {"body": [MORE] * 41}, "body: received more than 40 items; write at most 40"),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "says"), [f[1:] for f in FAULTS], ids=[f[0] for f in FAULTS])
def test_sentence(changes: dict[str, Any], says: str) -> None:
    with pytest.raises(CaseError) as caught:
        build(changes)
    message = str(caught.value)
    assert says in message
    assert "\n" not in message
    assert len(message) < 500


def test_nothing_under_a_string() -> None:
    with pytest.raises(CaseError, match=r"^string 1, position: no pole and no magnetic body lies under it; bring it over one"):
        blade({"strings.spacing": "80 mm"})


def test_linear_magnet_of_a_body_has_no_coercivity() -> None:
    own = {"materials": {"own": {"kind": "linear magnet", "remanence": "1 T", "recoil_permeability": 1.1}}}
    with pytest.raises(CaseError, match=r"body 2, coercivity_scale: received 0\.9, but .own. is a linear magnet"):
        blade({**own, "body.1.material": "own", "body.1.coercivity_scale": 0.9})


def test_names_are_taken_on_trust_without_a_list() -> None:
    assert read_case(changed({"body.0.material": "something"}, BUILD)).own_bodies()[0].material == "something"
