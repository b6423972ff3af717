"""What the other strings do is in every figure of a string: all commands mean the same S."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.cases import Pickup, Pluck, load_case, solve
from stringflux.cases.files.load import read_content
from stringflux.cases.jobs.turns import _level
from stringflux.cases.solved.solve_row import one_thread
from stringflux.cases.studies.balance.levels import CasePlant
from stringflux.cases.studies.designs.design import Design
from stringflux.cases.studies.shape.goals import figures_of
from stringflux.postprocess.plucked.sensed import SWING
from stringflux.postprocess.string.aperture import aperture
from stringflux.postprocess.string.heard import swing_slope
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.linkage import RestStencil, rest_model
from stringflux.solver.row.solve import SolvedRow

NAME, NUMBER = "baritone-six", 2
COUNTED = 0.015
"""Of its S, at least, the others take from that string."""
SAME, TABLES = 1e-9, 3e-4
"""The same chain; and with fields tabulated over another box, or a curve of another degree."""


@pytest.fixture(scope="module")
def pickup() -> Pickup:
    return solve(load_case(NAME), quality="draft")


@pytest.fixture(scope="module")
def S(pickup: Pickup) -> float:
    return pickup.prediction(maps=False).strings[NUMBER - 1].sensitivity


def test_it_is_counted(pickup: Pickup, S: float) -> None:
    effect = pickup.neighbours()[NUMBER - 1]
    assert effect.sensitivity < -COUNTED
    assert effect.linkage < effect.sensitivity


def test_loop_and_aperture(pickup: Pickup, S: float) -> None:
    assert pickup.loop(NUMBER).sensitivity == pytest.approx(S, rel=TABLES)
    place, solved = pickup.solved.strings[NUMBER - 1], pickup.solved
    model = rest_model(solved.solution().field, place.shape, layers_of(place.shape, solved.materials))
    stencil = RestStencil(model)
    alone = abs(stencil.reversible(stencil.static().rest))
    counted = pickup.prediction(maps=False).strings[NUMBER - 1].sensitivity_reversible / alone
    assert counted < 1 - COUNTED
    assert pickup.aperture(NUMBER).weights.slope_z / aperture(model).slope_z == pytest.approx(counted, rel=TABLES)


def test_signal_and_hum(pickup: Pickup, S: float) -> None:
    played = pickup.played(NUMBER)
    assert abs(played.string.coils[0].slope()) == pytest.approx(S, rel=5e-3)  # of a map's surface
    shape, solved = pickup.solved.strings[NUMBER - 1], pickup.solved
    unit = solved.unit_fields()
    with one_thread():
        alone = swing_slope(unit.field, shape.shape, layers_of(shape.shape, solved.materials), SWING,
                            solved.numerics.string)
    speed = 2 * np.pi * shape.pitch * SWING / np.sqrt(2)
    heard = pickup.hum().signal[NUMBER - 1] / (speed * abs(unit.turns))
    assert heard / alone - 1 == pytest.approx(pickup.neighbours()[NUMBER - 1].sensitivity, abs=3e-3)
    assert heard < alone * (1 - COUNTED / 2)


def test_studies(pickup: Pickup, S: float) -> None:
    design = Design(pickup.solved)
    with one_thread():
        assert abs(design.turns * design.rests()[NUMBER - 1].slope) == pytest.approx(S, rel=SAME)
        level = _level(pickup.solved, pickup.solved.among(pickup.solved.unit_fields().field),
                       pickup.solved.strings[NUMBER - 1])
    assert 10 ** (level / 20) * abs(design.turns) == pytest.approx(S, rel=SAME)


@pytest.mark.slow
def test_balance(pickup: Pickup, S: float) -> None:
    plant = CasePlant(read_content(NAME), pickup.case, measure="sensitivity", pull=False, quality="draft",
                      higher=1e-3, pluck=Pluck(displacement=1e-3))
    lows = np.array([s.underside for s in pickup.solved.strings])
    faces = np.array([p.face for p in pickup.case.placed_poles()])
    with one_thread():
        level = plant.measure(faces, lows).level[NUMBER - 1]
        curve = plant.curves(faces, lows)[NUMBER - 1]
    assert 10 ** (level / 20) == pytest.approx(S, rel=TABLES)
    assert curve.level(pickup.solved.strings[NUMBER - 1].gap) == pytest.approx(level, abs=0.01)


def test_the_figures_of_a_searched_shape(pickup: Pickup, S: float) -> None:
    row, solved = pickup.solved.solution(), pickup.solved
    assert isinstance(row, SolvedRow)
    with one_thread():
        found, searched = (figures_of(row, pickup.case, solved.materials, [NUMBER], ["output"],
                                      solved.numerics.string, curve=curve)["output"] for curve in (False, True))
    record, effect = pickup.prediction(maps=False).strings[NUMBER - 1], pickup.neighbours()[NUMBER - 1]
    assert found == pytest.approx(S, rel=SAME)
    assert searched == pytest.approx(record.sensitivity_curve / (1 + effect.sensitivity_curve), rel=TABLES)
