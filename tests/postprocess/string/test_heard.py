"""Slopes and pull of strings whose metal remembers: against other rests, over heights, without pinning."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest

from rigs.source_tree import CLOSE_BASS
from stringflux.cases import load_case, solve
from stringflux.geometry.shapes.row import SteelState
from stringflux.postprocess.string.heard import factor_over_heights, heard_pull, heard_slopes, swung, swung_string
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.linkage import RestStencil, rest_model, rest_slopes
from stringflux.postprocess.string.loop import SwungString
from stringflux.postprocess.string.model import around, string_model
from stringflux.postprocess.string.pull import force, pull_of

pytestmark = pytest.mark.usefixtures("shared_solutions")

STRINGS = [("bench-single", 0), ("baritone-six", 0), (CLOSE_BASS, 2)]


@lru_cache
def over(name: str, string: int, state: SteelState = "played"):  # type: ignore[no-untyped-def]
    solved = solve(load_case(name, {"strings.state": state}), quality="draft").solved
    shape = solved.strings[string].shape
    return solved.solution().field, shape, layers_of(shape, solved.materials)


@pytest.mark.parametrize(("name", "string"), STRINGS)
def test_slope_with_the_gap(name: str, string: int) -> None:
    """Against S of the string put in place 0.1 mm lower and higher."""
    field, shape, layers = over(name, string)
    found = heard_slopes(field, shape, layers)
    low, high = (heard_slopes(field, replace(shape, axis_height=shape.axis_height + d), layers).z
                 for d in (-0.1e-3, 0.1e-3))
    assert found.gap_slope == pytest.approx(20 * np.log10(high / low) / 0.2e-3, rel=0.01)
    assert found.gap_slope < rest_slopes(rest_model(field, shape, layers)).gap_slope  # falls faster than on the curve


@lru_cache
def close() -> tuple:  # type: ignore[type-arg]
    solved = solve(load_case("bench-single", {"strings.gap": "0.3 mm"}), quality="draft").solved
    shape = solved.strings[0].shape
    return solved.solution().field, shape, layers_of(shape, solved.materials)


def test_slope_with_the_gap_close_to_a_face() -> None:
    field, shape, layers = close()
    low, high = (heard_slopes(field, replace(shape, axis_height=shape.axis_height + d), layers).z
                 for d in (-0.02e-3, 0.02e-3))
    expected = 20 * np.log10(high / low) / 0.04e-3
    assert heard_slopes(field, shape, layers).gap_slope == pytest.approx(expected, rel=0.01)


def test_pull_across_close_to_a_face() -> None:
    """Without pinning, against forces on the curve at the same places from a table of its own."""
    field, shape, layers = close()
    free = tuple(replace(layer, law=replace(layer.law, pinning=1e-9)) for layer in layers)
    _, stiffness = SwungString(field, shape, free, sideways=True).pulled()
    angle = 2 * np.pi * np.arange(16) / 16
    y, z = shape.y + 0.1e-3 * np.sin(angle), np.full(16, shape.axis_height)
    model = string_model(field, shape, layers, around(shape, 0.25e-3))
    state = model.at(y, z)
    across = force(model, y, z, state.moment, state.moment_across)[0]
    assert stiffness == pytest.approx(-2 * np.mean(across * np.sin(angle)) / 0.1e-3, rel=3e-3)


@pytest.mark.parametrize(("name", "string"), STRINGS)
def test_factor_over_heights(name: str, string: int) -> None:
    field, shape, layers = over(name, string)
    f = factor_over_heights(field, shape, layers, shape.axis_height - 1e-3, shape.axis_height + 2e-3)
    for moved in (-0.6e-3, 0.0, 1.3e-3):
        there = replace(shape, axis_height=shape.axis_height + moved)
        curve = rest_slopes(rest_model(field, there, layers)).z
        assert f(there.axis_height) == pytest.approx(heard_slopes(field, there, layers).z / curve, rel=2e-3)


def test_states_of_the_steel() -> None:
    """A string that was only put in place answers less than one that was played, and both less than one curve."""
    states: tuple[SteelState, ...] = ("new", "played", "curve")
    new, played, curve = (abs(heard_slopes(*over("bench-single", 0, state)).z) for state in states)
    assert 0.85 * curve < new < played < curve
    assert curve == abs(rest_slopes(rest_model(*over("bench-single", 0))).z)
    assert factor_over_heights(*over("bench-single", 0, "curve"), 3e-3, 5e-3)(4e-3) == 1.0


def test_pull_is_that_of_the_way() -> None:
    """F_z over a loop of its own makes heat and stiffness; the mean over it is the force; k falls with the memory."""
    field, shape, layers = over("bench-single", 0)
    curve, found = pull_of(rest_model(field, shape, layers)), heard_pull(field, shape, layers)
    assert found.force_z == pytest.approx(curve.force_z, rel=0.05)
    assert curve.stiffness_z < found.stiffness_z < 0.85 * curve.stiffness_z
    assert (found.curve_z, found.reversible_z) == (curve.stiffness_z, curve.reversible_z)
    assert found.softer[1] == pytest.approx(found.stiffness_z / curve.stiffness_z)
    string = SwungString(field, shape, layers)
    assert heard_pull(field, shape, layers, string=string) == found
    held = tuple(replace(layer, law=replace(layer.law, pinning=0.0)) for layer in layers)
    assert heard_pull(field, shape, held) == curve
    free = SwungString(field, shape, tuple(replace(layer, law=replace(layer.law, pinning=1e-9)) for layer in layers))
    force, stiffness = free.pulled()
    assert force[1] == pytest.approx(curve.force_z, rel=2e-3)
    assert stiffness == pytest.approx(curve.stiffness_z, rel=2e-3)


def test_heard_across_only() -> None:
    """Midway between two rods of opposite polarity."""
    solved = solve(load_case(Path(__file__).parents[2] / "unheard.toml"), quality="draft").solved
    shape, field = solved.strings[1].shape, solved.solution().field
    layers = layers_of(shape, solved.materials)
    curve = RestStencil(rest_model(field, shape, layers)).static()
    sideways = swung_string(curve, field, shape, layers)
    assert not curve.heard
    assert sideways is not None
    assert sideways.sideways
    assert 0.4 * abs(curve.y) < abs(swung(curve, field, shape, layers).y) < abs(curve.y)
