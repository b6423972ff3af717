"""The strings of a case in their places: how high they lie, over what, and what they weigh and are tuned to."""

from __future__ import annotations

import math

import pytest

from rigs.cases.case_data import DROP, FULL, USES, changed
from rigs.cases.strings_at_rest import faces_below, gaps, poles, string_places, undersides
from stringflux.geometry import Case, read_case
from stringflux.geometry.case.placed_strings import placed_strings


def read(changes: dict[str, object] | None = None) -> Case:
    return read_case(changed(changes or {}), materials=USES)


def test_strings() -> None:
    case = read()
    wound, plain, thin = [s.shape for s in placed_strings(case)]
    assert [s.y for s in (wound, plain, thin)] == pytest.approx([-0.010, 0, 0.0095])
    assert wound.core_radius == pytest.approx(0.0085 * 0.0254)
    assert wound.wrap_diameter == pytest.approx(0.0145 * 0.0254)
    assert wound.outer_radius == pytest.approx(0.023 * 0.0254)
    assert (wound.wrap, wound.wrap_gap) == ("string-bronze", 0.05)
    assert (plain.wrap, plain.wrap_diameter, plain.steel) == ("", 0.0, "own-steel")
    assert wound.slope == pytest.approx(math.tan(math.radians(0.5)))


def test_gap_is_over_its_own_pole() -> None:
    plain = placed_strings(read())[1].shape
    assert plain.axis_height == pytest.approx(1.5e-3 + 2.5e-3 + 0.0085 * 0.0254)


def test_arc_of_the_fingerboard() -> None:
    # strings 1 and 2 (by height): at y = ∓10 and 0 mm, the third one here too
    case = read({"string.1.gap": DROP, "string.2.fretted_gap": DROP, "string.2.position": DROP})
    low, high, other = undersides(case)
    radius = 12 * 0.0254
    assert high == pytest.approx(4.5e-3)
    assert high - low == pytest.approx(radius - math.sqrt(radius**2 - 0.010**2))
    assert low == pytest.approx(other)
    flat = read({"strings.fingerboard_radius": DROP, "string.1.gap": DROP})
    assert undersides(flat)[:2] == pytest.approx([4.5e-3, 4.5e-3])


def test_highest_string_has_the_height_even_off_the_crown() -> None:
    data = changed({"string": [FULL["string"][0], FULL["string"][0]], "strings.spacing": "10 mm"})
    assert undersides(read_case(data, materials=USES)) == pytest.approx([4.5e-3, 4.5e-3])


def test_fretted_gap_against_two_lines_through_the_bridge() -> None:
    case = read()
    scale, action, pickup, gap = 25.5 * 0.0254, 2e-3, 90e-3, 2e-3
    fret = scale / 2 ** (21 / 12)  # from the bridge
    # fretted: the underside touches the fret; open: it lies `action` over it; both meet at the bridge
    rise = action / fret * pickup
    assert placed_strings(case)[2].underside == pytest.approx(2e-3 + gap + rise)
    assert rise == pytest.approx(0.935e-3, rel=1e-3)


def test_position_defaults_to_the_pole_when_counts_agree() -> None:
    row = {"positions": ["-10 mm", "0 mm", "10.5 mm"], "face": "1 mm"}
    case = read({"strings.spacing": DROP, "row": row})
    assert string_places(case) == pytest.approx([-0.010, 0, 0.0095])  # the third has its own


def test_more_strings_than_poles() -> None:
    pair = [dict(FULL["string"][1], position=p, gap="2 mm") for p in ("-1 mm", "1 mm", "8 mm", "10 mm")]
    case = read({"string": pair, "strings.spacing": DROP})
    assert poles(case) == [2, 2, 3, 3]
    assert faces_below(case) == [1.5e-3, 1.5e-3, 2e-3, 2e-3]
    assert gaps(case) == pytest.approx([2e-3] * 4)


def test_masses_and_tensions() -> None:
    case = read()
    assert [s.pitch for s in placed_strings(case)] == pytest.approx([82.4069, 196.0, 329.6276], rel=1e-6)
    assert [s.scale for s in placed_strings(case)] == pytest.approx([25.5 * 0.0254, 25 * 0.0254, 25.5 * 0.0254])
    own = 7850  # kg/m³: the case's density of its plain strings
    assert placed_strings(case)[1].unit_mass == pytest.approx(own * math.pi / 4 * (0.017 * 0.0254) ** 2)
    for s in placed_strings(case):
        assert math.sqrt(s.tension / s.unit_mass) / (2 * s.scale) == pytest.approx(s.pitch)


def test_axis_over_a_face_is_its_height_at_rest_less_the_gap() -> None:
    for string in placed_strings(read({"strings.plane_angle": "0 deg"})):
        assert string.axis_on(string.face.height) == pytest.approx(string.grounded, abs=1e-12)
        assert string.axis_on(string.underside) == pytest.approx(string.shape.axis_height, abs=1e-12)
