"""What strings further across do to a blade's answer: what it must be at the string itself, and either way round."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.cases import load_case, solve
from stringflux.cases.solved.solve_build import strings_over
from stringflux.geometry.arrays import Array
from stringflux.solver.line_answer import LineAnswer

CLOSE = 1e-3  # of the largest; the modes leave out 2e-4 of a charge, their equations 1e-3
MESHED = 3e-3  # of the largest: the blade's elements under either string differ; 1.6e-3 at draft, 4e-4 at normal
BETWEEN = 0.1
"""What the slope of a spline through places 1.5 mm apart leaves out along the strings; no such slope is used."""
X, Z = np.array([-19e-3, -3e-3, 0.5e-3, 6e-3]), np.full(4, 3.1e-3)
NONE = np.zeros((4, 4, 3))
WHOLE = np.array([[-1.0, -1.0, -1.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
"""A string's charges are none together: what a blade as a whole makes of a charge knows its ends."""


@pytest.fixture(scope="module")
def answer() -> LineAnswer:
    found = solve(load_case("blade-six"), quality="draft").solved.solution().field.answers[2]
    assert isinstance(found, LineAnswer)
    return found


def driven(answer: LineAnswer, y: float, x: Array = X, z: Array = Z, dipole: Array = NONE) -> Array:
    across = answer.across
    assert across is not None
    return across.driven(x, np.full_like(x, y), z, np.eye(4) if dipole is NONE else np.zeros((4, 4)), dipole, False)


def close(one: Array, other: Array, within: float = CLOSE) -> None:
    assert one == pytest.approx(other, abs=within * float(np.max(np.abs(other))))


def test_in_its_own_place_it_is_the_answer_to_the_string_itself(answer: LineAnswer) -> None:
    F = answer.factor(X, np.zeros(4), Z, False)
    close(F @ driven(answer, 1e-6), F @ answer.matrix(False) @ F.T)


@pytest.mark.parametrize(("y", "within"), [(2e-3, MESHED), (7e-3, MESHED), (-20.8e-3, 0.06)])
def test_either_string_answers_the_other_alike(answer: LineAnswer, y: float, within: float) -> None:
    """Heights differ. At 20.8 mm, where a twentieth of it is left, the blade's end is 10 mm away."""
    here, there = (WHOLE.T @ answer.factor(X, np.zeros(4), z, False) for z in (Z, Z + 0.4e-3))
    close(here @ driven(answer, y, z=Z + 0.4e-3) @ WHOLE, (there @ driven(answer, -y) @ WHOLE).T, within)


def test_further_across_is_less(answer: LineAnswer) -> None:
    F = WHOLE.T @ answer.factor(X, np.zeros(4), Z, False)
    own, near, far = (float(np.max(np.abs(F @ driven(answer, y) @ WHOLE))) for y in (1e-6, 7e-3, 20.8e-3))
    assert own > 2 * near > 8 * far


def test_dipoles_are_the_slope_of_charges(answer: LineAnswer) -> None:
    d, F = 2e-5, answer.factor(X, np.zeros(4), Z, False)
    for axis, step in enumerate(np.eye(3) * d):
        dipole = np.zeros((4, 4, 3))
        dipole[..., axis] = np.eye(4)
        slope = (driven(answer, 7e-3 + step[1], X + step[0], Z + step[2])
                 - driven(answer, 7e-3 - step[1], X - step[0], Z - step[2])) / (2 * d)
        close(F @ driven(answer, 7e-3, dipole=dipole), F @ slope, CLOSE if axis else BETWEEN)


@pytest.mark.slow
def test_the_mirror_image() -> None:
    """Of an answer 20 mm off the middle, which sees more of the blade on one side than on the other."""
    solved = solve(load_case("blade-six"), quality="draft").solved
    last, numerics = strings_over(solved.case)[-1:], solved.numerics
    found = solved.solution().over(last, solved.materials, numerics.section_mesh("draft"), numerics.string.reach,
                                   apart=True).field.answers[0]
    assert isinstance(found, LineAnswer)
    assert last[0].y > 15e-3
    image, outwards, inwards = driven(found.imaged(), -7e-3), driven(found, 7e-3), driven(found, -7e-3)
    assert image == pytest.approx(outwards)
    assert np.max(np.abs(WHOLE.T @ (image - inwards).T)) > 0.02 * np.max(np.abs(WHOLE.T @ outwards.T))
    for axis, sign in enumerate((1, -1, 1)):
        dipole = np.zeros((4, 4, 3))
        dipole[..., axis] = np.eye(4)
        image, outwards = driven(found.imaged(), -7e-3, dipole=dipole), driven(found, 7e-3, dipole=dipole)
        assert image == pytest.approx(sign * outwards)


def test_of_a_level_string_the_half_is_what_both_halves_do(answer: LineAnswer) -> None:
    across, even = answer.across, len(answer.response[0])
    assert across is not None
    at = np.abs(X), np.full(4, 7e-3), Z
    half, whole = (across.driven(*at, np.eye(4), NONE, mirrored) for mirrored in (True, False))
    beyond = across.driven(-at[0], *at[1:], np.eye(4), NONE, False)
    close(half, (whole + beyond)[:even])
    close(whole[even:], -beyond[even:])
