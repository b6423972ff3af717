"""Every shipped case against a full 3-D solution with a string in its mesh: `pytest tests/slow`, not `make test`.

Rows of poles at normal quality, where the chain is fast and its draft field 1 % off; builds, whose chain is a 3-D
solution of its own, at draft but where that is not enough. Some 10 CPU minutes for the rows and 16 for the builds;
up to 1.5 GB at a time, a row of eight 2.2, the bass 3.5, both cores at work.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from stringflux.cases.files.load import load_case, shipped_cases
from stringflux.cases.jobs.verify import verify
from stringflux.cases.solved.choice import choose
from stringflux.postprocess.records.verification import Figures

QUALITY = {"row": "normal", "solid": "draft"}
FINER = {"shaped-blade-six": "normal"}
"""Builds whose draft is too near the limits: over an edge that slopes S is off by 0.7 % at draft, 0.2 % at normal."""
THREE = 0.03
"""Three meshes are taken as they are: their own error is below this (λ of a draft build with two rows: 1.5 %)."""
SURE = {"bass-four": 0.01}
"""Where three meshes are not sure enough of λ to tell 1 %: the core of a thick string far over its pole (1.1 %)."""
LIMITS = {"bias": 0.01, "reciprocal": 0.01, "inductance": 0.005, "linkage": 0.01, "linkage_low": 0.01,
          "linkage_high": 0.01, "sensitivity": 0.01}
"""Asked of the program: fields, λ and S 1 %, L 0.5 %."""


CHISEL = Path(__file__).with_name("chisel.toml")


def test_a_chisel_tip_agrees_with_3d() -> None:
    """A wedge of steel on a plate magnet with round corners, one string, some 3 CPU minutes: B₀ 0.01 %, b 0.06,
    λ 0.06, S 0.02, L 0.19 %."""
    _agrees(CHISEL, "normal")


def test_a_dummy_coil_under_its_pickup_agrees_with_3d() -> None:
    """An air coil a millimetre under the magnet, its ends exchanged."""
    dummy = {"core": "air", "inner_width": "6 mm", "outer_width": "14 mm", "bottom": "-27.5 mm", "top": "-16.5 mm",
             "turns": 5000, "wire": "42 AWG"}
    _agrees("bench-single", "normal", {"second_coil": [{"name": "dummy", "coil": dummy}],
                                       "connection": {"reversed": ["dummy"]}})


@pytest.mark.parametrize("name", sorted(shipped_cases()))
def test_chain_agrees_with_3d(name: str) -> None:
    _agrees(name, FINER.get(name))


def _agrees(name: str | Path, quality: str | None, changes: Mapping[str, Any] | None = None) -> None:
    case = load_case(name, changes or {})
    found = verify(case, quality=quality or QUALITY[choose(case).solver], within=SURE.get(str(name), THREE))
    assert set(LIMITS) == set(Figures.NAMES)
    for figure, limit in LIMITS.items():
        assert abs(found.difference(figure)) < limit, figure
        assert found.solid_error(figure) < THREE, figure
