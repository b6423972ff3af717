"""Modes of a string: the ideal and the stiff one, the pluck, the decay."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.linalg import eigh

from stringflux.postprocess.plucked.modes import Damping, Pluck, VibratingString, plucked, ringing

PLAIN = VibratingString(pitch=196.0, unit_mass=1.143e-3, length=0.648, diameter=0.43e-3)
IDEAL = replace(PLAIN, youngs_modulus=1e-9)
UNDAMPED = Damping(all_partials=1e12, at_1_khz=1e12)


def test_inharmonicity_by_hand() -> None:
    """Fletcher, J. Acoust. Soc. Am. 36 (1964) 203: f_n = n f₀ √(1 + B n²), B = π³ E d⁴/(64 T L²) (from memory)."""
    T = 1.143e-3 * (2 * 0.648 * 196) ** 2
    B = np.pi**3 * 207e9 * 0.43e-3**4 / (64 * T * 0.648**2)
    assert PLAIN.inharmonicity == pytest.approx(B)
    f, n = PLAIN.frequencies(), 10
    assert f[0] == pytest.approx(196.0)
    assert f[n - 1] / f[0] == pytest.approx(n * np.sqrt((1 + B * n * n) / (1 + B)))
    assert IDEAL.frequencies() == pytest.approx(196.0 * np.arange(1, 103))


def test_stiff_modes_against_a_finite_element_string() -> None:
    """T w'' and E I w'''' with pinned ends, cubic Hermite elements: a second route to the frequencies. A stiffer
    string than any real one, so that the stiffness shows in the first modes."""
    s = replace(PLAIN, diameter=1.5e-3)
    T, EI, mu, n = s.tension, s.youngs_modulus * np.pi * s.diameter**4 / 64, s.unit_mass, 40
    h = s.length / n
    bend = np.array([[12, 6 * h, -12, 6 * h], [6 * h, 4 * h**2, -6 * h, 2 * h**2],
                     [-12, -6 * h, 12, -6 * h], [6 * h, 2 * h**2, -6 * h, 4 * h**2]]) / h**3
    pull = np.array([[36, 3 * h, -36, 3 * h], [3 * h, 4 * h**2, -3 * h, -(h**2)],
                     [-36, -3 * h, 36, -3 * h], [3 * h, -(h**2), -3 * h, 4 * h**2]]) / (30 * h)
    mass = np.array([[156, 22 * h, 54, -13 * h], [22 * h, 4 * h**2, 13 * h, -3 * h**2],
                     [54, 13 * h, 156, -22 * h], [-13 * h, -3 * h**2, -22 * h, 4 * h**2]]) * h / 420
    K, M = np.zeros((2 * n + 2, 2 * n + 2)), np.zeros((2 * n + 2, 2 * n + 2))
    for e in range(n):
        at = slice(2 * e, 2 * e + 4)
        K[at, at] += EI * bend + T * pull
        M[at, at] += mu * mass
    free = [i for i in range(2 * n + 2) if i not in (0, 2 * n)]
    omega = np.sqrt(eigh(K[np.ix_(free, free)], M[np.ix_(free, free)], eigvals_only=True)[:6])
    # the elements' error goes as h⁴: 1.3e-5 in the sixth mode
    assert omega / omega[0] == pytest.approx(s.frequencies()[:6] / s.pitch, rel=3e-5)


def test_ideal_pluck() -> None:
    """Ideal string pulled by d at β L: a_n = 2 d sin(nπβ)/(n² π² β (1 − β)) (exact, all modes)."""
    d, beta = 1e-3, 0.2
    v = plucked(replace(IDEAL, pitch=20.0), Pluck(displacement=d, at=beta))
    n = np.arange(1, 11)
    expected = 2 * d * np.sin(n * np.pi * beta) / (n**2 * np.pi**2 * beta * (1 - beta))
    # 1000 modes meet the height d where the sum over all would: their tail is 2/(π² 1000 β(1−β)) of it at most
    assert v.amplitude[:10] == pytest.approx(expected, rel=2e-3, abs=1e-9)


def test_force_bends_an_ideal_string_by_statics() -> None:
    """d = F β (1 − β) L/T (exact)."""
    beta, F = 0.3, 0.5
    s = replace(IDEAL, pitch=20.0)
    v = plucked(s, Pluck(force=F, at=beta))
    at = s.shapes(np.array([beta * s.length]), len(v.amplitude))[:, 0]
    assert v.amplitude @ at == pytest.approx(F * beta * (1 - beta) * s.length / s.tension, rel=2e-3)


def test_displacement_is_met_at_the_place_of_plucking() -> None:
    v = plucked(PLAIN, Pluck(displacement=1.3e-3, at=1 / 7))
    at = PLAIN.shapes(np.array([PLAIN.length / 7]), len(v.amplitude))[:, 0]
    assert v.amplitude @ at == pytest.approx(1.3e-3, rel=1e-12)


def test_pluck_in_the_middle_has_no_even_partials() -> None:
    v = plucked(PLAIN, Pluck(displacement=1e-3, at=0.5))
    assert np.max(np.abs(v.amplitude[1::2])) < 1e-12 * v.amplitude[0]


def test_springs_move_the_two_polarisations_apart() -> None:
    """½ k sin²/(½ μ L ω²) of the fundamental; the node of the fourth mode does not feel a spring at a quarter."""
    s, k = PLAIN, (2.0, -10.0)
    v = plucked(s, Pluck(displacement=1e-3), springs=k, spring_at=s.length / 4)
    modal = 0.5 * s.unit_mass * s.length * (2 * np.pi * s.pitch) ** 2
    assert v.frequency_z[0] / s.pitch - 1 == pytest.approx(0.5 * k[1] * 0.5 / modal)
    assert v.frequency_y[0] > s.pitch > v.frequency_z[0]
    assert v.frequency_z[3] == pytest.approx(s.frequencies()[3], rel=1e-14)


def test_table_of_blocks_is_the_sum_of_cosines() -> None:
    v = plucked(PLAIN, Pluck(displacement=1e-3))
    rate, n = 8000.0, 1234
    u, velocity = ringing(v.amplitude, v.frequency_z, v.rate, n, rate)
    t = np.arange(n) / rate
    phase = np.exp(np.multiply.outer(t, -v.rate + 2j * np.pi * v.frequency_z))
    assert u == pytest.approx((phase @ v.amplitude).real, abs=1e-12)
    expected = (phase @ (v.amplitude * (-v.rate + 2j * np.pi * v.frequency_z))).real
    assert velocity == pytest.approx(expected, abs=1e-9 * float(np.max(np.abs(expected))))


def test_string_returns_after_a_period() -> None:
    """Without damping and stiffness the shape is back after 1/f and mirrored after half of it."""
    s = replace(IDEAL, damping=UNDAMPED, pitch=200.0)
    v = plucked(s, Pluck(displacement=1e-3))
    u, _ = ringing(v.amplitude, v.frequency_z, v.rate, 481, 48000.0)
    assert u[240] == pytest.approx(u[0], rel=1e-9)
    assert u[480] == pytest.approx(u[0], rel=1e-9)


def test_decay_of_one_partial() -> None:
    """1/e after τ of 1/τ₀ + (f/1 kHz)²/τ₁."""
    d = Damping(all_partials=2.0, at_1_khz=0.5)
    assert 1 / d.rates(np.array([500.0, 1000.0])) == pytest.approx([1.0, 0.4])


def test_pluck_says_what_it_needs() -> None:
    with pytest.raises(ValueError, match="one of them"):
        Pluck()
