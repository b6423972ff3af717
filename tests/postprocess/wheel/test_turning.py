"""λ over the angle to e over time: the series, and the laws of speed and frequency."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.postprocess.wheel.turning import ToothLinkage, face_share, skin_depth

N = 24
A = np.array([9e-3, 4e-4, -2e-5, 3e-6, 1e-6])


@pytest.fixture(scope="module")
def tooth() -> ToothLinkage:
    angles = np.linspace(0.0, np.pi / N, 9)
    return ToothLinkage(gap=1e-3, teeth=N, angles=angles,
                        linkage=np.cos(np.multiply.outer(angles, N * np.arange(5))) @ A)


def test_a_few_cosines_come_back(tooth: ToothLinkage) -> None:
    assert tooth.coefficients[:5] == pytest.approx(A, abs=1e-15)
    assert tooth.coefficients[5:] == pytest.approx(np.zeros(4), abs=1e-15)
    assert tooth.at(tooth.angles) == pytest.approx(tooth.linkage, rel=1e-12)
    assert tooth.second == pytest.approx(2 * 2e-5 / 4e-4)
    assert tooth.swing == pytest.approx(2 * (A[1] + A[3]))


def test_the_series_goes_through_every_position(tooth: ToothLinkage) -> None:
    """Whatever λ is there, the shortest wave that they know among it."""
    rough = ToothLinkage(gap=1e-3, teeth=N, angles=tooth.angles, linkage=np.random.default_rng(1).normal(size=9))
    assert rough.at(rough.angles) == pytest.approx(rough.linkage, abs=1e-12)


def test_voltage_is_the_falling_of_the_linkage(tooth: ToothLinkage) -> None:
    t, h, r = np.linspace(0.0, 0.1, 301), 1e-7, 3.0
    turn = 2 * np.pi * r
    falling = -(tooth.at(turn * (t + h)) - tooth.at(turn * (t - h))) / (2 * h)
    assert tooth.emf(t, r) == pytest.approx(falling, abs=1e-6 * turn * tooth.steepest)
    assert np.max(np.abs(tooth.emf(t, r))) == pytest.approx(turn * tooth.steepest, rel=1e-3)


def test_frequency_is_teeth_times_turns(tooth: ToothLinkage) -> None:
    """Of one whole second of e: the strongest line, and the number of times that e rises through 0."""
    for r in (2.0, 5.0):
        t = np.arange(20000) / 20000
        e = tooth.emf(t + 1e-5, r)
        assert np.argmax(np.abs(np.fft.rfft(e))) == N * r
        assert np.count_nonzero((e[:-1] < 0) & (e[1:] >= 0)) == N * r - 1  # and that at the very beginning


def test_twice_as_fast_is_twice_as_high_and_the_area_stays(tooth: ToothLinkage) -> None:
    areas = []
    for r in (1.0, 2.0):
        half = np.linspace(0.0, 0.5 / (N * r), 2001)
        areas.append(np.trapezoid(tooth.emf(half, r), half))
    assert areas == pytest.approx([tooth.swing] * 2, rel=1e-6)
    t = np.linspace(0.0, 1 / N, 101)
    assert tooth.emf(t / 2, 2.0) == pytest.approx(2 * tooth.emf(t, 1.0), rel=1e-12)


def test_share_of_a_face() -> None:
    """Far off a face is its area over 4 π z² against w/(2 π z): l/(2 z)."""
    assert face_share(1e-3, 2e-3, 1.0) == pytest.approx(2e-3 / 2, rel=1e-5)
    assert face_share(3e-3, 3e-3, 1e-9) == pytest.approx(1.0, rel=1e-5)


def test_skin_of_copper_at_mains() -> None:
    """9.35 mm at 50 Hz, as handbooks have it (memory)."""
    assert skin_depth(50.0, 1.724e-8, 1.0) == pytest.approx(9.35e-3, rel=2e-3)
    assert skin_depth(50.0, np.inf, 1.0) == np.inf
