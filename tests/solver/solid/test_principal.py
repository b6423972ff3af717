"""The modes of a string's answer: found on a sample, against all singular values of what is sampled."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.solver.solid.clusters import potentials
from stringflux.solver.solid.string_answer import principal

LEAST = 2e-4  # of the largest singular value, as for strings
EXACT = 1e-12  # of the largest: round-off
BESIDE = 1.02  # times the least that so many modes can leave out; 1.0005


def seen_from_a_line(places: int) -> np.ndarray:
    """1/(4πR) at nodes in a block, of charges over it."""
    rng = np.random.default_rng(3)
    x, z = np.meshgrid(np.linspace(0, 20e-3, 40), np.geomspace(0.3e-3, 6e-3, places // 40), indexing="ij")
    block = rng.random((3, 3000)) * np.array([[15e-3], [30e-3], [-10e-3]])
    return potentials(block, np.stack([x.ravel(), np.zeros(x.size), z.ravel()]))


@pytest.mark.parametrize("places", [40, 400])
def test_modes_are_those_of_all_columns(places: int) -> None:
    """Of few charges the sample is no smaller than they are, and nothing is sampled."""
    v = seen_from_a_line(places)
    U, W = principal(v, LEAST)
    sizes = np.linalg.svd(v, compute_uv=False)
    kept = sizes > LEAST * sizes[0]
    assert U.shape[1] == np.count_nonzero(kept) > 10
    assert pytest.approx(np.eye(U.shape[1]), abs=EXACT) == U.T @ U
    assert pytest.approx(U.T @ v, abs=EXACT * sizes[0]) == W
    assert np.linalg.norm(v - U @ W, 2) < BESIDE * sizes[~kept][0]


def test_what_one_sample_does_not_hold_is_found() -> None:
    """A hundred values alike: more than a sample has columns."""
    rng = np.random.default_rng(1)
    left, right = (np.linalg.qr(rng.standard_normal((n, 120)))[0] for n in (500, 400))
    sizes = np.concatenate([np.ones(100), np.full(20, 1e-7)])
    U, W = principal(left * sizes @ right.T, LEAST)
    assert U.shape[1] == 100
    assert np.linalg.norm(W, axis=1) == pytest.approx(np.ones(100))
