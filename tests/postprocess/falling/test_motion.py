"""How the magnet moves: closed forms, and energy where a tube holds it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from stringflux.geometry import SolveError
from stringflux.geometry.arrays import Array
from stringflux.postprocess.falling.motion import GRAVITY, braked, let_go, steady, stroke


def test_let_go() -> None:
    motion = let_go(0.2, -0.3, 1e-3)
    assert motion.z[[0, -1]] == pytest.approx([0.2, -0.3])
    assert motion.t[-1] == pytest.approx(math.sqrt(2 * 0.5 / GRAVITY))
    np.testing.assert_allclose(motion.v**2 / 2 + GRAVITY * motion.z, GRAVITY * 0.2, rtol=1e-12)
    at_coil = np.argmin(np.abs(motion.z))
    assert abs(motion.z[at_coil + 1] - motion.z[at_coil]) < 1.05e-3


def test_by_hand() -> None:
    motion = steady(0.1, -0.1, 0.5, 1e-3)
    assert (motion.z[0], motion.z[-1], motion.t[-1]) == pytest.approx((0.1, -0.1, 0.4))
    assert np.all(motion.v == -0.5)
    there = stroke(0.1, 0.02, 0.5, 1e-3)
    assert (there.z[0], there.z[-1], there.z.min()) == pytest.approx((0.1, 0.1, 0.02), rel=1e-6)
    assert np.abs(there.v).max() == pytest.approx(0.5, rel=1e-5)
    np.testing.assert_allclose(np.gradient(there.z, there.t)[1:-1], there.v[1:-1], atol=1e-4)


def test_a_constant_brake_has_a_closed_form() -> None:
    """v = −v_t (1 − e^{−t/τ}), v_t = m g/k, τ = m/k."""
    mass, k = 0.01, 0.5
    motion = braked(0.1, -0.4, mass, lambda z: np.full_like(z, k), 1e-3)
    end, tau = mass * GRAVITY / k, mass / k
    np.testing.assert_allclose(motion.v, -end * (1 - np.exp(-motion.t / tau)), atol=1e-6 * end)
    np.testing.assert_allclose(motion.z, 0.1 - end * (motion.t - tau * (1 - np.exp(-motion.t / tau))), atol=1e-7)


def test_without_a_brake_it_falls() -> None:
    motion = braked(0.2, -0.2, 0.01, np.zeros_like, 1e-3)
    np.testing.assert_allclose(motion.z, 0.2 - GRAVITY * motion.t**2 / 2, atol=1e-7)


def test_what_the_tube_takes_is_what_the_magnet_lacks() -> None:
    mass = 0.01

    def brake(z: Array) -> Array:
        return np.asarray(np.where(np.abs(z) < 0.1, 0.3 * (1 - (z / 0.1) ** 2) ** 2, 0.0))

    motion = braked(0.2, -0.2, mass, brake, 0.2e-3)
    taken = np.trapezoid(brake(motion.z) * motion.v**2, motion.t)
    lost = mass * GRAVITY * 0.4 - mass * motion.v[-1] ** 2 / 2
    assert taken == pytest.approx(lost, rel=1e-5)


def test_a_magnet_that_does_not_come_down_is_said() -> None:
    with pytest.raises(SolveError, match="does not come down the tube"):
        braked(0.1, -0.4, 0.01, lambda z: np.full_like(z, 1e5), 1e-3)
