"""A mesh that was begun in another thread is the one that is asked for, and what goes wrong is said to who asks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rigs.fields.meshed_bodies import DRAFT, PAIR
from stringflux.cases import load_case, solve
from stringflux.cases.solved.solid_inputs import begin_mesh
from stringflux.geometry.errors import CaseError
from stringflux.geometry.mesh import solid
from stringflux.geometry.mesh.solid import mesh_ahead, solid_mesh
from stringflux.geometry.shapes.symmetry import Symmetry


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> list[object]:
    """Filled with the bodies of every mesh that is made."""
    bodies: list[object] = []
    meshed = solid._meshed

    def counted(*asked: object) -> object:
        bodies.append(asked[0])
        return meshed(*asked)  # type: ignore[arg-type]

    monkeypatch.setattr(solid, "_meshed", counted)
    solid_mesh.cache_clear()
    return bodies


def test_what_was_begun_is_handed_over_once(made: list[object]) -> None:
    half = Symmetry(y=True)
    here = solid._meshed(PAIR, DRAFT, (), half)
    mesh_ahead(PAIR, DRAFT, symmetry=half)
    there = solid_mesh(PAIR, DRAFT, symmetry=half)
    assert len(made) == 2
    assert solid_mesh(PAIR, DRAFT, symmetry=half) is there
    assert np.array_equal(there.points, here.points)
    assert np.array_equal(there.tetrahedra, here.tetrahedra)
    assert solid_mesh(PAIR, DRAFT).region.size > there.region.size  # the whole was not begun
    assert len(made) == 3
    assert not solid._begun


def test_a_fault_is_raised_where_the_mesh_is_asked_for() -> None:
    both = (PAIR[0], replace(PAIR[0], name="other"))
    mesh_ahead(both, DRAFT)
    with pytest.raises(CaseError, match="intersect"):
        solid_mesh(both, DRAFT)


@pytest.mark.parametrize("name", ["chisel-tip", "baritone-six"])
def test_a_prediction_asks_for_the_mesh_that_its_command_began(made: list[object], name: str) -> None:
    case = load_case(name)
    begin_mesh(case, "draft")
    begun = len(solid._begun)
    solve(case, quality="draft").solved.solution()
    assert begun == len(made) == (1 if name == "chisel-tip" else 0)
    assert not solid._begun
