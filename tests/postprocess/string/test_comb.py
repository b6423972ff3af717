"""The comb of two rows: what a string over both is heard by, with the aperture as it is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import pytest

from rigs.fields.bench_rig import LINEAR_100, Wire, bench_row
from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import PlacedPole
from stringflux.postprocess.plucked.modes import VibratingString
from stringflux.postprocess.string.aperture import Aperture, aperture
from stringflux.postprocess.string.grid import string_grid
from stringflux.postprocess.string.line_fields import Span, line_fields
from stringflux.postprocess.string.linkage import RestStencil
from stringflux.postprocess.string.model import StringModel, around, string_model
from stringflux.postprocess.string.numerics import StringNumerics
from stringflux.solver.row.field import RowField
from stringflux.solver.seam import REACH
from stringflux.solver.solid.field import SeveralAnswers

APART = 18e-3
WIRE = Wire(0.215e-3, 2e-3, LINEAR_100)
STRING = VibratingString(pitch=196.0, unit_mass=1.143e-3, length=0.648, diameter=0.43e-3)
# Of the pair's response at long waves: the other row's answer to the string is left, and the grid's 0.2 %.
OTHER_ROW = 0.02
SPLINE = 1e-3  # of b: 1 mm between its places over the coils, two and more under the string
NOTCH = 0.05  # of its place: the rows' action on each other moves it


@dataclass(frozen=True)
class TwoRows:
    """The rig twice, at x = ± apart/2; `bias` and `coil` are the signs of the row at −apart/2."""

    row: RowField
    apart: float
    bias: float
    coil: float

    @property
    def mirrored(self) -> bool:
        return (self.bias, self.coil) == (1.0, 1.0)

    @property
    def spread(self) -> float:
        return self.apart / 2

    @property
    def places(self) -> tuple[PlacedPole, ...]:
        return tuple(self.row.places)

    @property
    def answers(self) -> tuple[SeveralAnswers, ...]:
        ends = ((self.apart / 2, 0.0, 0.0), (-self.apart / 2, 0.0, 0.0))
        return (SeveralAnswers(answers=(self.row.answers[0],) * 2, offsets=ends),)

    def nearest(self, y: float) -> int:
        return self.row.nearest(y)

    def parts(self, middle: float) -> tuple[Callable[[Array], Array], Callable[[Array], Array]]:
        near, away = self.row.parts(middle)
        return self._twice(near), self._twice(away)

    def _twice(self, one: Callable[[Array], Array]) -> Callable[[Array], Array]:
        by = np.array([[self.apart / 2], [0.0], [0.0]])
        signs = np.repeat([self.bias, self.coil], 3)[:, None]
        return lambda points: one(points - by) + signs * one(points + by)


def over(bias: float, coil: float, refine: float = 1.0) -> StringModel:
    field = TwoRows(bench_row().field, APART, bias, coil)
    return string_model(field, WIRE.shape, WIRE.layers, around(WIRE.shape, 0.5e-3), StringNumerics(refine=refine))


@lru_cache
def heard(bias: float, coil: float) -> Aperture:
    return aperture(over(bias, coil))


@lru_cache
def one_row() -> Aperture:
    return aperture(string_model(bench_row().field, WIRE.shape, WIRE.layers, around(WIRE.shape, 0.5e-3)))


def spectrum(w: Aperture, half_waves: Array) -> Array:
    """∫ w e^{ikx} dx for half-waves π/k."""
    return np.asarray(np.exp(1j * np.pi * np.divide.outer(w.x, half_waves)).T @ (w.length * w.up))


HALF_WAVES = np.geomspace(12e-3, 300e-3, 60)


def test_rows_in_phase_make_a_cosine() -> None:
    """2 |cos kd/2| times one row, and a notch at a half-wave of d.

    A row magnetises the string over the other one as well. Where both are turned round that part changes its sign and
    all else stays, so the mean of both kinds of pairs is the sum of two rows.
    """
    alike, opposite = (spectrum(heard(s, s), HALF_WAVES) for s in (1.0, -1.0))
    one = spectrum(one_row(), HALF_WAVES)
    comb = 2 * np.abs(np.cos(np.pi * APART / HALF_WAVES / 2)) * np.abs(one)
    assert np.max(np.abs(np.abs(alike + opposite) / 2 - comb)) < OTHER_ROW * np.max(comb)
    # 13 % each way at long waves (computed, not a published value)
    assert 0.1 < (np.abs(opposite) - np.abs(alike))[-1] / comb[-1] < 0.4
    fine = np.linspace(14e-3, 24e-3, 401)
    for sign in (1.0, -1.0):
        assert fine[np.argmin(np.abs(spectrum(heard(sign, sign), fine)))] == pytest.approx(APART, rel=NOTCH)


def test_rows_out_of_phase_make_a_sine() -> None:
    """2 |sin kd/2|: nothing of long waves, all of half-waves of d; again the mean of both kinds of pairs."""
    first, second = (spectrum(heard(s, -s), HALF_WAVES) for s in (1.0, -1.0))
    comb = 2 * np.abs(np.sin(np.pi * APART / HALF_WAVES / 2)) * np.abs(spectrum(one_row(), HALF_WAVES))
    assert np.max(np.abs(np.abs(first + second) / 2 - comb)) < OTHER_ROW * np.max(comb)
    for sign in (1.0, -1.0):
        assert abs(heard(sign, -sign).slope_z) < 1e-3 * abs(one_row().slope_z)


def test_two_points_hear_a_mode_at_both_places() -> None:
    """Two narrow apertures at p ± d/2: sin(nπp/L) cos(nπd/2L) (exact, without stiffness)."""
    spikes = Aperture(x=np.array([-APART / 2, APART / 2]), up=np.ones(2), across=np.ones(2), length=np.ones(2))
    p, n = 95e-3, np.arange(1, 41)
    limp = replace(STRING, diameter=1e-9)
    expected = np.sin(n * np.pi * p / 0.648) * np.cos(n * np.pi * APART / 2 / 0.648)
    assert spikes.mean(lambda x: limp.shapes(p - x, 40)) == pytest.approx(expected, abs=1e-9)


def test_the_nearer_row_lies_at_the_nearer_place() -> None:
    """x runs towards the bridge: a string over one row at +9 mm is heard 9 mm nearer to it."""
    w = replace(one_row(), x=one_row().x + APART / 2)
    p, n = 95e-3, 3
    at = w.mean(lambda x: STRING.shapes(p - x, n))
    assert at == pytest.approx(STRING.shapes(np.array([p - APART / 2]), n)[:, 0], rel=2e-3)  # aperture of some mm


def test_whole_grid_and_half_of_it() -> None:
    """A pair that is its own mirror image gives on half a grid what it gives on a whole one."""
    half = over(1.0, 1.0)
    slanted = replace(WIRE.shape, slope=1e-9)  # too little to matter, but the grid is then a whole one
    whole = string_model(TwoRows(bench_row().field, APART, 1.0, 1.0), slanted,
                         WIRE.layers, around(slanted, 0.5e-3))
    assert half.grid.mirrored
    assert not whole.grid.mirrored
    assert not over(-1.0, -1.0).grid.mirrored
    a, b = (RestStencil(m).static() for m in (half, whole))
    assert b.z == pytest.approx(a.z, rel=1e-5)
    assert b.linkage == pytest.approx(a.linkage, rel=1e-5)


@pytest.mark.parametrize("signs", [(1.0, 1.0), (-1.0, -1.0)])
def test_the_grid_is_fine_enough_over_both_rows(signs: tuple[float, float]) -> None:
    """Steps are finest at x = 0 and grow from 8 mm on; half as long over rows at 9 mm they change S by 0.2 %."""
    coarse, fine = (RestStencil(over(*signs, refine=n)).static().z for n in (1.0, 2.0))
    assert coarse == pytest.approx(fine, rel=3e-3)


@pytest.mark.parametrize("middle", [0.0, 3e-3, 20e-3])
def test_both_parts_together_are_the_fields(middle: float) -> None:
    field = bench_row().field
    points = np.array([[0.0, 1e-3, -4e-3], [middle, middle, middle + 1e-3], [2e-3, 3e-3, 4e-3]])
    near, away = field.parts(middle)
    whole = np.concatenate([field.bias(points), field.reciprocal(points)])
    assert near(points) + away(points) == pytest.approx(whole, rel=1e-12, abs=1e-15)


@pytest.mark.parametrize("height", [1e-3, 2e-3, 4e-3])
def test_smooth_fields_of_coils_off_the_middle_are_tabulated_closely(height: float) -> None:
    """The coils' air field on all nodes and by splines from fewer places, as part of its largest value."""
    field = TwoRows(bench_row().field, APART, 1.0, -1.0)
    x = string_grid(height, REACH, mirrored=False).x
    span = Span(y=(-1e-3, 1e-3), z=(height - 1e-4, height + 1e-4), ny=3, nz=3)
    found = line_fields(field, x, 0.0, span).at(np.zeros(1), np.array([height]))[0]
    near, away = field.parts(0.0)
    points = np.stack([x, 0 * x, np.full_like(x, height)])
    exact = near(points) + away(points)
    assert np.max(np.abs(found - exact)[3:]) < SPLINE * np.max(np.abs(exact[3:]))
