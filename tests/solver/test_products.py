"""Products on two cores are those on one, to the last digit, and are shared only while the other core is free."""

from __future__ import annotations

import os
import sys
import threading

import numpy as np
import pytest
from scipy.sparse import csr_matrix, random_array

from stringflux.solver import products
from stringflux.solver.aside import allow, aside
from stringflux.solver.products import Product

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="another core is asked for on Linux alone")
RNG = np.random.default_rng(7)
LARGE = csr_matrix(random_array((4000, 3000), density=0.03, rng=RNG))


@pytest.fixture
def threads(monkeypatch: pytest.MonkeyPatch) -> set[int]:
    """Those that multiplied."""
    seen: set[int] = set()
    product = csr_matrix.__matmul__
    monkeypatch.setattr(csr_matrix, "__matmul__", lambda self, other: (
        seen.add(threading.get_ident()), product(self, other))[1])
    return seen


@pytest.mark.usefixtures("two_cores")
@pytest.mark.parametrize("kind", [np.float32, np.float64, complex])
@pytest.mark.parametrize("columns", [(), (3,)])
def test_two_cores_give_the_same_digits(threads: set[int], kind: type, columns: tuple[int, ...]) -> None:
    matrix, vectors = LARGE.astype(kind), RNG.normal(size=(3000, *columns)).astype(kind)
    found = Product(matrix) @ vectors
    assert len(threads) == 2
    allow(False)
    assert np.array_equal(found, matrix @ vectors)
    assert np.array_equal(found, Product(matrix) @ vectors)


def test_a_process_that_is_not_ours_has_one_thread(threads: set[int]) -> None:
    assert (Product(LARGE) @ np.ones(3000)).shape == (4000,)
    assert threads == {threading.get_ident()}


@pytest.mark.usefixtures("two_cores")
def test_a_copy_at_work_has_the_other_core(threads: set[int]) -> None:
    wait, go_on = os.pipe()
    begun = aside(lambda: os.read(wait, 1))
    Product(LARGE) @ np.ones(3000)
    assert threads == {threading.get_ident()}
    os.write(go_on, b"x")
    while len(threads) == 1:  # until it is done, though it has not been asked yet
        Product(LARGE) @ np.ones(3000)
    assert begun() == b"x"
    os.close(wait)
    os.close(go_on)


@pytest.mark.usefixtures("two_cores")
def test_a_copy_multiplies_by_itself() -> None:
    """The other thread is not in it: it would wait for ever."""
    Product(LARGE) @ np.ones(3000)
    assert products._helper.cache_info().currsize == 1
    assert np.array_equal(aside(lambda: Product(LARGE) @ np.ones(3000))(), LARGE @ np.ones(3000))


def test_small_ones_stay_whole() -> None:
    assert Product(csr_matrix(np.eye(3)))._halves is None
