"""The 3-D meshes: volumes, areas, regions, shared faces, symmetry planes; against closed forms."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest

from rigs.fields.meshed_bodies import (
    BAR,
    BLADE,
    CURVED,
    DRAFT,
    EXACT,
    LONG,
    NORMAL,
    PAIR,
    STUB,
    WAYS,
    R,
    box,
    region_volume,
    rod,
)
from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError
from stringflux.geometry.kernel.solids import exact_volume
from stringflux.geometry.mesh.solid import SolidMesh, solid_mesh, volume
from stringflux.geometry.shapes.bodies import Box, Cover, Cylinder, Point, Revolved, SolidBody
from stringflux.geometry.shapes.symmetry import Symmetry


def areas(points: Array, facets: npt.NDArray[np.int64]) -> Array:
    a, b, c = (points[:, facets[i]] for i in range(3))
    return np.asarray(np.linalg.norm(np.cross(b - a, c - a, axis=0), axis=0) / 2)


def outward(points: Array, facets: npt.NDArray[np.int64], centre: Array) -> tuple[Array, Array]:
    """Vector area (3,) of a surface round a centre, and the solid angle it fills (Van Oosterom & Strackee 1983)."""
    a, b, c = (points[:, facets[i]] - centre[:, None] for i in range(3))
    triple = np.einsum("ik,ik->k", a, np.cross(b, c, axis=0))
    area = (np.cross(b - a, c - a, axis=0) * np.sign(triple)).sum(1) / 2
    la, lb, lc = (np.linalg.norm(v, axis=0) for v in (a, b, c))
    below = la * lb * lc + (a * b).sum(0) * lc + (a * c).sum(0) * lb + (b * c).sum(0) * la
    return np.asarray(area), np.asarray(2 * np.arctan2(np.abs(triple), below).sum())


def region_at(mesh: SolidMesh, point: Point) -> int:
    """Region of the straight tetrahedron that holds a point."""
    p = mesh.points[:, mesh.tetrahedra]
    edges = np.moveaxis(p[:, 1:] - p[:, :1], 2, 0)
    lam = np.linalg.solve(edges, (np.array(point)[:, None] - p[:, 0]).T[:, :, None])[..., 0]
    inside = np.flatnonzero(np.all(lam > -1e-9, axis=1) & (lam.sum(1) < 1 + 1e-9))
    assert inside.size > 0
    assert len({int(mesh.region[i]) for i in inside}) == 1
    return int(mesh.region[inside[0]])


@pytest.fixture(scope="module")
def pair() -> SolidMesh:
    return solid_mesh(PAIR, DRAFT)


@pytest.mark.parametrize("form", [
    Box(low=(-1e-3, 2e-3, -5e-3), high=(2e-3, 6e-3, 1e-3)),
    Cover(low=(-6e-3, -8e-3, -7e-3), high=(6e-3, 8e-3, 1e-3), wall=2e-3),
])
def test_volume_of_flat_bodies(form: Box | Cover) -> None:
    body = SolidBody(name="b", material="m", form=form)
    assert region_volume(solid_mesh((body,), DRAFT), 0) == pytest.approx(exact_volume(form), rel=EXACT)


def test_exact_volumes() -> None:
    """A cone, a box with a hollow and a cylinder, by hand."""
    cone = Revolved(outline=((0.0, 0.0), (2e-3, 0.0), (0.0, 3e-3)), x=1.0, y=2.0)
    assert exact_volume(cone) == pytest.approx(np.pi * 4e-6 * 3e-3 / 3, rel=EXACT)
    cover = Cover(low=(0.0, 0.0, 0.0), high=(10e-3, 20e-3, 5e-3), wall=1e-3)
    assert exact_volume(cover) == pytest.approx(1000e-9 - 8e-3 * 18e-3 * 4e-3, rel=EXACT)
    cylinder = Cylinder(base=(0.0, 0.0, 0.0), along=1, length=5e-3, radius=1e-3)
    assert exact_volume(cylinder) == pytest.approx(np.pi * 5e-9, rel=EXACT)


@pytest.mark.parametrize("form", [
    Cylinder(base=(-5e-3, 1e-3, -4e-3), along=0, length=10e-3, radius=2e-3),
    Cylinder(base=(0.0, 0.0, -8e-3), along=2, length=8e-3, radius=2.4e-3),
    Revolved(outline=((0.0, -9e-3), (2.4e-3, -9e-3), (2.4e-3, -1e-3), (1.4e-3, 0.0), (0.0, 0.0)), x=1e-3, y=-2e-3),
    Revolved(outline=((1e-3, -3e-3), (3e-3, -3e-3), (3e-3, 0.0), (1e-3, 0.0)), x=0.0, y=0.0),
])
def test_volume_of_round_bodies(form: Cylinder | Revolved) -> None:
    """Lying, standing, bevelled and with a hole; flat edges are wrong by 0.06 to 3 %."""
    body = SolidBody(name="b", material="m", form=form)
    mesh = solid_mesh((body,), NORMAL)
    assert region_volume(mesh, 0) == pytest.approx(exact_volume(form), rel=CURVED)
    straight = float(volume(mesh.points, mesh.tetrahedra)[mesh.region == 0].sum())
    assert abs(straight / exact_volume(form) - 1) > 5 * CURVED  # so that the line above sees the curves


def test_closed_and_positive(pair: SolidMesh) -> None:
    """Every tetrahedron has volume, together they fill what the far facets enclose, and no facet is left over."""
    signed = volume(pair.points, pair.tetrahedra)
    assert signed.min() > 0
    a, b, c = (pair.points[:, pair.far_facets[i]] for i in range(3))
    centre = pair.points[:, pair.far_facets].mean((1, 2))[:, None]
    enclosed = np.abs(np.einsum("ik,ik->k", a - centre, np.cross(b - centre, c - centre, axis=0))).sum() / 6
    assert signed.sum() == pytest.approx(enclosed, rel=EXACT)
    f = pair.far_facets
    ends = np.sort(np.concatenate([f[[0, 1]], f[[1, 2]], f[[0, 2]]], axis=1), axis=0)
    assert np.all(np.unique(ends, axis=1, return_counts=True)[1] == 2)  # a closed surface


def test_far_boundary(pair: SolidMesh) -> None:
    """A sphere of `far` half diagonals round the middle of the bodies."""
    low, high = np.array([-3e-3, -8e-3, -14e-3]), np.array([3e-3, 8e-3, 0.0])
    radius = DRAFT.far * np.linalg.norm(high - low) / 2
    away = np.linalg.norm(pair.points[:, np.unique(pair.far_facets)] - ((low + high) / 2)[:, None], axis=0)
    assert away == pytest.approx(radius, rel=1e-6)
    area, angle = outward(pair.points, pair.far_facets, (low + high) / 2)
    assert angle == pytest.approx(4 * np.pi, rel=EXACT)
    assert area == pytest.approx(0.0, abs=EXACT * float(radius**2))


def test_regions_of_points(pair: SolidMesh) -> None:
    assert region_at(pair, (0.3e-3, 2.1e-3, -3.2e-3)) == 0
    assert region_at(pair, (2.1e-3, -5.3e-3, -11.7e-3)) == 1
    assert region_at(pair, (2.1e-3, -5.3e-3, -3.2e-3)) == -1  # beside the blade, over the bar
    assert region_at(pair, (0.1e-3, 0.2e-3, 3.3e-3)) == -1


def test_touching_bodies_share_a_face(pair: SolidMesh) -> None:
    """The nodes of the common face belong to both, and cover it."""
    sides = [np.sort(pair.tetrahedra[[0, 1, 2, 3]][list(k)][:, pair.region == i], axis=0)
             for i in (0, 1) for k in ((0, 1, 2), (0, 1, 3), (0, 2, 3), (1, 2, 3))]
    blade, bar = ({tuple(c) for s in part for c in s.T.tolist()} for part in (sides[:4], sides[4:]))
    common = np.array(sorted(blade & bar)).T
    assert np.allclose(pair.points[2, common], -9e-3, rtol=0, atol=1e-9)
    assert areas(pair.points, common).sum() == pytest.approx(3e-3 * 16e-3, rel=EXACT)


@pytest.mark.parametrize("symmetry", [Symmetry(x=x, y=y) for x in WAYS for y in WAYS if x or y])
def test_mirrored_pieces(symmetry: Symmetry) -> None:
    """Volumes and the far sphere are halved and quartered; the planes close them; all lies on one side."""
    mesh = solid_mesh(PAIR, DRAFT, symmetry=symmetry)
    share = 1 / symmetry.copies
    for i, body in enumerate(PAIR):
        assert region_volume(mesh, i) == pytest.approx(share * exact_volume(body.form), rel=EXACT)
    assert sorted(mesh.planes) == list(symmetry.axes)
    centre = np.array([0.0, 0.0, -7e-3])
    area, angle = outward(mesh.points, mesh.far_facets, centre)
    assert angle == pytest.approx(4 * np.pi * share, rel=EXACT)
    for axis, facets in mesh.planes.items():
        assert mesh.points[axis].min() == 0.0
        assert np.all(mesh.points[axis, facets] == 0.0)
        assert areas(mesh.points, facets).sum() == pytest.approx(area[axis], rel=EXACT)  # together they are closed


def test_rod_cut_by_both_planes() -> None:
    mesh = solid_mesh((rod(),), NORMAL, symmetry=Symmetry(x=True, y=True))
    assert region_volume(mesh, 0) == pytest.approx(np.pi * R**2 * LONG / 4, rel=CURVED)


def test_body_beyond_the_plane_keeps_its_number() -> None:
    mesh = solid_mesh((rod("left", y=-8e-3), rod("right", y=8e-3)), DRAFT, symmetry=Symmetry(y=True))
    assert set(mesh.region.tolist()) == {-1, 1}


def test_sheets_keep_elements_of_some_size() -> None:
    """A steel sheet of 0.3 mm has elements some 0.9 mm long at draft: its area counts, not its thickness."""
    sheet = box("sheet", (-2.5e-3, -2.5e-3, -0.3e-3), (2.5e-3, 2.5e-3, 0.0))
    count = int(np.sum(solid_mesh((sheet,), DRAFT).region == 0))
    finer = int(np.sum(solid_mesh((sheet,), replace(DRAFT, least=0.0)).region == 0))
    assert finer > 4 * count


@pytest.mark.parametrize("other", [
    BAR.moved(0.0, 0.0, 1e-3),  # cut by the blade
    replace(BAR, form=Box(low=(-1e-3, -1e-3, -4e-3), high=(1e-3, 1e-3, -2e-3))),  # inside it
    replace(BAR, form=BLADE.form),  # the same place
])
def test_intersecting_bodies_are_named(other: SolidBody) -> None:
    with pytest.raises(CaseError, match="blade and bar intersect"):
        solid_mesh((BLADE, other), DRAFT)


def test_same_mesh_twice() -> None:
    assert solid_mesh((STUB,), DRAFT) is solid_mesh((STUB,), DRAFT)  # kept
    one, other = (solid_mesh.__wrapped__((STUB,), DRAFT) for _ in range(2))
    assert np.array_equal(one.points, other.points)
    assert np.array_equal(one.tetrahedra, other.tetrahedra)
    assert np.array_equal(one.region, other.region)
