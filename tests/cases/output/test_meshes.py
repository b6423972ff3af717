"""All of a mesh and its field as files: read by two other libraries, volumes, the field of builds and of rows."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import magpylib
import meshio
import numpy as np
import pytest
import pyvista

from rigs.cases.forms import solid
from rigs.fields.meshed_bodies import EXACT, NORMAL
from stringflux.cases import load_case, solve
from stringflux.cases.output.mesh import plain_name, write_plane, write_whole
from stringflux.geometry.mesh.solid import solid_mesh
from stringflux.geometry.shapes.symmetry import Symmetry, mirror_parity
from stringflux.postprocess.pictures.whole import WholeField, whole_field
from stringflux.solver.coil.direct import NO_CURRENTS
from stringflux.solver.constants import MU0
from stringflux.solver.materials import linear_magnet
from stringflux.solver.materials.b_of_h import solid_law
from stringflux.solver.solid.bias import solve_static
from stringflux.solver.solid.space import solid_space

ROUGH = 0.03  # of B, rms over elements of air near the magnets, one value for each; measured 0.022, at draft 0.044

ROUGH_ROW, IN_RODS = 0.06, 0.006  # the same of a row at draft, in air and in rods; measured 0.030 and 0.0019


@pytest.fixture(scope="module")
def found() -> WholeField:
    """Two bars beside each other, magnetised away from each other, images in x = 0; a quarter is meshed."""
    bodies = tuple(replace(solid("box", along=4, across=10, height=5, centre=[f"{6 * s} mm", "0 mm"], top=0,
                                 material="magnet", magnetised=[s, 0, 0]), name=name)
                   for s, name in ((-1, "bar, left (N)"), (1, "bar, right (N)")))
    odd = tuple(axis for axis in (0, 1) if mirror_parity(bodies, axis) == -1)
    space = solid_space(solid_mesh(bodies, NORMAL, symmetry=Symmetry(x=True, y=True)))
    bias = solve_static(space, [solid_law(b, linear_magnet(name="m", remanence=1.0, mu_recoil=1.0)) for b in bodies],
                        odd=odd)
    solved: Any = SimpleNamespace(space=space, bodies=bodies, bias=bias, odd=odd,
                                  field=SimpleNamespace(direct=NO_CURRENTS))
    return whole_field(solved)


def test_field_in_every_quarter(found: WholeField) -> None:
    """Against cuboids in closed form, at the middles of elements 1 to 8 mm from the box about both."""
    peers = [magpylib.magnet.Cuboid(dimension=(4e-3, 10e-3, 5e-3), polarization=(s, 0, 0),
                                    position=(6e-3 * s, 0, -2.5e-3)) for s in (-1, 1)]
    middle = found.points[:, found.elements[:4]].mean(axis=1)
    low, high = np.array([[-8e-3, -5e-3, -5e-3], [8e-3, 5e-3, 0]])[:, :, None]
    away = np.linalg.norm(np.maximum(np.maximum(low - middle, middle - high), 0.0), axis=0)
    near = (found.region == 0) & (away > 1e-3) & (away < 8e-3)
    for quarter in ((a, b) for a in (-1, 1) for b in (-1, 1)):
        own = near & (middle[0] * quarter[0] > 0) & (middle[1] * quarter[1] > 0)
        exact = magpylib.getB(peers, middle[:, own].T, sumup=True).T
        off = np.linalg.norm(found.b[:, own] - exact, axis=0)
        assert np.sqrt(np.mean(off**2)) < ROUGH * np.sqrt(np.mean(np.sum(exact**2, axis=0)))
    assert found.b[:, found.region == 0] == pytest.approx(MU0 * found.h[:, found.region == 0])
    for k, sign in ((1, -1), (2, 1)):  # each bar on its own side, magnetised its own way
        assert np.all(middle[0, found.region == k] * sign > 0)
        m = (found.b / MU0 - found.h)[:, found.region == k]
        assert m == pytest.approx(np.outer([sign / MU0, 0, 0], np.ones(m.shape[1])), abs=1e-6 / MU0)


def test_files_are_opened_by_others(found: WholeField, tmp_path: Path) -> None:
    write_whole(found, tmp_path)
    read = meshio.read(tmp_path / "mesh-3d.msh")
    assert {name: int(tag) for name, (tag, dim) in read.field_data.items()} == {
        "air": 1, "bar_left_N": 2, "bar_right_N": 3}
    grid = pyvista.read(tmp_path / "field-3d.vtu")
    assert set(grid.cell_data.keys()) == {"B_T", "B_size_T", "H_A_per_m", "region"}
    assert all(name.replace("_", "").isalnum() for name in list(grid.cell_data))
    volume = np.asarray(grid.compute_cell_sizes()["Volume"])
    assert volume.min() > 0
    for k in (1, 2):
        assert volume[grid["region"] == k].sum() == pytest.approx(200e-9, rel=EXACT)
        assert np.count_nonzero(read.cell_data["gmsh:physical"][0] == k + 1) == np.count_nonzero(found.region == k)
    ends = np.sort(found.elements[:4].T, axis=1)
    assert len(np.unique(ends, axis=0)) == len(ends)
    assert np.asarray(grid["B_T"]) == pytest.approx(found.b.T)


@pytest.mark.usefixtures("shared_solutions")
def test_planes_of_a_row(tmp_path: Path) -> None:
    """What the row's picture shows, with neighbours and strings, at its places in space."""
    picture = solve(load_case("bench-single"), quality="draft").picture("along")
    write_plane(picture, tmp_path)
    grid = pyvista.read(tmp_path / "plane-along.vtu")
    assert set(grid.point_data.keys()) == {"B_magnets_T", "B_strings_T", "B_size_T", "region"}
    assert np.asarray(grid["B_magnets_T"]) == pytest.approx(picture.b.reshape(3, -1).T)
    assert np.nanmax(abs(np.asarray(grid["B_strings_T"]))) > 0
    assert (grid.bounds[0], grid.bounds[1]) == (0.0, 0.0)


RODS = """
[row]
positions = ["-4 mm", "5 mm"]
face = ["1.5 mm", "1 mm"]

[[pole]]
at = [1]
[[pole.part]]
material = "straight"
diameter = "5 mm"
length = "12 mm"
polarity = "north up"

[[pole]]
at = [2]
[[pole.part]]
material = "straight"
diameter = "4 mm"
length = "14 mm"
polarity = "south up"

[coil]
inner_width = "6 mm"
inner_length = "16 mm"
build = "4 mm"
bottom = "-10 mm"
top = "-1 mm"
turns = 5000
wire = "42 AWG"

[strings]
scale = "648 mm"
gap = "2.5 mm"
bridge_distance = "95 mm"

[[string]]
gauge = "0.018 in"
pitch = "D3"

[[string]]
gauge = "0.014 in"
pitch = "A3"

[materials.straight]
kind = "linear magnet"
remanence = "1.0 T"
recoil_permeability = 1
"""


def test_whole_field_of_a_row(tmp_path: Path) -> None:
    """Two rods of unlike sizes and polarities against cylinders in closed form, in both and up to 8 mm about them."""
    path = tmp_path / "rods.toml"
    path.write_text(RODS, encoding="utf-8")
    found = solve(load_case(path), quality="draft").solved.whole()
    assert found is not None
    assert found.names == ("air", "pole 1, part 1", "pole 2, part 1")
    assert found.h is None
    sizes = ((-4e-3, 2.5e-3, 1.5e-3, 12e-3, 1), (5e-3, 2e-3, 1e-3, 14e-3, -1))
    rods = [magpylib.magnet.Cylinder(dimension=(2 * r, length), polarization=(0, 0, up),
                                     position=(0, y, face - length / 2)) for y, r, face, length, up in sizes]
    middle = np.einsum("cke,k->ce", found.points[:, found.elements], [-0.125] * 4 + [0.25] * 6)  # of P2
    exact = magpylib.getB(rods, middle.T, sumup=True).T
    away = np.min([np.hypot(np.maximum(np.hypot(middle[0], middle[1] - y) - r, 0.0),
                            np.maximum(np.maximum(face - length - middle[2], middle[2] - face), 0.0))
                   for y, r, face, length, _ in sizes], axis=0)
    off = np.linalg.norm(found.b - exact, axis=0)
    for k, most in ((0, ROUGH_ROW), (1, IN_RODS), (2, IN_RODS)):
        own = (away < 8e-3) & (found.region == k)
        assert np.count_nonzero(own) > 100
        assert np.sqrt(np.mean(off[own] ** 2)) < most * np.sqrt(np.mean(np.sum(exact[:, own] ** 2, axis=0)))
    write_whole(found, tmp_path)
    grid = pyvista.read(tmp_path / "field-3d.vtu")
    assert set(grid.cell_data.keys()) == {"B_T", "B_size_T", "region"}
    volume = np.asarray(grid.compute_cell_sizes()["Volume"])
    assert volume[grid["region"] == 1].sum() == pytest.approx(np.pi * 2.5e-3**2 * 12e-3, rel=0.03)  # VTK takes chords
    assert set(meshio.read(tmp_path / "mesh-3d.msh").field_data) == {"air", "pole_1_part_1", "pole_2_part_1"}


def test_names() -> None:
    assert [plain_name(n) for n in ("pole 3, part 1", "Stab (Ø 5)", "…")] == ["pole_3_part_1", "Stab_5", "body"]
