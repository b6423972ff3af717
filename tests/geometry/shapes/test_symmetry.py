"""Which bodies are their own mirror image, and which way the magnets' potential then goes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rigs.fields.meshed_bodies import BAR, PAIR, rod
from stringflux.geometry.shapes.bodies import Box, Cover, Cylinder, SolidBody
from stringflux.geometry.shapes.magnet_state import MagnetState
from stringflux.geometry.shapes.symmetry import WHOLE, Symmetry, mirror_parity

UP, DOWN, ACROSS, SIDE = (0.0, 0.0, 1.0), (0.0, 0.0, -1.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)


@pytest.mark.parametrize(("bodies", "parities"), [
    ((rod(),), (1, 1)),
    ((rod(way=ACROSS),), (-1, 1)),
    ((rod(way=SIDE),), (1, -1)),
    ((rod(way=(1.0, 0.0, 1.0)),), (0, 1)),
    ((rod(way=None),), (1, 1)),  # no magnet at all
    ((rod(x=-9e-3), rod(x=9e-3)), (1, 1)),
    ((rod(x=-9e-3), rod(x=9e-3, way=DOWN)), (-1, 1)),  # two rows, opposite
    ((rod(x=-9e-3, way=None), rod(x=9e-3, way=None), BAR), (-1, 1)),  # a bar between rows
    ((rod(y=-5e-3), rod(y=5e-3), rod(y=15e-3)), (1, 0)),
    ((rod(y=-5e-3), replace(rod(y=5e-3), state=MagnetState(charge=0.9))), (1, 0)),
    ((rod(y=-5e-3), replace(rod(y=5e-3), material="alnico-2")), (1, 0)),
    (PAIR, (-1, 1)),
])
def test_mirror_parity(bodies: tuple[SolidBody, ...], parities: tuple[int, int]) -> None:
    assert tuple(mirror_parity(bodies, axis) for axis in (0, 1)) == parities


@pytest.mark.parametrize(("form", "other", "parity"), [
    (Cylinder(base=(1e-3, 0.0, 0.0), along=0, length=4e-3, radius=1e-3),
     Cylinder(base=(-5e-3, 0.0, 0.0), along=0, length=4e-3, radius=1e-3), 1),
    (Cylinder(base=(1e-3, 0.0, 0.0), along=0, length=2e-3, radius=1e-3),  # as large as its image, but lies across
     Cylinder(base=(-2e-3, -1e-3, 0.0), along=1, length=2e-3, radius=1e-3), 0),
    (Cover(low=(1e-3, -1e-3, -4e-3), high=(5e-3, 1e-3, 0.0), wall=0.3e-3),
     Cover(low=(-5e-3, -1e-3, -4e-3), high=(-1e-3, 1e-3, 0.0), wall=0.3e-3), 1),
    (Cover(low=(1e-3, -1e-3, -4e-3), high=(5e-3, 1e-3, 0.0), wall=0.3e-3),
     Cover(low=(-5e-3, -1e-3, -4e-3), high=(-1e-3, 1e-3, 0.0), wall=0.2e-3), 0),
    (Box(low=(1e-3, -1e-3, -4e-3), high=(5e-3, 1e-3, 0.0)),
     Cover(low=(-5e-3, -1e-3, -4e-3), high=(-1e-3, 1e-3, 0.0), wall=0.3e-3), 0),
])
def test_mirror_parity_of_forms(form: Box | Cover | Cylinder, other: Box | Cover | Cylinder, parity: int) -> None:
    bodies = [SolidBody(name=n, material="m", form=f) for n, f in (("a", form), ("b", other))]
    assert mirror_parity(bodies, 0) == parity


@pytest.mark.parametrize(("symmetry", "axes", "copies"), [
    (WHOLE, (), 1), (Symmetry(x=True), (0,), 2), (Symmetry(y=True), (1,), 2), (Symmetry(x=True, y=True), (0, 1), 4)])
def test_planes_and_how_many_pieces_they_make(symmetry: Symmetry, axes: tuple[int, ...], copies: int) -> None:
    assert (symmetry.axes, symmetry.copies) == (axes, copies)
