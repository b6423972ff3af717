"""The case file of a tooth wheel: what it becomes, and what is refused."""

from __future__ import annotations

import tomllib
from importlib.resources import files
from math import pi
from typing import Any

import pytest

from stringflux.geometry import CaseError
from stringflux.geometry.demonstrations.wheel import ToothWheel, read_wheel
from stringflux.geometry.reading.changes import change_value
from stringflux.solver.materials import material_uses

TEXT = files("stringflux.cases.demonstrations").joinpath("tooth-wheel.toml").read_text(encoding="utf-8")


def wheel(changes: dict[str, Any] | None = None, without: str = "") -> ToothWheel:
    data = tomllib.loads(TEXT)
    if without:
        home, _, key = without.rpartition(".")
        (data[home] if home else data).pop(key)
    for dotted, value in (changes or {}).items():
        change_value(data, dotted, value)
    return read_wheel(data, material_uses())


def test_the_shipped_one() -> None:
    case = wheel()
    build = case.build()
    assert build.wheel.radius == pytest.approx(32.5e-3)
    assert build.wheel.pitch == pytest.approx(2 * pi * 32.5e-3 / 24)
    assert build.wheel.height == pytest.approx(0.45 * build.wheel.pitch)
    magnet, piece = build.sensor.bars
    assert magnet.outline[2] == (2e-3, -10e-3)
    assert piece.outline[2] == (1.25e-3, 0.0)
    assert magnet.axis == (0.0, 1.0)
    assert build.sensor.coil.turns == 1200
    assert case.compared() == pytest.approx((0.5e-3, 0.75e-3, 1e-3, 1.5e-3, 2e-3))


def test_three_ways_to_say_how_large() -> None:
    by_module = wheel()
    by_diameter = wheel({"wheel.outer_diameter": "65 mm"}, without="wheel.module")
    by_pitch = wheel({"wheel.pitch": f"{1e3 * by_module.wheel.shape().pitch:.9f} mm"}, without="wheel.module")
    assert by_diameter.wheel.radius == pytest.approx(by_module.wheel.radius, rel=1e-9)
    assert by_pitch.wheel.radius == pytest.approx(by_module.wheel.radius, rel=1e-8)


def test_ends_and_senses() -> None:
    build = wheel({"sensor.towards_wheel": "south", "coil.winding": "clockwise", "gaps": ["3 mm"]})
    assert build.build().sensor.bars[0].axis == (0.0, -1.0)
    assert build.build().sensor.coil.turns == -1200
    assert build.compared() == (1e-3, 3e-3)


def test_without_a_pole_piece_the_magnet_is_the_face() -> None:
    case = wheel({"coil.inner_width": "4.5 mm"}, without="sensor.pole_piece")
    (magnet,) = case.build().sensor.bars
    assert magnet.outline[2] == (2e-3, 0.0)


@pytest.mark.parametrize(("changes", "word"), [
    ({"gap": "0 mm"}, 'gap: received "0 mm"; write a length from 0.1 mm'),
    ({"wheel.tooth_top": 0.6, "wheel.floor": 0.5}, "wheel, tooth_top: 0.6 and floor 0.5 are more than the pitch"),
    ({"wheel.teeth": 0}, "wheel, teeth: received 0; write a whole number from 4"),
    ({"wheel.teeth": 24.5}, "wheel, teeth: received 24.5; write a whole number"),
    ({"sensor.magnet": "alnico-55"}, 'sensor, magnet: received "alnico-55" (did you mean'),
    ({"sensor.magnet": "steel-1008"}, "which is not a magnet; write a magnet"),
    ({"wheel.steel": "alnico-5"}, "which is not a steel"),
    ({"turning.speeds": [0]}, "turning, speeds 1: received 0; write a number without a unit from 0.1"),
    ({"turning.speeds": [60, -5]}, "turning, speeds 2: received -5"),
    ({"turning.speeds": []}, "turning, speeds: received 0 items"),
    ({"wheel.pitch": "8 mm"}, "received together with pitch; give one of"),
    ({"wheel.module": "20 mm", "wheel.teeth": 200}, "would be 4040 mm over the teeth"),
    ({"wheel.bore": "58 mm"}, "wheel, bore: received 58 mm, which leaves no rim"),
    ({"coil.inner_width": "2 mm"}, "the pole piece in the coil is 2.5 mm wide"),
    ({"coil.bottom": "-40 mm"}, "below the sensor, which ends at -30 mm"),
    ({"coil.top": "1 mm"}, "coil, top"),
    ({"wheel.tooth": 3}, '"tooth" is not a key here'),
])
def test_what_cannot_be_is_one_sentence(changes: dict[str, Any], word: str) -> None:
    with pytest.raises(CaseError) as refused:
        wheel(changes)
    assert word in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_size_is_missing() -> None:
    with pytest.raises(CaseError, match="outer_diameter: it is missing; give one of outer_diameter, module"):
        wheel(without="wheel.module")
