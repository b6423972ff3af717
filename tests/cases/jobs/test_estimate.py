"""A first look at strings, held against the prediction."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from stringflux.cases import Pickup, load_case, solve
from stringflux.geometry.errors import InputError

S, B = 6e-3, 5e-3
"""Largest differences of S and B₀ from the prediction, parts: what the module's head says."""
FACES = [1.5e-3] * 6
CHANGES: dict[str, dict[str, Any]] = {
    "height": {"row.face": [*FACES[:5], 2.5e-3]},
    "within": {"row.face": [*FACES[:2], 0.5e-3, *FACES[3:]]},
    "magnet": {"pole.1.part.1.material": "alnico-2"},
    "string": {"string.3.gap": 2.2e-3},
}


@pytest.fixture(scope="module")
def six() -> Pickup:
    return solve(load_case("baritone-six"), quality="draft")


@pytest.mark.slow
@pytest.mark.parametrize("name", CHANGES)
def test_a_first_look_is_near_the_prediction(name: str, six: Pickup) -> None:
    changed = six.with_(CHANGES[name])
    looked, found = changed.estimate(six), changed.prediction(maps=False).strings
    first, before = looked.strings(), six.prediction(maps=False).strings
    assert all(s.anew for s in first)
    assert looked.changed == {"height": (6,), "within": (3,), "magnet": (1, 2, 3, 4, 5, 6), "string": (3,)}[name]
    for a, b, old in zip(first, found, before, strict=True):
        assert a.sensitivity == pytest.approx(b.sensitivity, rel=S)
        assert a.bias == pytest.approx(b.bias, abs=B * float(np.linalg.norm(b.bias)))
        assert a.balance == pytest.approx(b.balance, abs=0.06)
        if a.number in looked.changed:  # what changed is far larger than the difference
            assert max(abs(b.sensitivity / old.sensitivity - 1), abs(b.bias[2] / old.bias[2] - 1)) > 5 * S


def test_some_are_estimated_and_the_others_stay(six: Pickup) -> None:
    changed = six.with_({**CHANGES["height"], "coil.turns": 3500})
    looked = changed.estimate(six)
    first, before = looked.strings([6]), six.prediction(maps=False).strings
    assert [s.anew for s in first] == [False] * 5 + [True]
    assert first[0].sensitivity == pytest.approx(before[0].sensitivity / 2)
    assert first[5].sensitivity == looked.strings()[5].sensitivity == changed.estimate(six).strings()[5].sensitivity


@pytest.mark.parametrize("other", ["bass-four", "blade-six", "side-by-side-six"])
def test_another_pickup_is_no_neighbour(other: str, six: Pickup) -> None:
    with pytest.raises(InputError, match=r"^estimate: "):
        solve(load_case(other), quality="draft").estimate(six).strings()


def test_other_forms_and_other_meshes_are_refused(six: Pickup) -> None:
    for other in (six.with_({"pole.1.part.1.length": 17.5e-3}), six.with_(quality="normal")):
        with pytest.raises(InputError, match="other poles"):
            other.estimate(six).strings()
