"""Profiles, forms and their limits: geometry only, nothing is solved."""

from __future__ import annotations

import math
import tomllib

import numpy as np
import pytest

from stringflux.cases import load_case
from stringflux.cases.files.load import built_in_uses, find_case, read_toml
from stringflux.cases.studies.shape.files import changed_case
from stringflux.cases.studies.shape.forms import FORMS, Form, make_form, pole_volume
from stringflux.cases.studies.shape.limits import Making, limits, made, turned
from stringflux.cases.studies.shape.methods import Search, feasible
from stringflux.cases.studies.shape.profile import MOST_CONTROLS, ProfileCurve
from stringflux.cases.studies.shape.study import chosen_poles
from stringflux.geometry.case.poles import Part
from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.read import read_case

R = 2.4e-3


def form(name: str, case: str = "bench-single", points: int = 6) -> Form:
    return make_form(name, load_case(case).pole[0], controls=points, deepest=2e-3, widest=6e-3,
                     soft=lambda m: "steel" in m, cap="steel-1008")


def test_curve_is_the_sphere_it_goes_through() -> None:
    curve = ProfileCurve(radius=R, count=10)
    sphere = 6e-3
    p = np.sqrt(sphere**2 - curve.controls**2) - sphere
    # the rim ends without curvature, which reaches a few control points in
    inner = curve.curvature(p)[:30]
    assert inner == pytest.approx(np.full(30, -1 / sphere), rel=0.01)
    assert curve.between(p).max() == pytest.approx(0.0, abs=1e-9)


def test_turned_profile_is_whole_steps_near_the_curve() -> None:
    curve = ProfileCurve(radius=R, count=6)
    p = 1e-4 * np.array([-5, -3, 0, -1, -3, -9])
    for step in (0.05e-3, 0.01e-3):
        edge = np.array(curve.turned(p, step))
        assert edge[:, 1].max() == 0.0
        assert edge[:, 1] / step == pytest.approx(np.round(edge[:, 1] / step), abs=1e-6)
        assert edge[:-1, 0] / step == pytest.approx(np.round(edge[:-1, 0] / step), abs=1e-6)
        assert edge[-1, 0] == R
        z = curve.between(p)
        exact = np.interp(edge[:, 0], np.linspace(0, R, z.size), z - z.max())
        # half a step, as much again where the highest point itself was rounded, and the chords of `between`
        assert np.max(np.abs(edge[:, 1] - exact)) < 1.1 * step


def test_finest_profile_is_a_possible_case() -> None:
    curve = ProfileCurve(radius=R, count=MOST_CONTROLS)
    p = -0.8e-3 * (curve.controls / R) ** 2
    edge = curve.turned(p, 0.01e-3)
    points = [[f"{1e3 * r:.6g} mm", f"{1e3 * z:.6g} mm"] for r, z in edge]
    part = Part.model_validate({"material": "alnico-5", "diameter": "4.8 mm", "length": "17 mm",
                                "tip": {"shape": "polyline", "points": points}})
    assert part.tip.edge(R)[-1] == (R, pytest.approx(-0.8e-3, abs=0.01e-3))


@pytest.mark.parametrize("name", FORMS)
def test_every_form_keeps_its_corners(name: str) -> None:
    one = form(name)
    rng = np.random.default_rng(3)
    shapes = [one.shape(one.low + (one.high - one.low) * t) for t in rng.uniform(size=(4, one.low.size))]
    corners = {tuple(len(part.outline) for part in s.parts) for s in shapes}
    assert len(corners) == 1
    assert all(s.top <= 1e-12 for s in shapes) or one.curve is not None


def test_cap_and_magnet_keep_their_length() -> None:
    one = form("cap")
    for thick in (0.5e-3, 3e-3):
        shape = one.shape(np.array([thick]))
        assert [p.material for p in shape.parts] == ["steel-1008", "alnico-5"]
        assert shape.bottom == pytest.approx(-17e-3, abs=1e-12)
        assert shape.parts[0].bottom == pytest.approx(-thick, abs=1e-12)


def test_limits_hold_after_mending_a_wild_profile() -> None:
    """A zigzag is brought to curvature, height and volume limits; the limits say so before and after."""
    one = form("profile")
    making = Making(least_radius=1e-3, least_volume=300e-9, deepest=1.5e-3)
    g = limits(one, making)
    span = one.high - one.low
    wild = (one.low + span * np.array([1.0, 0.2, 0.9, 0.1, 0.95, 0.0]) - one.low) / span
    search = Search(evaluate=lambda x: (np.zeros(1), np.zeros((1, 6))), limits=lambda x: g(one.low + x * span),
                    low=np.zeros(6), high=np.ones(6), safe=np.ones(6))
    assert not search.kept(wild)
    p = one.low + span * feasible(search, wild)
    found = made(one, p)
    assert found.radius >= 1e-3 * (1 - 1e-5)
    assert found.volume >= 300e-9 * (1 - 1e-5)
    assert found.depth <= 1.5e-3 * (1 + 1e-5)
    assert one.curve is not None
    assert one.curve.between(p).max() <= 1e-8


def test_turned_shape_keeps_a_volume_that_rounding_would_miss() -> None:
    """A limit just under what the nearest steps come to: the points lean inwards, but not for one far below."""
    one = form("profile")
    p = 1e-4 * np.array([-0.2, -1.2, -0.2, -1.3, -3.2, -9.2])
    nearest = pole_volume(one.shape(p, one.turned(p, 0.05e-3)[1]))
    lengths, edge, comes, kept = turned(one, Making(least_radius=0.3e-3, most_volume=nearest - 0.05e-9), p)
    assert kept
    assert comes.volume <= nearest - 0.05e-9
    assert pole_volume(one.shape(lengths, edge)) == comes.volume
    assert not turned(one, Making(least_radius=0.3e-3, most_volume=nearest - 20e-9), p)[3]
    over = turned(one, Making(least_radius=0.3e-3, least_volume=nearest + 0.01e-9), p)
    assert over[3]
    assert over[2].volume >= nearest + 0.01e-9


def test_dome_radius_limit_is_the_sphere() -> None:
    one = form("dome")
    s = 0.5e-3
    sphere = (R**2 + s**2) / (2 * s)
    assert made(one, np.array([s])).radius == pytest.approx(sphere, rel=1e-12)
    g = limits(one, Making(least_radius=sphere))
    assert np.min(g(np.array([s]))) == pytest.approx(0.0, abs=1e-12)
    assert np.min(g(np.array([1.2 * s]))) < 0


def test_volume_is_that_of_the_rod() -> None:
    assert pole_volume(form("diameter").shape(np.array([4e-3]))) == pytest.approx(math.pi * 4e-6 * 17e-3, rel=1e-9)


@pytest.mark.parametrize(
    ("name", "points", "words"),
    [("bevle", 6, ("bevle", "bevel")), ("profile", 2, ("--points", "3 to")), ("profile", 51, ("--points", "50"))],
)
def test_impossible_forms_are_told(name: str, points: int, words: tuple[str, ...]) -> None:
    with pytest.raises(CaseError) as told:
        form(name, points=points)
    assert all(word in str(told.value) for word in words)


def test_some_of_the_poles_that_are_made_alike_become_an_entry_of_their_own() -> None:
    path = find_case("lap-steel-eight")
    data = read_toml(path)
    case = load_case("lap-steel-eight")
    entry, poles = chosen_poles(case, (6, 7))
    assert (entry, poles) == (1, (6, 7))
    tip = {"shape": "domed", "rise": "0.4 mm"}
    parts = [{**data["pole"][1]["part"][0], "tip": tip}]
    text, made_case = changed_case(path.read_text(), data, case, entry, poles, parts, {}, "a remark")
    assert [made_case.pole_numbers(i) for i in range(3)] == [(1, 2, 3, 4), (5, 8), (6, 7)]
    tips = [pole.part[0].tip.shape for pole in made_case.pole]
    assert tips == ["flat", "cupped", "domed"]
    assert text.startswith("# a remark\n")
    assert read_case(tomllib.loads(text), materials=built_in_uses()) == made_case


def test_a_shape_the_case_cannot_hold_is_told() -> None:
    """A rod as wide as the coil's window and more."""
    path = find_case("bench-single")
    data = read_toml(path)
    parts = [{**data["pole"][0]["part"][0], "diameter": "6.5 mm"}]
    with pytest.raises(CaseError, match=r"no possible case.*winding"):
        changed_case(path.read_text(), data, load_case("bench-single"), 0, (1,), parts, {}, "")
