"""Gauss–Newton steps that bring strings to one level: where they end, within which bounds, after how many looks."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from stringflux.cases.studies.shape.levelled import Levelled, levelled
from stringflux.cases.studies.shape.numerics import SHIPPED
from stringflux.geometry.arrays import Array
from stringflux.solver.shape.following_mesh import FoldedMeshError

LOW, HIGH = np.zeros(4), np.ones(4)
MIX = np.array([[8.0, 1.0, 0.0, 1.0], [1.0, 7.0, 1.0, 0.0], [0.0, 1.0, 9.0, 1.0]])
LEVELS = np.array([1.2, -0.9, -0.3])


def strings(reach: float = np.inf) -> tuple[Levelled, list[Array], Callable[[Array], Array]]:
    """Three strings over an edge of four heights that speak in their logarithms; which looks were asked."""
    asked = list[Array]()

    def levels(x: Array) -> Array:
        if np.max(np.abs(x - 1)) > reach:
            raise FoldedMeshError("too far")
        asked.append(x)
        r = LEVELS + MIX @ np.log(0.3 + x)
        return np.asarray(r - r.mean())

    def slopes(x: Array) -> Array:
        J = MIX / (0.3 + x)
        return np.asarray(J - J.mean(axis=0))

    return Levelled(levels=levels, slopes=slopes), asked, levels


def test_three_strings_come_level_in_few_looks() -> None:
    of, asked, levels = strings()
    found = levelled(of, HIGH, LOW, HIGH)
    assert np.sqrt(np.mean(levels(found.x) ** 2)) == pytest.approx(found.rms, abs=1e-12)
    assert found.rms < 2 * SHIPPED.level  # a step more would gain less than one
    assert not found.stuck
    assert len(asked) < 10
    assert np.all((found.x >= LOW) & (found.x <= HIGH))
    assert np.max(np.abs(found.x - 1)) < 0.6  # of all edges that are level, one near the start


def test_what_no_edge_can_level_ends_where_the_sum_of_squares_is_least() -> None:
    """The first height alone may move: a scan over it is no better."""
    of, _, levels = strings()
    low = np.array([0.0, 1.0, 1.0, 1.0])
    found = levelled(of, HIGH, low, HIGH)
    scan = min(float(np.sqrt(np.mean(levels(np.array([t, 1.0, 1.0, 1.0])) ** 2))) for t in np.linspace(0, 1, 2001))
    assert found.x[1:].tolist() == [1.0, 1.0, 1.0]
    assert found.rms == pytest.approx(scan, abs=2 * SHIPPED.level)
    assert found.rms > 0.1


def test_a_mesh_that_cannot_follow_is_gone_along_as_far_as_it_can() -> None:
    of, _, levels = strings(reach=0.1)
    found = levelled(of, HIGH, LOW, HIGH)
    assert found.stuck
    assert np.max(np.abs(found.x - 1)) > 0.05
    assert found.rms < np.sqrt(np.mean(levels(HIGH) ** 2))
