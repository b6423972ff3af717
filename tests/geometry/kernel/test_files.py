# ruff: noqa: E501  (a table of sentences reads best one to a line)
"""Bodies from STEP, STL and DXF, and curves from CSV: as they are without the file, and a sentence for what is wrong."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import meshio
import numpy as np
import pytest
from ezdxf.addons import r12writer
from ezdxf.document import Drawing
from pydantic import ValidationError

from rigs.cases.forms import form, points, solid
from rigs.fields.meshed_bodies import DRAFT, EXACT, NORMAL, region_volume
from stringflux.cases import load_case
from stringflux.cases.files.load import TEMPLATE
from stringflux.cases.files.start import write_like
from stringflux.geometry import CaseError
from stringflux.geometry.arrays import Array
from stringflux.geometry.kernel.measure import facets, shared_volume
from stringflux.geometry.kernel.pieces import add_shaped
from stringflux.geometry.kernel.session import gmsh_model
from stringflux.geometry.mesh.solid import solid_mesh
from stringflux.geometry.shapes.bodies import Box
from stringflux.geometry.shapes.pieces import Shaped

PLATE: dict[str, Any] = {"outline": points((-5, -8), (5, -8), (5, 8), (-5, 8)), "length": 3, "corner": 1.5,
                         "round_holes": [{"at": ["1 mm", "2 mm"], "diameter": "4 mm"}]}  # fmt: skip
CUBE = np.array([(x, y, z) for x in (0, 1) for y in (0, 1) for z in (0, 1)], dtype=float)
SIDES = np.array([(0, 1, 3), (0, 3, 2), (4, 6, 7), (4, 7, 5), (0, 4, 5), (0, 5, 1), (2, 3, 7), (2, 7, 6), (0, 2, 6),
                  (0, 6, 4), (1, 5, 7), (1, 7, 3)])  # fmt: skip


def shaped(shape: str, **keys: Any) -> Shaped:
    made = form(shape, **keys)
    assert isinstance(made, Shaped)
    return made


def step(path: Path, *forms: Shaped, unit: float = 1e3, open_shell: bool = False) -> str:
    """A STEP file, which gmsh writes in mm."""
    with gmsh_model("written") as gmsh:
        for one in forms:
            solids = add_shaped(gmsh.model.occ, one.joined, one.cut, unit)
            if open_shell:
                gmsh.model.occ.remove(solids)
                gmsh.model.occ.synchronize()
                gmsh.model.occ.remove([gmsh.model.getEntities(2)[0]])
        gmsh.model.occ.synchronize()
        gmsh.write(str(path))
    return str(path)


def stl(path: Path, corners: Array, triangles: Array, *, binary: bool = False) -> str:
    meshio.write(path, meshio.Mesh(corners, [("triangle", triangles)]), binary=binary)
    return str(path)


def cube(path: Path, size: float = 8.0, **keys: Any) -> str:
    return stl(path, size * CUBE, SIDES, **keys)


def test_a_step_file_is_what_it_was_made_of(tmp_path: Path) -> None:
    own = shaped("prism", **PLATE, bottom=2)
    read = shaped("file", file=step(tmp_path / "a.step", own), bottom=2)
    assert read.volume == pytest.approx(own.volume, rel=1e-9)
    assert np.array(read.bounds) == pytest.approx(np.array(own.bounds), abs=1e-9)
    assert shared_volume(read, own) == pytest.approx(own.volume, rel=1e-6)
    body = solid("file", file=str(tmp_path / "a.step"), rotated=[{"about": "x", "by": "20 deg"}])
    assert region_volume(solid_mesh((body,), NORMAL), 0) == pytest.approx(own.volume, rel=1e-4)  # round, as drawn


@pytest.mark.slow
@pytest.mark.parametrize("binary", [False, True])
def test_an_stl_file_is_what_it_was_made_of(tmp_path: Path, binary: bool) -> None:
    """Flat faces become one each, whatever the rounding of the file; round ones stay strips."""
    f = facets(shaped("prism", **PLATE))
    path = stl(tmp_path / "a.stl", f.points / 25.4e-3, f.triangles, binary=binary)
    read = shaped("file", file=path, unit="in", cut=[{"shape": "box", "along": "2 mm", "across": "2 mm",
                                                      "height": "1 mm", "top": "0 mm", "centre": ["-3 mm", "-5 mm"]}])
    a, b, c = (f.points[f.triangles[:, k]] for k in range(3))
    assert read.volume == pytest.approx(np.einsum("ij,ij->", a, np.cross(b, c)) / 6 - 4e-9, rel=1e-5)
    assert np.array(read.bounds) == pytest.approx(np.array([[-5e-3, -8e-3, 0], [5e-3, 8e-3, 3e-3]]), abs=1e-7)
    made = solid("file", file=cube(tmp_path / "c.stl"), unit="mm")
    assert region_volume(solid_mesh((made,), DRAFT), 0) == pytest.approx(512e-9, rel=EXACT)


def test_a_surface_of_triangles_alone(tmp_path: Path) -> None:
    """An icosahedron, of which no two triangles lie in one plane: V = 5 (3 + √5)/12 a³."""
    g = (1 + np.sqrt(5)) / 2
    corners = np.array([p for s in (-1, 1) for t in (-g, g) for p in ((0, s, t), (s, t, 0), (t, 0, s))])
    near = np.linalg.norm(corners[:, None] - corners[None], axis=2)
    sides = np.array([(i, j, k) if np.linalg.det(corners[[i, j, k]]) > 0 else (i, k, j)
                      for i in range(12) for j in range(i) for k in range(j)
                      if max(near[i, j], near[j, k], near[i, k]) < 2.1])
    read = shaped("file", file=stl(tmp_path / "a.stl", 2 * corners, sides, binary=True), unit="mm")
    assert read.volume == pytest.approx(5 * (3 + np.sqrt(5)) / 12 * 64e-9, rel=1e-6)


def drawing(path: Path, draw: Callable[[Any], object], units: int = 4) -> str:
    document: Drawing = ezdxf.new("R2010")  # type: ignore[attr-defined]
    document.units = units
    draw(document.modelspace())
    document.saveas(path)
    return str(path)


def rounded(space: Any) -> None:
    """The plate as lines and arcs, in no order, with its hole and its title."""
    space.add_circle((1, 2), 2)
    space.add_arc((-3.5, -6.5), 1.5, 180, 270)
    space.add_line((-3.5, 8), (3.5, 8))
    space.add_line((5, -6.5), (5, 6.5))
    space.add_arc((3.5, -6.5), 1.5, 270, 360)
    space.add_line((-3.5, -8), (3.5, -8))
    space.add_arc((3.5, 6.5), 1.5, 0, 90)
    space.add_line((-5, 6.5), (-5, -6.5))
    space.add_arc((-3.5, 6.5), 1.5, 90, 180)
    space.add_text("plate")


def test_a_drawing_is_the_outline_that_it_shows(tmp_path: Path) -> None:
    own = shaped("prism", **PLATE)
    read = shaped("file", file=drawing(tmp_path / "a.dxf", rounded), unit="mm", length=3)
    assert read.volume == pytest.approx(own.volume, rel=1e-12)
    assert shared_volume(read, own) == pytest.approx(own.volume, rel=1e-6)
    plain = tmp_path / "c.dxf"  # of the version that has no units
    with r12writer(plain) as old:
        for a, b in (((0, 0), (4, 0)), ((4, 0), (4, 4)), ((4, 4), (0, 0))):
            old.add_line(a, b)
    assert shaped("file", file=str(plain), unit="mm", length=3).volume == pytest.approx(24e-9, rel=1e-9)
    corners = [(-0.5, -0.5, 0), (0.5, -0.5, 1), (0.5, 0.5, 0), (-0.5, 0.5, 0)]
    bulged = drawing(tmp_path / "b.dxf", lambda space: space.add_lwpolyline(corners, "xyb", close=True), units=0)
    read = shaped("file", file=bulged, unit="cm", length=2, lies="across the strings")
    assert read.volume == pytest.approx(2 * (100 + np.pi * 25 / 2) * 1e-9, rel=1e-9)


FAULTS: list[tuple[str, Callable[[Path], str], dict[str, Any], str]] = [
    ("none", lambda p: str(p / "gone.step"), {}, "file: there is no gone.step in {}; a path counts from the folder of the case file"),
    ("a folder", lambda p: str((p / "a.stl").mkdir() or p / "a.stl"), {"unit": "mm"}, "file: a.stl cannot be read: Is a directory"),
    ("another ending", lambda p: str(p / "a.obj"), {}, "write a file that ends in .step, .stp, .stl or .dxf"),
    ("no unit", lambda p: cube(p / "a.stl"), {}, 'unit: it is missing; write in what the numbers of an STL file are, such as unit = "mm"'),
    ("unit of STEP", lambda p: step(p / "a.step", shaped("prism", **PLATE)), {"unit": "mm"}, 'unit: received "mm", and a STEP file says its unit itself; drop it'),
    ("length of STL", lambda p: cube(p / "a.stl"), {"unit": "mm", "length": 3}, "length: a solid of STL has it already; drop it"),
    ("wrong unit", lambda p: cube(p / "a.stl"), {"unit": "m"}, "file: a.stl: it is 8000 mm × 8000 mm × 8000 mm large; a body is from 0.05 mm to 200 mm, so check its unit"),
    ("wrong unit of STEP", lambda p: step(p / "a.step", shaped("prism", **PLATE), unit=1e6), {}, "so check its unit, which is written in a STEP file"),
    ("two solids", lambda p: step(p / "a.step", shaped("prism", **PLATE), shaped("prism", **PLATE).moved(0.05, 0, 0)), {}, "file: a.step: it holds 2 solids; write each into a file of its own"),
    ("open shell", lambda p: step(p / "a.step", shaped("wedge", along=5, across=5, height=5), open_shell=True), {}, "it holds no closed solid, only an open shell of 4 faces; close"),
    ("no STEP", lambda p: _text(p / "a.step", "hello"), {}, "a.step: it"),
    ("no STL", lambda p: _text(p / "a.stl", "hello"), {"unit": "mm"}, "file: a.stl: it cannot be read as STL; export it anew"),
    ("open STL", lambda p: stl(p / "a.stl", 8 * CUBE, SIDES[:-1]), {"unit": "mm"}, "its surface is not closed, 3 edges have a triangle on one side only, the first near ["),
    ("two in STL", lambda p: stl(p / "a.stl", np.concatenate([8 * CUBE, 20 + 8 * CUBE]), np.concatenate([SIDES, SIDES + 8])), {"unit": "mm"}, "a.stl: it holds 2 closed surfaces; write each body into a file of its own"),
    ("sliver", lambda p: step(p / "a.step", shaped("prism", outline=points((0, 0), (5, 0), (5, 5), (2, 5), (2, 5.003), (0, 5.003)), length=4)), {}, "a.step: it has a sliver, a face 3 µm wide, near [2 mm, 5.0"),
    ("open outline", lambda p: drawing(p / "a.dxf", lambda s: (s.add_line((0, 0), (5, 0)), s.add_line((5, 0), (5, 5)), s.add_line((5, 5.2), (0, 0)))), {"unit": "mm", "length": 3}, "file: a.dxf: its outline is open, an end at [5 mm, 5 mm] is 0.2 mm from the next"),
    ("unit of DXF", lambda p: drawing(p / "a.dxf", rounded), {"unit": "in", "length": 3}, 'a.dxf: it says that its unit is mm, and unit is in; write unit = "mm"'),
    ("no length", lambda p: drawing(p / "a.dxf", rounded), {"unit": "mm"}, "length: it is missing; write how far the outline of a DXF file is carried on"),
    ("spline", lambda p: drawing(p / "a.dxf", lambda s: s.add_spline([(0, 0), (5, 5), (8, 0)])), {"unit": "mm", "length": 3}, "a.dxf: it holds a SPLINE; only LINE, ARC, CIRCLE and LWPOLYLINE are read"),
    ("beside", lambda p: drawing(p / "a.dxf", lambda s: (s.add_circle((0, 0), 2), s.add_circle((9, 0), 2))), {"unit": "mm", "length": 3}, "it holds several outlines beside each other"),
    ("nothing", lambda p: drawing(p / "a.dxf", lambda s: s.add_text("hello")), {"unit": "mm", "length": 3}, "a.dxf: it holds no closed outline"),
    ("no DXF", lambda p: _text(p / "a.dxf", "hello"), {"unit": "mm", "length": 3}, "a.dxf: it cannot be read as DXF; export it anew"),
    ("crossing", lambda p: drawing(p / "a.dxf", lambda s: s.add_lwpolyline([(0, 0), (5, 5), (5, 0), (0, 5)], close=True)), {"unit": "mm", "length": 3}, "file: a.dxf: it crosses or touches itself near"),
]  # fmt: skip


def _text(path: Path, text: str) -> str:
    path.write_text(text)
    return str(path)


@pytest.mark.parametrize(("what", "made", "keys", "says"), FAULTS, ids=[f[0] for f in FAULTS])
def test_faults(tmp_path: Path, capfd: pytest.CaptureFixture[str], what: str, made: Callable[[Path], str],
                keys: dict[str, Any], says: str) -> None:
    file = made(tmp_path)
    capfd.readouterr()  # what writing says
    with pytest.raises(ValidationError) as error:
        form("file", file=file, **keys)
    assert says.format(tmp_path) in str(error.value), what
    assert capfd.readouterr() == ("", "")  # no word of the kernel's own


def test_a_file_that_changes_meanwhile_is_noticed(tmp_path: Path) -> None:
    body = solid("file", file=cube(tmp_path / "a.stl"), unit="mm")
    cube(tmp_path / "a.stl", 9.0)
    with pytest.raises(CaseError, match=r"a\.stl: it has changed while it was used; start again"):
        solid_mesh((body,), NORMAL)


def case_of(folder: Path, more: str) -> Path:
    text = TEMPLATE.read_text(encoding="utf-8")
    folder.joinpath("mine.toml").write_text(text + more, encoding="utf-8")
    return folder / "mine.toml"


def test_paths_count_from_the_case_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    tmp_path.joinpath("parts").mkdir()
    cube(tmp_path / "parts" / "a.stl")
    case_of(tmp_path, '\n[[body]]\nfile = "parts/a.stl"\nunit = "mm"\nmaterial = "brass"\ntop = "-30 mm"\n')
    monkeypatch.chdir(tmp_path.parent)
    body = load_case(tmp_path / "mine.toml").own_bodies()[0]
    assert np.array(body.form.bounds) == pytest.approx(1e-3 * np.array([[0, 0, -38], [8, 8, -30]]))
    tmp_path.joinpath("parts", "a.stl").unlink()
    with pytest.raises(CaseError, match=r'mine\.toml, line \d+: body 1, file: there is no a\.stl in .*parts; a path'):
        load_case(tmp_path / "mine.toml")


CURVE = "# of a strip\nB (G), H (Oe)\n3900, 0\n2000, -1900\n0, -3300\n"


def test_curves_of_a_file(tmp_path: Path) -> None:
    tmp_path.joinpath("curve.csv").write_text(CURVE)
    more = ('\n[materials.strip]\nkind = "demagnetisation curve"\ncurve_file = "curve.csv"\nrecoil_permeability = 1.05\n'
            '[materials.iron]\nkind = "BH table"\ncurve_file = "iron.csv"\n')
    tmp_path.joinpath("iron.csv").write_text("H kA/m;B T\n0.1;0.5\n1;1.2\n10;1.7\n")
    strip, iron = load_case(case_of(tmp_path, more)).materials.values()
    assert strip.curve()[0] == (0.0, pytest.approx(0.39))  # type: ignore[union-attr]
    assert strip.curve()[-1] == (pytest.approx(-3300e3 / 4 / np.pi, rel=1e-6), 0.0)  # type: ignore[union-attr]
    assert iron.curve()[-1] == (pytest.approx(10e3), pytest.approx(1.7))  # type: ignore[union-attr]


@pytest.mark.parametrize(("text", "more", "says"), [
    ("B (G), H (Oe)\n1, 2", "points = [[0, 1], [1, 2], [2, 3]]", "points: received together with curve_file"),
    ("B, H\n1, 2", "", 'curve_file: curve.csv has the heads "B, H"; write H and B with their units'),
    ("B (T), H (V)\n1, 2", "", "such as H (kA/m), B (T); for H A/m, kA/m, Oe, kOe, for B T, mT, G, kG"),
    ("B (T), H (Oe)\n1, x", "", 'curve_file: curve.csv, line 2: received "1, x"; write two numbers'),
    ("B (T), H (Oe)\n1, 0", "", "points: received 1 items; write at least 3"),
    (None, "", "curve_file: there is no curve.csv in "),
])  # fmt: skip
def test_faults_of_curves(tmp_path: Path, text: str | None, more: str, says: str) -> None:
    if text is not None:
        tmp_path.joinpath("curve.csv").write_text(text)
    with pytest.raises(CaseError) as error:
        load_case(case_of(tmp_path, f'\n[materials.own]\nkind = "demagnetisation curve"\ncurve_file = "curve.csv"\n'
                                    f'recoil_permeability = 1.05\n{more}\n'))
    assert says in str(error.value)


def test_a_box_is_a_box() -> None:
    """What needs no pieces is made of none."""
    assert isinstance(form("box", along=1, across=2, height=3), Box)


def test_a_case_written_elsewhere_finds_its_files(tmp_path: Path) -> None:
    """Its remarks stay, and the path is whole."""
    tmp_path.joinpath("far").mkdir()
    cube(tmp_path / "a.stl")
    which = case_of(tmp_path, '\n[[body]]\nfile = "a.stl"  # mine\nunit = "mm"\nmaterial = "brass"\ntop = "-30 mm"\n')
    made = write_like(str(tmp_path / "far" / "new.toml"), str(which), {"coil.turns": 6000})
    assert f'file = "{(tmp_path / "a.stl").as_posix()}"' in made.read_text(encoding="utf-8")
    assert load_case(made).own_bodies() == load_case(which).own_bodies()
