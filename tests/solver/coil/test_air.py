"""The race-track coil in air against closed forms, handbook tables and magpylib."""

from __future__ import annotations

import magpylib
import numpy as np
import pytest
from scipy.special import ellipe, ellipk

from stringflux.geometry.shapes.row import Racetrack
from stringflux.solver.coil.air import ANGLES, field, inductance, vector_potential
from stringflux.solver.constants import MU0
from stringflux.solver.interpolation import gauss

RACETRACK = Racetrack(inner_radius=3e-3, straight=50e-3, build=4e-3, bottom=-13e-3, top=-2e-3, turns=1)


def filaments(coil: Racetrack, points: np.ndarray, n: int = 10, corners: int = 361) -> np.ndarray:
    """Field by magpylib: n × n stadium filaments over the section, arcs of short straight pieces."""
    total = np.zeros_like(points)
    g, w = gauss(n)
    for a, wa in zip(g, w, strict=True):
        rho = coil.inner_radius + coil.build * a
        t = np.linspace(0, np.pi, corners)
        # same mean radius for the polygon as for the arc
        rho_out = rho * (1 + (t[1] - t[0]) ** 2 / 12)
        x, y = rho_out * np.cos(t), rho_out * np.sin(t) + coil.straight / 2
        flat = np.c_[np.r_[x, -x, x[:1]], np.r_[y, -y, y[:1]]]
        for b, wb in zip(g, w, strict=True):
            z = coil.bottom + (coil.top - coil.bottom) * b
            line = magpylib.current.Polyline(current=1.0, vertices=np.c_[flat, np.full(len(flat), z)])
            total += wa * wb * line.getB(points.T).T
    return total


def test_racetrack_field_matches_magpylib() -> None:
    points = np.array([[0.3e-3, -25e-3, 3e-3], [1e-3, 5e-3, 3e-3], [10e-3, 3e-3, 1e-3],
                       [1e-3, 30e-3, 1e-3], [0.0, 0.0, -7e-3], [20e-3, -40e-3, 5e-3]]).T
    ours, theirs = field(RACETRACK, points), filaments(RACETRACK, points)
    scale = np.linalg.norm(theirs, axis=0)
    assert np.max(np.abs(ours - theirs) / scale) < 5e-5  # limited by the filaments


def test_curl_of_vector_potential_is_the_field() -> None:
    rng = np.random.default_rng(1)
    p = rng.uniform([-8e-3, -32e-3, 0.5e-3], [8e-3, 32e-3, 8e-3], (20, 3)).T
    h = 1e-5
    d = np.empty((3, 3, p.shape[1]))  # d[i, j] = ∂A_j/∂x_i
    for i in range(3):
        e = np.zeros((3, 1))
        e[i] = h
        d[i] = (vector_potential(RACETRACK, p + e) - vector_potential(RACETRACK, p - e)) / (2 * h)
    curl = np.stack([d[1, 2] - d[2, 1], d[2, 0] - d[0, 2], d[0, 1] - d[1, 0]])
    B = field(RACETRACK, p)
    assert np.max(np.abs(curl - B)) < 1e-5 * np.max(np.abs(B))


def test_divergence_is_zero() -> None:
    p = np.array([[1e-3, 4e-3], [26e-3, -10e-3], [1e-3, 3e-3]])
    h = 1e-5
    total = np.zeros(2)
    for i in range(3):
        e = np.zeros((3, 1))
        e[i] = h
        total += (field(RACETRACK, p + e) - field(RACETRACK, p - e))[i] / (2 * h)
    assert np.max(np.abs(total)) < 1e-5 * np.max(np.abs(field(RACETRACK, p))) / 1e-3


def test_mirror_symmetry() -> None:
    p = np.array([[2e-3], [11e-3], [3e-3]])
    B = field(RACETRACK, p)[:, 0]
    assert field(RACETRACK, p * [[-1], [1], [1]])[:, 0] == pytest.approx(B * [-1, 1, 1], abs=1e-14)
    assert field(RACETRACK, p * [[1], [-1], [1]])[:, 0] == pytest.approx(B * [1, -1, 1], abs=1e-14)


def test_brooks_coil() -> None:
    """Brooks coil, 2.5491 µH/m · c · N² (Grover, Inductance Calculations, 1946: 0.016994 a[cm] N² µH)."""
    c = 0.1
    coil = Racetrack(inner_radius=c, straight=0, build=c, bottom=-c / 2, top=c / 2, turns=1)
    assert inductance(coil) == pytest.approx(2.5491e-6 * c, rel=2e-4)  # the table's five digits


@pytest.mark.parametrize(("ratio", "nagaoka"), [(0.25, 0.901649), (1.0, 0.688423), (3.0, 0.429199)])
def test_nagaoka_solenoid(ratio: float, nagaoka: float) -> None:
    """Nagaoka's coefficient (Grover 1946) of a thin solenoid, diameter/length = ratio.

    Two builds, extrapolated to none: the difference goes with the build.
    """
    R, build = 0.01, 0.2e-3
    length = 2 * R / ratio
    L = [inductance(Racetrack(inner_radius=R - b / 2, straight=0, build=b, bottom=0, top=length, turns=1), 16)
         for b in (build, build / 2)]
    expected = MU0 * np.pi * R**2 / length * nagaoka
    assert 2 * L[1] - L[0] == pytest.approx(expected, rel=4e-4)  # what is left goes with build² ln(build)


# the quadrature over the angle: ten points each way leave 4e-6 here, twenty no more than the last printed digit
@pytest.mark.parametrize(("angles", "close"), [(ANGLES, 5e-6), (20, 3e-7)])
@pytest.mark.parametrize(("a", "b", "d", "nH"), [(0.20, 0.25, 0.10, 248.78736), (0.10, 0.10, 0.05, 111.26109),
                                                 (2.5e-3, 10e-3, 4e-3, 0.993273)])
def test_maxwell_loops(a: float, b: float, d: float, nH: float, angles: int, close: float) -> None:
    """Mutual inductance of coaxial loops (Maxwell, Treatise art. 701; first value Grover's example)."""
    thin = 3e-4 * a  # thinner, and the difference of the primitives loses the digits that are compared
    loop = Racetrack(inner_radius=a - thin / 2, straight=0, build=thin, bottom=-thin / 2, top=thin / 2, turns=1)
    A = vector_potential(loop, np.array([[b], [0.0], [d]]), angles)
    assert 2 * np.pi * b * A[1, 0] == pytest.approx(nH * 1e-9, rel=close, abs=0)


def test_round_coil_on_elliptic_integrals() -> None:
    """B_z of loops by complete elliptic integrals, summed over the section (exact)."""
    coil = Racetrack(inner_radius=3e-3, straight=0, build=4e-3, bottom=-13e-3, top=-2e-3, turns=1)
    r, z = 1.7e-3, 2.2e-3
    g, w = gauss(30)
    total = 0.0
    for a, wa in zip(3e-3 + 4e-3 * g, w, strict=True):
        for s, ws in zip(-13e-3 + 11e-3 * g, w, strict=True):
            beta2 = (a + r) ** 2 + (z - s) ** 2
            alpha2 = (a - r) ** 2 + (z - s) ** 2
            k2 = 1 - alpha2 / beta2
            total += wa * ws * MU0 / (2 * np.pi * np.sqrt(beta2)) * (
                ellipk(k2) + (a * a - r * r - (z - s) ** 2) / alpha2 * ellipe(k2))
    assert field(coil, np.array([[r], [0.0], [z]]))[2, 0] == pytest.approx(total, rel=1e-7)


def test_inductance_of_a_racetrack_does_not_depend_on_the_points() -> None:
    assert inductance(RACETRACK) == pytest.approx(inductance(RACETRACK, 18), rel=2e-5)


def test_sense_turns_the_field() -> None:
    p = np.array([[1e-3], [2e-3], [3e-3]])
    other = Racetrack(inner_radius=3e-3, straight=50e-3, build=4e-3, bottom=-13e-3, top=-2e-3, turns=10, sense=-1)
    assert field(other, p) == pytest.approx(-10 * field(RACETRACK, p))
    assert inductance(other) == pytest.approx(100 * inductance(RACETRACK))
