"""Fields as files that other programs read, by meshio: the section of the first pole, planes, a whole mesh in 3-D.

Points lie where they are in space, in metres; of the section at (r, 0, z) with z over the pole's face. Names have
letters, digits, - and _ alone, as some programs cut others short.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import numpy.typing as npt

from stringflux.postprocess.pictures.whole import WholeField
from stringflux.postprocess.records.prediction import SectionRecord, SliceRecord
from stringflux.postprocess.results.picture import FieldPicture


def plain_name(name: str) -> str:
    """A name of letters, digits, - and _.

    Examples
    --------
    >>> plain_name("pole 3, part 1")
    'pole_3_part_1'
    """
    return re.sub(r"[^A-Za-z0-9-]+", "_", name).strip("_") or "body"


def write_whole(found: WholeField, folder: Path) -> None:
    """Write `field-3d.vtu`, B of every element and H if told, and `mesh-3d.msh` (gmsh 2.2), its bodies by name."""
    import meshio

    region = found.region.astype(np.int32)
    names = _told_apart([plain_name(name) for name in found.names])
    cells = [("tetra10", found.elements.T)]
    data = {"B_T": [found.b.T.copy()], "B_size_T": [np.linalg.norm(found.b, axis=0)], "region": [region]}
    if found.h is not None:
        data["H_A_per_m"] = [found.h.T.copy()]
    meshio.write(folder / "field-3d.vtu", meshio.Mesh(found.points.T, cells, cell_data=data))
    groups = {"gmsh:physical": [region + 1], "gmsh:geometrical": [region + 1]}
    mesh = meshio.Mesh(found.points.T, cells, cell_data=groups,
                       field_data={name: np.array([tag, 3]) for tag, name in enumerate(names, start=1)})
    meshio.write(folder / "mesh-3d.msh", mesh, file_format="gmsh22", binary=True)


def _told_apart(names: Sequence[str]) -> list[str]:
    """Names of which none comes twice, without regard to capitals."""
    out: list[str] = []
    for name in names:
        one, n = name, 2
        while one.lower() in (o.lower() for o in out):
            one, n = f"{name}_{n}", n + 1
        out.append(one)
    return out


def write_plane(found: FieldPicture, folder: Path) -> None:
    """Write `plane-along.vtu` or `plane-side.vtu`: the field of all magnets and steel, what the strings add (nan in
    one) and the region, on squares at their places in space, z over the top plate."""
    import meshio

    u, z = np.meshgrid(found.u, found.z)
    at = np.full(u.size, found.at)
    across, along = (u.ravel(), at) if found.plane == "along" else (at, u.ravel())
    b, added = (f.reshape(3, -1) for f in (found.b, found.strings))
    mesh = meshio.Mesh(np.stack([along, across, z.ravel()], axis=1), [("quad", _squares(u.shape))], point_data={
        "B_magnets_T": b.T.copy(), "B_strings_T": added.T.copy(), "B_size_T": np.linalg.norm(b + added, axis=0),
        "region": found.inside.ravel().astype(np.int32)})
    meshio.write(folder / f"plane-{found.plane}.vtu", mesh)


def _squares(shape: tuple[int, ...]) -> npt.NDArray[np.int64]:
    number = np.arange(shape[0] * shape[1]).reshape(shape)
    corners = (number[:-1, :-1], number[:-1, 1:], number[1:, 1:], number[1:, :-1])
    return np.stack([c.ravel() for c in corners], axis=1)


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
        point_data={"flux_Wb": section.flux},
        cell_data={
            "B_T": [np.stack([b_r, zero, b_z], axis=1)],
            "B_size_T": [np.hypot(b_r, b_z)],
            "region": [region],
        },
    )
    meshio.write(folder / "field.vtu", mesh)
    # gmsh counts its groups from 1: air is 1, the parts follow
    tags = region + 2
    names = ["air", *(plain_name(f"part {i} {material}") for i, material in enumerate(parts, start=1))]
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
    b = cut.b.reshape(3, -1)
    mesh = meshio.Mesh(
        np.stack([x.ravel(), np.full(x.size, cut.y), z.ravel()], axis=1),
        [("quad", _squares(x.shape))],
        point_data={"B_T": b.T.copy(), "B_size_T": np.sqrt((b**2).sum(axis=0)),
                    "region": cut.region.ravel().astype(np.int32)},
    )
    meshio.write(folder / "field.vtu", mesh)
