"""The section of the first pole, or a plane through a build, as files that other programs read, by meshio.

Points lie where they are in space, (r, 0, z) with z over the pole's face, in metres.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from stringflux.postprocess.records.prediction import SectionRecord, SliceRecord


def write_section(section: SectionRecord, parts: Sequence[str], folder: Path) -> None:
    """Write `field.vtu` and `mesh.msh` (gmsh 2.2, text) with B, |B|, the flux and the regions.

    Parameters
    ----------
    parts : sequence of str
        Materials of the pole's parts from the top down.
    """
    import meshio

    r, z = section.points
    b_r, b_z = section.b
    zero = np.zeros_like(b_r)
    region = section.region.astype(np.int32)
    mesh = meshio.Mesh(
        np.stack([r, np.zeros_like(r), z], axis=1),
        [("triangle", section.triangles.T)],
        point_data={"flux (Wb)": section.flux},
        cell_data={
            "B (T)": [np.stack([b_r, zero, b_z], axis=1)],
            "|B| (T)": [np.hypot(b_r, b_z)],
            "region": [region],
        },
    )
    meshio.write(folder / "field.vtu", mesh)
    # gmsh counts its groups from 1: air is 1, the parts follow
    tags = region + 2
    names = ["air", *(f"part {i} {material}" for i, material in enumerate(parts, start=1))]
    mesh.field_data = {name: np.array([tag, 2]) for tag, name in enumerate(names, start=1)}
    # as Python's own numbers: meshio writes numpy's with their type's name, which nobody can read
    mesh.point_data = {name: data.astype(object) for name, data in mesh.point_data.items()}
    mesh.cell_data = {name: [data.astype(object)] for name, (data,) in mesh.cell_data.items()}
    mesh.cell_data |= {"gmsh:physical": [tags], "gmsh:geometrical": [tags]}
    meshio.write(folder / "mesh.msh", mesh, file_format="gmsh22", binary=False)


def write_slice(cut: SliceRecord, folder: Path) -> None:
    """Write `field.vtu`: B, |B| and the region on squares, at their places in space, z over the top plate."""
    import meshio

    x, z = np.meshgrid(cut.x, cut.z)
    number = np.arange(x.size).reshape(x.shape)
    corners = (number[:-1, :-1], number[:-1, 1:], number[1:, 1:], number[1:, :-1])
    b = cut.b.reshape(3, -1)
    mesh = meshio.Mesh(
        np.stack([x.ravel(), np.full(x.size, cut.y), z.ravel()], axis=1),
        [("quad", np.stack([c.ravel() for c in corners], axis=1))],
        point_data={"B (T)": b.T.copy(), "|B| (T)": np.sqrt((b**2).sum(axis=0)),
                    "region": cut.region.ravel().astype(np.int32)},
    )
    meshio.write(folder / "field.vtu", mesh)
