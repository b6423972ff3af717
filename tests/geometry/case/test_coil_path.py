"""A coil on a path of its own in a case file: what it makes, what it may not cut, and what is refused."""

from __future__ import annotations

import math
import tomllib
from typing import Any

import pytest

from stringflux.cases import shipped_cases
from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.kernel.overlaps import cuts_winding, is_inside, windings_meet
from stringflux.geometry.reading.read import read_case
from stringflux.geometry.shapes.bodies import Box
from stringflux.geometry.shapes.coil_path import PathCoil, path_coil
from stringflux.geometry.shapes.row import Racetrack

SQUARE = [["-10 mm", "-10 mm"], ["10 mm", "-10 mm"], ["10 mm", "10 mm"], ["-10 mm", "10 mm"]]
NOTCHED = [(-10e-3, -10e-3), (10e-3, -10e-3), (10e-3, 10e-3), (3e-3, 10e-3), (3e-3, 0.0), (-3e-3, 0.0),
           (-3e-3, 10e-3), (-10e-3, 10e-3)]


def case_of(**coil: Any) -> Case:
    data = tomllib.loads(shipped_cases()["bench-single"].read_text(encoding="utf-8"))
    kept = {k: v for k, v in data["coil"].items() if k not in ("inner_width", "outer_width")}
    data["coil"] = {k: v for k, v in ({"path": SQUARE, "build": "3 mm"} | kept | coil).items() if v is not None}
    return read_case(data)


def test_a_square() -> None:
    """Four sides of 20 mm and a circle of half the thickness; with corners of 4 mm, the 8 − 2π of them less."""
    assert case_of().coil.mean_turn == pytest.approx(80e-3 + 2 * math.pi * 1.5e-3)
    case = case_of(corner="4 mm", centre="1 mm", x="2 mm")
    assert case.coil.mean_turn == pytest.approx(80e-3 - (8 - 2 * math.pi) * 4e-3 + 2 * math.pi * 1.5e-3)
    (track,) = case.racetracks()
    assert isinstance(track, PathCoil)
    assert track.bounds == (pytest.approx((-11e-3, -12e-3, -12e-3)), pytest.approx((15e-3, 14e-3, -1e-3)))
    assert track.goes_round(10e-3, 9e-3)
    assert not track.goes_round(-8.2e-3, 1e-3)
    assert not case.is_plain_row


@pytest.mark.parametrize(("coil", "words"), [
    ({"build": None}, "coil, build: it is missing"),
    ({"inner_width": "6 mm"}, "inner_width: received together with path"),
    ({"path": None}, "coil, inner_width: it is missing"),
    ({"path": None, "inner_width": "6 mm", "corner": "1 mm"}, "corner: received without path"),
    ({"corner": ["1 mm", "2 mm"]}, "corner: received 2 for the 4 corners"),
    ({"corner": "11 mm"}, "corner: received 11 mm, and the side from point"),
    ({"path": SQUARE[:2]}, "path: received 2 points; write three or more"),
    ({"path": [SQUARE[0], SQUARE[2], SQUARE[1], SQUARE[3]]}, "path: it crosses or touches itself near"),
    ({"wound_builds": [{"height": "0 mm", "build": "1 mm"}, {"height": "5 mm", "build": "2 mm"}]}, "wound_builds: "),
    ({"path": [["-1 mm", "-1 mm"], ["1 mm", "-1 mm"], ["1 mm", "1 mm"], ["-1 mm", "1 mm"]]}, "make its path wider"),
    ({"path": [[f"{int(x[:-3]) + 30} mm", y] for x, y in SQUARE]}, "no magnetic body is inside it"),
])
def test_refused(coil: dict[str, Any], words: str) -> None:
    with pytest.raises(CaseError) as refused:
        case_of(**coil)
    assert words in str(refused.value)


def test_room_beside_a_path_that_turns_inwards() -> None:
    size = {"bottom": 0.0, "top": 5e-3, "turns": 10.0}
    inwards = [0.0] * 4 + [2e-3, 2e-3] + [0.0] * 2
    coil = path_coil(NOTCHED, inwards, build=2e-3, **size)
    assert coil.is_its_image(0)
    assert not coil.is_its_image(1)
    with pytest.raises(CaseError, match=r"turns inwards with a radius of 2 mm, and a winding 2\.5 mm thick finds no"):
        path_coil(NOTCHED, inwards, build=2.5e-3, **size)
    mouth = [(x / 2 if abs(x) == 3e-3 and y else x * 4 / 3 if abs(x) == 3e-3 else x, y) for x, y in NOTCHED]
    with pytest.raises(CaseError, match="build: the outer edge of the winding: it crosses or touches itself"):
        path_coil(mouth, inwards, build=2e-3, **size)


def test_what_a_winding_cuts() -> None:
    """A notch of the path is outside; what stands there clear of the winding is not cut, nor gone round."""
    coil = path_coil(NOTCHED, [0.0] * 4 + [2e-3, 2e-3] + [0.0] * 2, build=2e-3, bottom=0.0, top=5e-3, turns=10.0)

    def block(x: float, y: float, half: float = 0.4e-3) -> Box:
        return Box(low=(x - half, y - half, 1e-3), high=(x + half, y + half, 2e-3))

    inside, notch, winding = block(7e-3, 5e-3), block(0.0, 8e-3), block(2e-3, 8e-3)
    assert [cuts_winding(b, coil) for b in (inside, notch, winding)] == [False, False, True]
    assert [is_inside(b, coil) for b in (inside, notch, block(0.0, -5e-3))] == [True, False, True]
    small = Racetrack(inner_radius=0.3e-3, straight=0.0, build=0.3e-3, bottom=1e-3, top=2e-3, turns=1.0,
                      y_centre=8e-3)
    thick = path_coil(NOTCHED, [0.0] * 4 + [2.9e-3] * 2 + [0.0] * 2, build=2.8e-3, bottom=0.0, top=5e-3, turns=10.0)
    over = Racetrack(inner_radius=8e-3, straight=0.0, build=3e-3, bottom=4e-3, top=8e-3, turns=1.0)
    assert [windings_meet(coil, small), windings_meet(small, thick), windings_meet(coil, over)] == [False, True, True]
