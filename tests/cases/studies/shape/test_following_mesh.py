"""A mesh that follows a shape: corners, volumes, and the refusal to fold."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.cases import load_case
from stringflux.cases.studies.shape.forms import make_form, pole_volume
from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.pole import QUALITIES, SectionMesh
from stringflux.solver.shape.following_mesh import FoldedMeshError, FollowingMesh


def volume_of(mesh: SectionMesh) -> float:
    """Of everything that is not air, by Pappus over straight triangles: exact."""
    r, z = mesh.points[:, mesh.triangles[:, mesh.region >= 0]]
    area = ((r[1] - r[0]) * (z[2] - z[0]) - (r[2] - r[0]) * (z[1] - z[0])) / 2
    return float(2 * np.pi * np.sum(area * r.mean(axis=0)))


@pytest.mark.parametrize(("name", "to"), [("dome", [0.8e-3]), ("cap", [2e-3]), ("diameter", [4.2e-3]),
                                          ("bevel", [0.8e-3, 0.9e-3]), ("length", [15e-3])])
def test_moved_mesh_is_the_shape(name: str, to: list[float]) -> None:
    form = make_form(name, load_case("bench-single").pole[0], controls=6, deepest=2e-3, widest=6e-3,
                     soft=lambda m: "steel" in m, cap="steel-1008")
    follow = FollowingMesh(shape=form.shape(form.start), quality=QUALITIES["draft"])
    p: Array = np.array(to)
    moved = follow.moved(form.shape(p))
    assert volume_of(moved) == pytest.approx(pole_volume(form.shape(p)), rel=1e-9)
    assert moved.points[:, moved.far_edges.ravel()] == pytest.approx(follow.mesh.points[:, moved.far_edges.ravel()])
    back = follow.moved(form.shape(form.start))
    assert back.points == pytest.approx(follow.mesh.points, abs=1e-15)


def test_too_far_is_refused() -> None:
    form = make_form("bevel", load_case("bench-single").pole[0], controls=6, deepest=2e-3, widest=6e-3,
                     soft=lambda m: False, cap="steel-1008")
    follow = FollowingMesh(shape=form.shape(form.start), quality=QUALITIES["draft"])
    with pytest.raises(FoldedMeshError):
        follow.moved(form.shape(np.array([12e-3, 2.35e-3])))
