"""Sections of poles: where their elements are small, and where they may be large."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.pole import QUALITIES, SectionMesh, section_mesh
from stringflux.geometry.shapes.profiles import Edge, domed, flat, outline
from stringflux.geometry.shapes.row import PartShape, PoleShape

PLAIN = replace(QUALITIES["normal"], beyond=None, corner=None)
LENGTH, RADIUS, RISE = 17e-3, 2.4e-3, 0.6e-3


def rod(edge: Edge) -> PoleShape:
    return PoleShape(parts=(PartShape(material="", outline=outline(edge, length=LENGTH)),))


def area(mesh: SectionMesh) -> Array:
    a, b, c = (mesh.points[:, t] for t in mesh.triangles)
    return np.asarray(0.5 * np.abs((b - a)[0] * (c - a)[1] - (b - a)[1] * (c - a)[0]))


FLAT, DOME = rod(flat(RADIUS)), rod(domed(RADIUS, rise=RISE))


def test_far_from_a_pole_elements_may_be_large() -> None:
    """Beyond half a diagonal fewer of them, and as many as before beside the pole."""
    plain, grown = section_mesh(FLAT, PLAIN), section_mesh(FLAT, replace(PLAIN, beyond=0.8))

    def beside(mesh: SectionMesh) -> tuple[int, int]:
        r, z = mesh.points[:, mesh.triangles].mean(axis=1)
        near = np.hypot(np.maximum(r - RADIUS, 0), np.maximum(np.abs(z + LENGTH / 2) - LENGTH / 2, 0)) < 7e-3
        return int(near.sum()), int((~near).sum())

    assert beside(grown)[0] > 0.9 * beside(plain)[0]
    assert beside(grown)[1] < 0.8 * beside(plain)[1]
    assert area(grown).sum() < 1.01 * area(plain).sum()


def test_chords_of_a_dome_are_no_corners() -> None:
    """Inside, away from the rim: meshed finely at every chord, unless corners have a growth of their own."""
    def inside(corner: float | None) -> int:
        mesh = section_mesh(DOME, replace(PLAIN, corner=corner))
        r, z = mesh.points[:, mesh.triangles].mean(axis=1)
        return int(((mesh.region == 0) & (r < RADIUS / 2) & (z > -2e-3)).sum())

    assert inside(1.3 * PLAIN.growth) < 0.8 * inside(None)
