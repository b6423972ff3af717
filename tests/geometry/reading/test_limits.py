"""A limit that a sentence tells is itself taken, at both ends and in every unit of its kind, and a part of it beyond
refused: of every key of every table, and of what follows from two keys."""

from __future__ import annotations

import math
import typing
from collections.abc import Iterator
from typing import Any

import pytest
from pydantic import TypeAdapter, ValidationError

from rigs.cases.case_data import BUILD, DROP, USES, changed
from stringflux.cases.files.mix_file import MixFile
from stringflux.geometry import Case, CaseError, read_case
from stringflux.geometry.case.keys import Number, Quantity, Table
from stringflux.geometry.units import KINDS, parse, show

BEYOND = 1e-3  # of the limit, or of the other where it is 0


def tables(table: type[Table], seen: dict[str, type[Table]]) -> dict[str, type[Table]]:
    """A table and all that it holds."""
    seen[table.__name__] = table
    for info in table.model_fields.values():
        for inner in parts(info.annotation):
            if isinstance(inner, type) and issubclass(inner, Table) and inner.__name__ not in seen:
                tables(inner, seen)
    return seen


def parts(annotation: Any) -> Iterator[Any]:
    yield annotation
    for inner in typing.get_args(annotation):
        yield from parts(inner)
    for inner in getattr(annotation, "__metadata__", ()):
        yield inner


def limits() -> dict[str, Quantity | Number]:
    found: dict[str, Quantity | Number] = {}
    for name, table in (tables(Case, {}) | tables(MixFile, {})).items():
        for key, info in table.model_fields.items():
            for mark in (*info.metadata, *parts(info.annotation)):
                if isinstance(mark, Quantity | Number):
                    found[f"{name}.{key}"] = mark
    return found


LIMITS = limits()


def reads(mark: Quantity | Number, value: Any) -> bool:
    try:
        TypeAdapter(typing.Annotated[float, mark]).validate_python(value)
    except ValidationError:
        return False
    return True


@pytest.mark.parametrize("key", LIMITS)
def test_both_limits_are_taken(key: str) -> None:
    mark = LIMITS[key]
    ends, span = (mark.low, mark.high), mark.high - mark.low
    for end, away in zip(ends, (-1, 1), strict=True):
        beyond = end + away * BEYOND * (abs(end) or span)
        if isinstance(mark, Number):
            assert reads(mark, int(end) if mark.whole else end)
            assert not reads(mark, end + away if mark.whole else beyond)
            continue
        assert reads(mark, show(end, mark.kind))  # as the sentence says it
        for unit in KINDS[mark.kind].units:
            zero = parse(f"0 {unit}", mark.kind)  # a temperature's scale has one of its own
            assert reads(mark, f"{(end - zero) / (parse(f'1 {unit}', mark.kind) - zero):.12f} {unit}")
        assert not reads(mark, f"{beyond!r} {KINDS[mark.kind].si.replace('*', ' ')}")


def test_all_kinds_of_limits_were_met() -> None:
    assert len(LIMITS) > 60
    assert {mark.kind for mark in LIMITS.values() if isinstance(mark, Quantity)} >= {
        "length", "angle", "frequency", "resistance", "capacitance", "flux density", "resistivity", "density"}
    assert math.radians(3) in {mark.high for mark in LIMITS.values()}


ROD = {"material": "alnico-5", "diameter": "4.8 mm", "length": "60 mm", "polarity": "north up"}
PLAIN = {"string.0.height": DROP, "strings.fingerboard_radius": DROP, "strings.height": DROP, "strings.gap": "2.5 mm"}


@pytest.mark.parametrize("changes", [
    # the least height of a window, the least build, the longest stack; the widest bevel, the deepest tip, half a ball
    {"coil.top": "-11.7 mm", "coil.turns": 10, "coil.taps": DROP, "coil.resistance": DROP},
    {"coil.top": "-1 mm", "coil.bottom": "-1.3 mm", "coil.turns": 10, "coil.taps": DROP, "coil.resistance": DROP},
    {"coil.outer_width": "5.7 mm", "coil.turns": 10, "coil.taps": DROP, "coil.resistance": DROP},
    {"pole.1.part": [ROD, ROD, ROD, ROD | {"length": "20 mm"}]},
    {"pole.1.part.0.tip": {"shape": "bevelled", "depth": "0.4 mm", "width": "2.38 mm"}},
    {"pole.1.part.0.tip": {"shape": "bevelled", "depth": "14.98 mm", "width": "0.4 mm"}},
    {"pole.1.part.0.tip": {"shape": "domed", "rise": "2.4 mm"}},
    {"pole.1.part.0.tip.points": [["0 mm", "0 mm"], ["2.38 mm", "0 mm"], ["2.4 mm", "0 mm"]]},
    # poles that touch, a string as far from its pole as may be, the thinnest wrap, insulation thin and thick
    {"row.spacing": "4.9 mm", "strings.spacing": "4.9 mm", "string.2.position": "4.9 mm"},
    {"string.2.position": "35 mm"},
    {"string.0.core": "0.92 mm", "string.0.gauge": "1.0 mm"},
    {"string.0.core": "1.0884 mm"},
    {"coil.overall_diameter": "0.0633405 mm"},
    {"coil.overall_diameter": "0.126681 mm", "coil.turns": 100, "coil.taps": DROP, "coil.resistance": DROP},
    # gaps by height, to the face of pole 2 at 1.5 mm
    {"string.1.gap": DROP, "string.1.height": "16.5 mm"},
    {"string.1.gap": DROP, "string.1.height": "1.7 mm"},
    {"string.1.gap": "15 mm"},
    {"string.1.gap": "0.2 mm"},
])  # fmt: skip
def test_what_follows_from_two_keys_takes_its_limit(changes: dict[str, Any]) -> None:
    read_case(changed(changes), materials=USES)


def test_a_string_midway_on_a_small_fingerboard() -> None:
    """The radius that the sentence offers is taken."""
    small = {"strings.fingerboard_radius": "20 mm", "strings.spacing": "19 mm"}
    with pytest.raises(CaseError, match=r"write a larger radius, from (\S+ mm) on") as caught:
        read_case(changed(small), materials=USES)
    offered = str(caught.value).rpartition("from ")[2].removesuffix(" on")
    with pytest.raises(CaseError) as after:  # 13 mm lower at the sides, the strings then lie in the coil
        read_case(changed(small | {"strings.fingerboard_radius": offered}), materials=USES)
    assert "fingerboard_radius" not in str(after.value)


def test_a_body_at_its_lowest() -> None:
    read_case(changed({"body.0.top": DROP, "body.0.bottom": "-150 mm"}, BUILD), materials=USES)
