# ruff: noqa: E501  (a table of sentences reads best one to a line)
"""Every rule of a case has one sentence: where, what was received, what would do."""

from __future__ import annotations

from typing import Any

import pytest

from rigs.cases.case_data import DROP, FULL, USES, changed
from stringflux.geometry import CaseError, read_case

ROD: dict[str, Any] = {
    "material": "alnico-5",
    "diameter": "4.8 mm",
    "length": "15 mm",
    "polarity": "north up",
}
SCREW = FULL["pole"][0]["part"][0]


def tip(**keys: Any) -> dict[str, Any]:
    return {"pole.1.part.0.tip": keys}


def points(*pairs: tuple[str, str]) -> dict[str, Any]:
    return tip(shape="polyline", points=[list(p) for p in pairs])


CURVE = "materials.own-curve.points"
TABLE = "materials.own-table.points"

FAULTS: list[tuple[str, dict[str, Any], str]] = [
    # screws
    ("unknown thread", {"pole.0.part.0.thread": "W3"}, 'pole 1, part 1, thread: received "W3", which is no thread that is known here; write its name, such as "M3", its pitch, "0.5 mm", or its turns, "40 per inch"'),
    ("thread out of the table", {"pole.0.part.0.thread": "M12"}, 'thread: received "M12", whose coarse pitch is not in the table'),
    ("no pitch", {"pole.0.part.0.thread": "0 mm"}, 'thread: received "0 mm"; write a thread whose pitch lies between 0.1 and 3 mm a turn'),
    ("no turns in an inch", {"pole.0.part.0.thread": "0 per inch"}, 'thread: received "0 per inch", a thread that never turns in'),
    ("thread of a thinner screw", {"pole.0.part.0.thread": "M3"}, 'pole 1, part 1, thread: received "M3" on a rod of 5 mm, and a screw of that thread is 3 mm thick; write it on the part that is the screw, or its pitch alone, "0.5 mm"'),
    ("body of a thicker thread", {"body": [{"shape": "cylinder", "material": "steel-1008", "diameter": "3 mm", "length": "9 mm", "bottom": "-30 mm", "thread": "M4"}]}, 'body 1, thread: received "M4" on a rod of 3 mm'),
    ("bare pitch", {"pole.0.part.0.thread": 0.5}, "thread: received 0.5; write its name"),
    ("magnet that turns", {"pole.1.part.0.thread": "0.5 mm"}, 'pole 2, part 1, thread: received on "own-curve", a magnet, which is not turned; write it on the steel part'),
    ("thread of a disc magnet", {"pole.0.part.0.thread": DROP, "pole.0.part.1.thread": "0.5 mm"}, 'pole 1, part 2, thread: received on "ceramic-8", a magnet'),
    ("two threads", {"pole.1.part": [SCREW, {**SCREW, "tip": {"shape": "flat"}}]}, "pole 2, part 2, thread: part 1 has one too"),
    ("screw that lies", {"body": [{"shape": "cylinder", "material": "steel-1008", "diameter": "3 mm", "length": "9 mm", "lies": "across the strings", "bottom": "-30 mm", "thread": "M3"}]}, "body 1, thread: received on a body that does not stand upright"),
    ("body that is a magnet and turns", {"body": [{"shape": "cylinder", "material": "ceramic-8", "diameter": "3 mm", "length": "9 mm", "magnetised": "up", "bottom": "-30 mm", "thread": "M3"}]}, 'body 1, thread: received on "ceramic-8", a magnet'),
    ("thread elsewhere", {"coil.thread": "M3"}, '"thread" is not a key here; it belongs under'),
    ("height screws where", {"height_screws.apart": DROP}, "height_screws, apart: it is missing"),
    ("height screws which way", {"height_screws.clockwise": "up"}, 'height_screws, clockwise: received "up"; write "raises" or "lowers"'),
    # keys and types
    ("unknown key", {"coil.turn": 3}, 'coil: "turn" is not a key here (did you mean "turns"?)'),
    ("unknown table", {"coils": {}}, '"coils" is not a key here (did you mean "coil"?)'),
    ("missing key", {"coil.turns": DROP}, "coil, turns: it is missing"),
    ("missing table", {"row": DROP}, "row: it is missing"),
    ("bare number", {"coil.top": -1}, "coil, top: received the bare number -1; write a length with its unit (mm,"),
    ("wrong dimension", {"coil.top": "1 T"}, 'coil, top: received "1 T", which is not a length'),
    ("unit on a number", {"coil.turns": "6000"}, 'coil, turns: received "6000"; write a number without a unit'),
    ("negative size", {"pole.1.part.0.diameter": "-4.8 mm"}, 'pole 2, part 1, diameter: received "-4.8 mm"; write'),
    ("zero size", {"pole.1.part.0.length": "0 mm"}, "write a length from 0.3 mm to 60 mm"),
    ("negative turns", {"coil.turns": -5}, "coil, turns: received -5; write a number without a unit from 1 to"),
    ("not a number", {"coil.turns": float("nan")}, "coil, turns: received nan"),
    ("huge number", {"coil.turns": 10**400}, "coil, turns: received a very large whole number"),
    ("truth value", {"row.count": True}, "row, count: received true; write a whole number from 1 to 12"),
    ("choice", {"coil.winding": "left"}, 'coil, winding: received "left"; write "counter-clockwise (from above)" or '),
    ("table for a list", {"string": {}}, "string: received a table, [string]; write a list, each of its tables under double brackets, [[string]]"),
    ("list for a table", {"coil": []}, "coil: received a list, [[coil]]; write a table, once and under single brackets, [coil]"),
    ("number for text", {"title": 3}, "title: received 3; write a text in quotes"),
    ("long text", {"title": 300 * "x"}, "title: received a text that is too long; write at most 200"),
    ("empty list", {"string": []}, "string: it is missing; add a [[string]]"),
    ("thirteen strings", {"string": [FULL["string"][1]] * 13}, "string: received more than 12 items"),
    ("thirteen poles", {"row.count": 13}, "row, count: received 13; write a whole number from 1 to 12"),
    ("kind of material", {"materials.own-line.kind": "linear"}, 'materials, own-line: received "linear" (did you mean'),
    ("no kind", {"materials.own-line.kind": DROP}, "materials, own-line: kind is missing"),
    ("kind of tip", tip(shape="dome", rise="1 mm"), 'pole 2, part 1, tip: received "dome" (did you mean "domed"?)'),
    ("key of a tip", tip(shape="domed", depth="1 mm"), 'pole 2, part 1, tip: "depth" is not a key here; the keys'),
    ("wrong in a tip", tip(shape="domed", rise="1 T"), 'pole 2, part 1, tip, rise: received "1 T", which is not'),
    ("warm without a unit", {"conditions.temperature": 35}, "conditions, temperature: received the bare number 35; write a temperature with its unit (degC, degF)"),
    ("warm in words", {"conditions.temperature": "warm"}, 'conditions, temperature: received "warm"; write a temperature with its unit'),
    ("boiling", {"conditions.temperature": "151 degC"}, 'conditions, temperature: received "151 degC"; write a temperature from -50 degC to 150 degC'),
    ("percent for a share", {"materials.own-line.remanence_per_kelvin": -0.2}, "materials, own-line, remanence_per_kelvin: received -0.2; write a number without a unit from -0.01"),
    # signs that a terminal obeys
    ("control", {"title": "a\x1b[2Jb"}, 'title: received "a [2Jb", with the control character U+001B in it; write plain'),
    ("title of two lines", {"title": "a\nb"}, "title: received"),
    ("bell", {"note": "one\ntwo\x07"}, "note: received \"one two \", with the control character U+0007"),
    ("C1 control", {"note": "a\x9b31mb"}, "with the control character U+009B in it; write plain text"),
    ("turned round", {"note": "a\u202eb"}, "with the control character U+202E in it"),
    ("name of a coil", {"coil.name": "a\rb"}, "coil, name: received"),
    ("name of a material", {"materials.a\x1bb": {"kind": "constant permeability", "permeability": 5}}, 'materials, "a b": rec'),
    # row and poles
    ("positions and spacing", {"row.positions": ["0 mm"]}, "row, positions: received together with count"),
    ("no count", {"row.count": DROP}, "row, count: it is missing"),
    ("no spacing", {"row.spacing": DROP}, "row, spacing: it is missing"),
    ("row too wide", {"row": {"count": 12, "spacing": "40 mm", "face": "1 mm"}}, "make a row over 300 mm"),
    ("faces", {"row.face": ["1 mm", "2 mm"]}, "row, face: received 2 heights for 3 poles; write one for all"),
    ("one face wrong", {"row.face": ["1 mm", "2", "1 mm"]}, 'row, face 2: received "2", which has no unit'),
    ("face for all wrong", {"row.face": 2}, "row, face: received the bare number 2"),
    ("pole out of the row", {"pole.0.at": [4]}, "pole 1, at: received 4; the row has poles 1 to 3"),
    ("pole twice", {"pole.0.at": [1, 1]}, "pole 1, at: received 1, as pole 1 does"),
    ("two defaults", {"pole.0.at": DROP}, "pole 2, at: it is missing, as in pole 1"),
    ("none for a pole", {"pole.1.at": [2]}, "pole: none is for number 3"),
    ("nothing left", {"pole.0.at": [1, 2, 3]}, "pole 2, at: it is missing, but the others already make all 3"),
    ("no parts", {"pole.0.part": []}, "pole 1, part: received 0 items; write at least 1"),
    ("too long", {"pole.1.part": [ROD | {"length": "55 mm"}] * 4}, "pole 2, part: the stack is 220 mm long"),
    ("tip below", {"pole.1.part": [ROD, SCREW]}, 'pole 2, part 2, tip: received "domed" under another part'),
    ("bevel width", tip(shape="bevelled", depth="1 mm", width="3 mm"), "pole 2, part 1, tip, width: received 3 mm"),
    ("dome", tip(shape="domed", rise="3 mm"), "tip, rise: received 3 mm; write at most the part's radius, 2.4 mm"),
    ("cup", tip(shape="cupped", depth="3 mm"), "tip, depth: received 3 mm; write at most"),
    ("deep tip", tip(shape="bevelled", depth="15 mm", width="1 mm"), "tip: it reaches 15 mm down"),
    ("polyline start", points(("1 mm", "0 mm"), ("2.4 mm", "0 mm")), "tip, points: the first one has r = 1 mm"),
    ("polyline end", points(("0 mm", "0 mm"), ("2 mm", "0 mm")), "tip, points: the last one has r = 2 mm"),
    (
        "polyline back",
        points(("0 mm", "0 mm"), ("2 mm", "0 mm"), ("1 mm", "1 mm"), ("2.4 mm", "0 mm")),
        "tip, points: number 3 turns back",
    ),
    (
        "polyline short",
        points(("0 mm", "0 mm"), ("1 mm", "0 mm"), ("1 mm", "0.001 mm"), ("2.4 mm", "0 mm")),
        "tip, points: number 3 is closer",
    ),
    (
        "polyline on itself",
        points(("0 mm", "0 mm"), ("1 mm", "0 mm"), ("1 mm", "-1 mm"), ("1 mm", "-0.5 mm"), ("2.4 mm", "0 mm")),
        "tip, points: number 4 is the third with one r",
    ),
    (
        "polyline on the axis",
        points(("0 mm", "0 mm"), ("0 mm", "1 mm"), ("2.4 mm", "0 mm")),
        "tip, points: number 2 lies on the axis too",
    ),
    ("overlap", {"row.spacing": "4.8 mm"}, "row: poles 1 and 2 are 4.8 mm apart and overlap; put them at least 4.9 mm"),
    # coil
    ("inner length", {"coil.inner_length": "5 mm"}, "coil, inner_length: received 5 mm, less than inner_width 5.5 mm"),
    ("no build", {"coil.outer_width": DROP}, "coil, outer_width: it is missing; give either outer_width or build"),
    ("both builds", {"coil.build": "4 mm"}, "coil, outer_width: received together with build"),
    ("no winding", {"coil.outer_width": "5.5 mm"}, "coil, outer_width: received 5.5 mm; write at least 0.2 mm more"),
    ("upside down", {"coil.top": "-13 mm"}, "coil, top: received -13 mm, with bottom at -12 mm"),
    ("wire", {"coil.wire": "thin"}, 'coil, wire: received "thin"; write a wire size such as "42 AWG"'),
    (
        "wire not in the table",
        {"coil.wire": "30 AWG", "coil.overall_diameter": DROP},
        'coil, wire: received "30 AWG", which is not in the table',
    ),
    ("wire by its number", {"coil.wire": 42}, 'coil, wire: received 42; write "42 AWG"'),
    ("wire by its number as text", {"coil.wire": " 43 "}, 'coil, wire: received " 43 "; write "43 AWG"'),
    ("wire without a unit", {"coil.wire": 0.063}, 'coil, wire: received 0.063; write "0.063 mm"'),
    ("wire by its turns", {"coil.wire": 6500}, 'coil, wire: received 6500; write a wire size such as "42 AWG"'),
    ("turns", {"coil.turns": 12000}, "coil, turns: 12000 of 42 AWG (0.071 mm over the insulation) cannot fit a window"),
    ("coil cuts a pole", {"coil.inner_width": "4 mm"}, 'coil: the winding cuts pole 1 ("steel-1008", diameter 5 mm)'),
    ("pole out of the coil", {"coil.inner_length": "20 mm"}, "coil: the winding cuts pole 1"),
    ("coil cuts a disc", {"coil.bottom": "-18 mm"}, 'coil: the winding cuts pole 1 ("ceramic-8", diameter 9 mm)'),
    ("tap beyond the end", {"coil.taps": [2500, 6000]}, "coil, taps: received 6000; write less than turns, 6000"),
    ("tap", {"coil.taps": ["x"]}, 'coil, taps 1: received "x"; write a number without a unit from 1'),
    ("measured resistance", {"coil.resistance": 6100}, "coil, resistance: received the bare number 6100; write a res"),
    ("measured capacitance", {"coil.capacitance": "95 pH"}, 'coil, capacitance: received "95 pH", which is not a'),
    # load
    ("control", {"load.volume": "250 pF"}, 'load, volume: received "250 pF", which is not a resistance'),
    ("setting", {"load.tone_setting": 7}, "load, tone_setting: received 7; write a number without a unit from 0 to 1"),
    ("taper", {"load.volume_taper": "log"}, 'load, volume_taper: received "log"; write "audio" or "linear"'),
    ("cable", {"load.cable_capacitance": "300 pF"}, "which is not a capacitance per length; write a capacitance per"),
    # materials
    ("unknown material", {"pole.1.part.0.material": "alnco-5"}, 'which is no known material (did you mean "alnico-5"'),
    ("string steel as a pole", {"pole.1.part.0.material": "own-steel"}, "which is no magnet or soft steel"),
    ("magnet as a string", {"strings.steel": "alnico-5"}, 'strings, steel: received "alnico-5", which is no string'),
    ("unknown wrap", {"string.0.wrap": "string-bronz"}, 'string 1, wrap: received "string-bronz", which is no known'),
    ("no polarity", {"pole.1.part.0.polarity": DROP}, 'pole 2, part 1, polarity: it is missing, but "own-curve" is'),
    ("steel with polarity", {"pole.0.part.0.polarity": "north up"}, 'received "north up", but "steel-1008" is no'),
    ("steel with charge", {"pole.0.part.0.charge": 0.5}, "pole 1, part 1, charge: received 0.5"),
    ("charge", {"pole.1.part.0.charge": 1.5}, "pole 2, part 1, charge: received 1.5; write a number without a unit"),
    ("curve rises", {f"{CURVE}.2": [450, 12400]}, "own-curve, points: between H = -300 and -450 Oe B does not fall"),
    ("curve like air", {CURVE: [[0, 5000], [1000, 4990], [4000, 0]]}, "B falls less steeply than in air"),
    ("curve twice at one H", {f"{CURVE}.2": [300, 11480]}, "B does not fall"),
    ("curve of two signs", {f"{CURVE}.1": [-300, 12270]}, "own-curve, points: H has both signs"),
    ("curve without remanence", {f"{CURVE}.0": [10, 12800]}, "points: none has H = 0"),
    ("curve without coercivity", {f"{CURVE}.4": [640, 4000]}, "points: the curve does not come down to B = 0"),
    ("curve too far", {f"{CURVE}.4": [640, -4000]}, "points: the curve goes below B = 0"),
    ("curve of two points", {CURVE: [[0, 1], [1, 0]]}, "own-curve, points: received 2 items; write at least 3"),
    ("curve in the wrong unit", {"materials.own-curve.flux_unit": "kG"}, "a remanence of 1280 T"),
    ("point with three", {f"{CURVE}.1": [1, 2, 3]}, "own-curve, points 2"),
    ("table falls", {f"{TABLE}.2": [300, 0.1]}, "own-table, points: B does not rise with H after B = 0.2 T"),
    ("table like air", {f"{TABLE}.4": [9e6, 1.7]}, "points: B rises less than in air after B = 1.4 T"),
    ("table negative", {f"{TABLE}.0": [-10, -0.1]}, "own-table, points: a negative value"),
    ("table in the wrong unit", {"materials.own-table.flux_unit": "kG", TABLE: [[0, 0], [1, 1], [2, 900]]}, "points: the last B is 90 T"),
    (
        "reversible over static",
        {"materials.own-steel.reversible_susceptibility": 800},
        "own-steel, reversible_susceptibility: received 800; write at most initial_susceptibility, 700",
    ),
    # strings
    ("pitch", {"string.0.pitch": "H2"}, 'string 1, pitch: received "H2"; write a note such as "E2" or a frequency'),
    ("pitch too low", {"string.0.pitch": "10 Hz"}, "string 1, pitch: received"),
    ("core", {"string.0.core": "0.046 in"}, "string 1, core: received 1.1684 mm in a string of 1.1684 mm"),
    ("wrap without core", {"string.0.core": DROP}, "string 1, wrap: received without core"),
    ("wrap gap without core", {"string.1.wrap_gap": 0.1}, "string 2, wrap_gap: received without core"),
    ("two gaps", {"string.1.height": "4 mm"}, "string 2, height: received together with gap"),
    ("radius without height", {"strings.height": DROP}, "strings, fingerboard_radius: it goes with height"),
    (
        "no gap",
        {"strings.height": DROP, "strings.fingerboard_radius": DROP},
        "string 1, gap: it is missing; write gap or height, here or in [strings]",
    ),
    ("no scale", {"strings.scale": DROP}, "string 1, scale: it is missing"),
    ("no place", {"string": [FULL["string"][1]] * 2, "strings.spacing": DROP}, "string 1, position: it is missing"),
    ("no action", {"strings.action": DROP}, "strings, action: it is missing; string 3 is given by fretted_gap"),
    ("bridge beyond the fret", {"strings.bridge_distance": "400 mm"}, "strings, bridge_distance: received 400 mm"),
    ("steep", {"strings.plane_angle": "10 deg"}, "strings, plane_angle: received"),
    ("small radius", {"strings.fingerboard_radius": "20 mm", "strings.spacing": "19 mm"}, "write a larger radius"),
    ("strings too wide", {"strings.spacing": "100 mm", "string": FULL["string"][:2] * 3}, "over 150 mm from the"),
    ("one place twice", {"string.2": FULL["string"][1]  | {"position": "0.4 mm"}}, "string 3: it runs into string 2"),
    ("into its pole", {"string.1.height": "1.2 mm", "string.1.gap": DROP}, "string 2, height: the string's underside"),
    ("into the neighbour", {"row.spacing": "5 mm", "string.1.position": "2.45 mm", "row.face": ["1 mm", "1.5 mm", "6 mm"]}, "string 2, gap: the string's underside at 4 mm runs into pole 3, which reaches 6 mm"),
    ("into the coil", {"coil.top": "4.2 mm"}, "string 1, height: the string's underside at 4.3"),
    ("far from its pole", {"string.2.position": "40 mm"}, "string 3, position: it is 30 mm from the nearest pole"),
    ("gap", {"string.1.gap": "16 mm"}, "string 2, gap: received"),
    ("gap by height", {"string.1": FULL["string"][1] | {"gap": None, "height": "20 mm"}}, "it leaves 18.5 mm between"),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "says"), [f[1:] for f in FAULTS], ids=[f[0] for f in FAULTS])
def test_sentence(changes: dict[str, Any], says: str) -> None:
    with pytest.raises(CaseError) as caught:
        read_case(changed(changes), materials=USES)
    message = str(caught.value)
    assert says in message
    assert "\n" not in message
    assert len(message) < 500


def test_counts_the_other_faults() -> None:
    with pytest.raises(CaseError, match=r"^coil, bottom: .* \(2 more faults after this\)$"):
        read_case(changed({"coil.top": 1, "coil.bottom": 1, "string.0.gauge": 1}), materials=USES)


@pytest.mark.parametrize("changes", [
    {"pole.1.part.0.diameter": "4.8"},
    {"pole.1.part.0.diametr": "4.8 mm"},
    {"pole.0.part.0.tip.rise": "1"},
    {"pole": [{"at": [1, 2, 3], "part": [SCREW | {"length": 3}]}]},
    {"string": [FULL["string"][1] | {"gauge": "1"}]},
    {"row.positions": ["0"], "row.count": DROP, "row.spacing": DROP},
])  # fmt: skip
def test_one_fault_counts_once(changes: dict[str, Any]) -> None:
    """Of a list whose only item is faulty, too."""
    with pytest.raises(CaseError) as caught:
        read_case(changed(changes), materials=USES)
    assert "after this" not in str(caught.value)


def test_faults_of_several_parts_are_all_counted() -> None:
    with pytest.raises(CaseError, match=r"pole 1, part 1, diameter: .* \(2 more faults after this\)$"):
        read_case(changed({"pole.0.part.0.diameter": "1", "pole.1.part.0.diameter": "1", "string.0.gauge": 1}),
                  materials=USES)


def test_names_are_taken_on_trust_without_a_list() -> None:
    case = read_case(changed({"pole.1.part.0.material": "something-else"}))
    assert case.pole[1].part[0].material == "something-else"


def test_texts_of_all_languages_are_good() -> None:
    case = read_case(changed({"title": "Ω – é ♯ 日本 👍🏽", "note": "two\nlines\tand a tab"}), materials=USES)
    assert case.title.endswith("👍🏽")


def test_full_case_is_good() -> None:
    read_case(FULL, materials=USES)
