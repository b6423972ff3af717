"""The JSON schema for editors."""

from __future__ import annotations

import json

from rigs.cases.case_data import BUILD, FULL
from stringflux.geometry import case_schema
from stringflux.geometry.units import parse


def test_quantities_are_text_with_units() -> None:
    schema = case_schema()
    turns = schema["$defs"]["Coil"]["properties"]["turns"]
    width = schema["$defs"]["Coil"]["properties"]["inner_width"]
    assert turns["type"] == "number"
    assert width["type"] == "string"
    assert "from 0.5 mm to 100 mm; units: mm, cm" in width["description"]
    assert parse(width["examples"][0], "length") > 0
    assert parse(schema["properties"]["probe_height"]["default"], "length") == 0.5e-3


def test_no_null_and_no_internal_marks() -> None:
    text = json.dumps(case_schema())
    assert "null" not in text
    assert "x-" not in text


def test_bodies_are_told_apart_by_their_shape() -> None:
    schema = case_schema()
    kinds = schema["properties"]["body"]["items"]["oneOf"]
    homes = [schema["$defs"][kind["$ref"].rpartition("/")[2]] for kind in kinds]
    for body in BUILD["body"]:
        (home,) = (h for h in homes if h["properties"]["shape"]["const"] == body["shape"])
        assert set(body) <= set(home["properties"])
    box = homes[0]["properties"]
    assert box["centre"]["default"] == ["0 mm", "0 mm"]
    assert [option["type"] for option in box["magnetised"]["anyOf"]] == ["string", "array"]
    assert "to +x" in box["magnetised"]["anyOf"][0]["enum"]


def test_every_key_of_a_full_case_is_described() -> None:
    schema = case_schema()
    homes = {"row": "Row", "coil": "Coil", "strings": "Strings"}
    for table, home in homes.items():
        assert set(FULL[table]) <= set(schema["$defs"][home]["properties"])
    assert set(FULL) | set(BUILD) == set(schema["properties"])
    face = schema["$defs"]["Row"]["properties"]["face"]
    assert [option["type"] for option in face["anyOf"]] == ["string", "array"]
    assert face["anyOf"][1]["maxItems"] == 12
