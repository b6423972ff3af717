"""Strings in the 3-D meshes: their volume, where they are fine, and what no mesh can hold."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rigs.fields.meshed_bodies import BLADE, DRAFT, STRING, STRINGS, STUB, region_volume, rod
from stringflux.geometry.errors import CaseError
from stringflux.geometry.mesh.solid import solid_mesh, volume
from stringflux.geometry.mesh.string_rod import StringRod
from stringflux.geometry.shapes.symmetry import WHOLE, Symmetry


@pytest.mark.parametrize(("string", "symmetry", "share"), [
    (STRING, WHOLE, 1.0),
    (replace(STRING, slope=0.0), Symmetry(x=True, y=True), 0.5),
    (replace(STRING, y=0.0, slope=0.0), Symmetry(x=True, y=True), 0.25),
])
def test_volume_of_a_string(string: StringRod, symmetry: Symmetry, share: float) -> None:
    """Of its whole length, with a slope and without, whole and cut."""
    mesh = solid_mesh((STUB,), DRAFT, strings=(string,), symmetry=symmetry)
    exact = share * np.pi * string.radius**2 * 2 * string.half_length
    assert region_volume(mesh, 1) == pytest.approx(exact, rel=STRINGS)
    assert volume(mesh.points, mesh.tetrahedra).min() > 0
    own = np.unique(mesh.tetrahedra[:, mesh.region == 1])
    x, y, z = mesh.points[:, own]
    assert x.max() == pytest.approx(string.half_length, abs=1e-9)
    assert np.hypot(y - string.y, z - string.z - string.slope * x).max() == pytest.approx(string.radius, rel=1e-6)


@pytest.mark.slow
@pytest.mark.parametrize("symmetry", [WHOLE, Symmetry(x=True)])
def test_a_string_is_fine_over_two_rows(symmetry: Symmetry) -> None:
    """Layers are shortest at both fine places; the volume stays, and no crack opens between stretches."""
    string = StringRod(y=0.0, z=3e-3, radius=0.25e-3, half_length=30e-3, slope=0.0 if symmetry.x else 0.02,
                       fine=(-8e-3, 8e-3))
    # over half the arcs a bulge that the mesh takes back, lest it fold a thin element, is worth a quarter
    mesh = solid_mesh((rod(),), replace(DRAFT, rod=replace(DRAFT.rod, arc=6)), strings=(string,), symmetry=symmetry)
    x, y, z = mesh.points[:, np.unique(mesh.tetrahedra[:, mesh.region == 1])]
    outside = np.hypot(y - string.y, z - string.z - string.slope * x) > 0.99 * string.radius
    exact = np.pi * string.radius**2 * 60e-3 / (2 if symmetry.x else 1)
    assert region_volume(mesh, 1) == pytest.approx(exact, rel=STRINGS)
    layers = np.unique(np.round(x[outside], 8))
    length, middles = np.diff(layers), (layers[1:] + layers[:-1]) / 2
    for place in (8e-3,) if symmetry.x else (-8e-3, 8e-3):
        assert length[np.argmin(np.abs(middles - place))] < 1.1 * length.min()
        assert length[np.argmin(np.abs(middles - 0.2 * place))] > 1.2 * length.min()


@pytest.mark.parametrize(("string", "symmetry", "words"), [
    (STRING, Symmetry(x=True), "slope"),
    (replace(STRING, y=-1e-3), Symmetry(y=True), "does not lie in y"),
    (replace(STRING, y=0.1e-3), Symmetry(y=True), "does not lie in y"),
])
def test_strings_that_no_plane_allows(string: StringRod, symmetry: Symmetry, words: str) -> None:
    with pytest.raises(CaseError, match=words):
        solid_mesh((BLADE,), DRAFT, strings=(string,), symmetry=symmetry)


def test_a_string_through_a_body_is_named() -> None:
    with pytest.raises(CaseError, match="blade and string 1 intersect"):
        solid_mesh((BLADE,), DRAFT, strings=(replace(STRING, z=-2e-3, slope=0.0),))
