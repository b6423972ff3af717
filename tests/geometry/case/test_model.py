"""What a case means: places, heights, shapes, and that the record is frozen."""

from __future__ import annotations

import math
import subprocess
import sys

import pytest
from pydantic import ValidationError

from rigs.cases.case_data import DROP, FULL, USES, changed
from stringflux.geometry import Case, read_case
from stringflux.geometry.shapes.profiles import volume


def read(changes: dict[str, object] | None = None) -> Case:
    return read_case(changed(changes or {}), materials=USES)


def test_poles() -> None:
    case = read()
    poles = case.placed_poles()
    assert [p.y for p in poles] == pytest.approx([-0.010, 0, 0.010])
    assert [p.face for p in poles] == pytest.approx([0.001, 0.0015, 0.002])
    assert poles[1].shape is poles[2].shape
    screw, disc = poles[0].shape.parts
    assert (screw.polarity, screw.state.charge, disc.polarity) == (0, 1.0, -1)
    assert screw.top == 0
    assert screw.bottom == disc.top == pytest.approx(-0.016)
    assert disc.bottom == pytest.approx(-0.020)
    assert disc.radius == pytest.approx(0.0045)
    assert volume(disc.outline) == pytest.approx(math.pi * 0.0045**2 * 0.004, rel=1e-8)
    rod = poles[1].shape.parts[0]
    assert (rod.polarity, rod.state.charge, rod.material) == (1, 0.9, "own-curve")
    assert (0.0, 0.0) in rod.outline
    assert case.history == "before"


def test_equal_poles_are_equal() -> None:
    rod = {"material": "alnico-5", "diameter": "3/16 in", "length": "17 mm", "polarity": "north up"}
    case = read({"pole": [{"at": [1, 3], "part": [rod]}, {"part": [dict(rod)]}]})
    first, second, third = (p.shape for p in case.placed_poles())
    assert first is third
    assert first == second
    assert hash(first) == hash(second)


def test_explicit_positions_and_one_face_for_all() -> None:
    case = read({"row": {"positions": ["-10 mm", "1 mm", "10.5 mm"], "face": "1.2 mm"}})
    assert [p.y for p in case.placed_poles()] == pytest.approx([-0.010, 0.001, 0.0105])
    assert {p.face for p in case.placed_poles()} == {0.0012}
    assert case.history == "after"


def test_coil() -> None:
    coil = read().racetrack()
    assert coil.inner_radius == pytest.approx(2.75e-3)
    assert coil.straight == pytest.approx(20.5e-3)
    assert coil.build == pytest.approx(4.25e-3)
    assert (coil.bottom, coil.top) == pytest.approx((-0.012, -0.001))
    assert (coil.turns, coil.sense) == (6000, -1)
    assert read({"coil.outer_width": DROP, "coil.build": "4.25 mm"}).racetrack() == coil


def test_round_coil() -> None:
    single = changed(
        {"row": {"count": 1, "face": "1 mm"}, "pole": [FULL["pole"][0]], "string": [FULL["string"][1]]}
    )
    single["coil"] |= {"inner_width": "10 mm", "outer_width": "16 mm", "turns": 3000, "resistance": "0.7 kohm"}
    for length in (None, "10 mm"):
        single["coil"].pop("inner_length", None)
        if length:
            single["coil"]["inner_length"] = length
        assert read_case(single, materials=USES).racetrack().straight == 0


def test_frozen() -> None:
    case = read()
    with pytest.raises(ValidationError, match="frozen"):
        case.title = "other"  # type: ignore[misc]
    with pytest.raises(ValidationError, match="frozen"):
        case.coil.turns = 1  # type: ignore[misc]


def test_dump_in_si_reads_back() -> None:
    case = read()
    again = Case.model_validate(case.model_dump(), context={"si": True})
    assert again == case
    assert case.model_dump()["coil"]["bottom"] == pytest.approx(-0.012)


def test_errors_alone_load_no_model() -> None:
    code = "import sys, stringflux.geometry.errors; print({'pint', 'pydantic', 'numpy'} & set(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "set()"


def test_every_offered_name_is_there() -> None:
    import stringflux.geometry as geometry

    for name in geometry.__all__:
        assert getattr(geometry, name) is not None
    with pytest.raises(AttributeError):
        geometry.nothing  # noqa: B018
