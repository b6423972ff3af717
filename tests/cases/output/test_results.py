"""The results folder: what is in it, and that an interrupted run never leaves half of one."""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Iterator
from dataclasses import fields, replace
from pathlib import Path

import meshio
import numpy as np
import pytest
from matplotlib.figure import Figure

from rigs.cases.results_folders import contents, old_results
from stringflux.cases import load_case
from stringflux.cases.files.load import find_case
from stringflux.cases.jobs.prediction import predict
from stringflux.cases.output import pictures
from stringflux.cases.output.document import SCHEMA, UNITS, CaseSource, case_units, plain, prediction_document
from stringflux.cases.output.figure_files import save_figure
from stringflux.cases.output.folder import replaced_folder
from stringflux.cases.output.pictures import Pictures
from stringflux.cases.output.results import COLUMNS, write_results
from stringflux.geometry import Case
from stringflux.geometry.errors import OutputError
from stringflux.geometry.kernel.session import gmsh_model
from stringflux.postprocess.records.prediction import StringRecord
from stringflux.postprocess.results.prediction import Prediction

pytestmark = pytest.mark.usefixtures("shared_solutions")

NAME = "bench-single"


@pytest.fixture(scope="module")
def case() -> Case:
    return load_case(NAME, {"coil.turns": 4000})


@pytest.fixture(scope="module")
def prediction(case: Case) -> Prediction:
    return predict(case, quality="draft", maps=False)


@pytest.fixture(scope="module")
def source() -> CaseSource:
    text = find_case(NAME).read_text(encoding="utf-8")
    return CaseSource(name=NAME, text=text, changes={"coil.turns": 4000})


@pytest.fixture(scope="module")
def folder(
    tmp_path_factory: pytest.TempPathFactory, case: Case, prediction: Prediction, source: CaseSource
) -> Iterator[Path]:
    """A written folder, its pictures replaced by an empty one (their own tests look at them)."""
    with pytest.MonkeyPatch.context() as patch:
        plain_pictures(patch)
        target = tmp_path_factory.mktemp("results") / NAME
        with replaced_folder(target) as temp:
            write_results(temp, case, prediction, source)
        yield target


def plain_pictures(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(pictures, "_makers", lambda case, prediction: {"section": lambda: Figure(figsize=(1, 1))})
    patch.setattr(pictures, "_scene", lambda case, prediction: Pictures(files={}, missing="no renderer in this test"))


def test_what_is_in_the_folder(folder: Path) -> None:
    names = {path.name for path in folder.iterdir()}
    wanted = {"prediction.json", "strings.csv", "field.vtu", "mesh.msh", "section.png", "section.svg"}
    assert names == wanted
    assert set(json.loads((folder / "prediction.json").read_text(encoding="utf-8"))["files"]) == wanted
    assert [path.name for path in folder.parent.iterdir()] == [NAME]


def test_document(folder: Path, case: Case, prediction: Prediction, source: CaseSource) -> None:
    def refuse(word: str) -> None:
        raise AssertionError(word)

    text = (folder / "prediction.json").read_text(encoding="utf-8")
    read = json.loads(text, parse_constant=refuse)  # NaN and Infinity are no JSON
    assert read["schema"] == SCHEMA
    assert {"python", "stringflux", "numpy", "scipy", "scikit-fem", "gmsh"} <= set(read["versions"])
    assert {"date", "platform"} <= set(read)
    assert read["case"]["text"] == source.text
    assert read["case"]["changes"] == {"coil.turns": 4000}
    assert read["case"]["units"]["coil.inner_width"] == "m"
    assert read["case"]["units"]["string.gauge"] == "m"
    assert Case.model_validate(read["case"]["si"], context={"si": True}) == case
    (string,) = read["result"]["strings"]
    assert string["sensitivity"] == pytest.approx(prediction.strings[0].sensitivity, rel=1e-8)
    np.testing.assert_allclose(string["line_bias"], prediction.strings[0].line_bias, rtol=1e-8)
    assert set(string) == {f.name for f in fields(StringRecord)}


def test_every_number_has_its_unit() -> None:
    bare = {"number", "pole", "wound"}
    strings = UNITS["strings"]
    assert isinstance(strings, dict)
    assert {f.name for f in fields(StringRecord)} - bare == set(strings)


def test_units_of_a_case_with_own_materials() -> None:
    units = case_units(load_case(Path(__file__).parents[2] / "full_case.toml"))
    assert {units[key] for key in units if key.endswith(("diameter", "position", "positions"))} == {"m"}
    assert any(key.startswith("materials.") for key in units)


def test_what_is_not_finite_becomes_null(case: Case, prediction: Prediction, source: CaseSource) -> None:
    assert plain([np.float64(1.5), math.inf, np.array([math.nan, 2.0])]) == [1.5, None, [None, 2.0]]
    broken = replace(prediction, coupling=math.nan)
    assert json.loads(prediction_document(case, broken, source))["result"]["coupling"] is None


def test_strings_table(folder: Path, prediction: Prediction) -> None:
    with (folder / "strings.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == len(prediction.strings)
    assert list(rows[0]) == list(COLUMNS)
    string = prediction.strings[0]
    assert float(rows[0]["S mV per m/s"]) == pytest.approx(1e3 * string.sensitivity, rel=1e-5)
    assert float(rows[0]["gap mm"]) == pytest.approx(2.5)
    assert "".join(COLUMNS).isascii()


@pytest.mark.parametrize("name", ["field.vtu", "mesh.msh"])
def test_mesh_files_can_be_read(folder: Path, prediction: Prediction, name: str) -> None:
    mesh, section = meshio.read(folder / name), prediction.section
    np.testing.assert_allclose(mesh.points[:, [0, 2]], section.points.T, atol=1e-12)
    np.testing.assert_array_equal(mesh.cells_dict["triangle"], section.triangles.T)
    b = np.asarray(mesh.cell_data["B_T"][0])
    np.testing.assert_allclose(b[:, [0, 2]], section.b.T, rtol=1e-12)
    np.testing.assert_allclose(mesh.cell_data["B_size_T"][0].ravel(), np.hypot(*section.b), rtol=1e-12)
    np.testing.assert_array_equal(np.ravel(mesh.cell_data["region"][0]), section.region)
    np.testing.assert_allclose(mesh.point_data["flux_Wb"].ravel(), section.flux, rtol=1e-12)


def test_gmsh_reads_the_mesh(folder: Path, prediction: Prediction) -> None:
    with gmsh_model("read back") as gmsh:
        gmsh.merge(str(folder / "mesh.msh"))
        names = [gmsh.model.getPhysicalName(dim, tag) for dim, tag in gmsh.model.getPhysicalGroups(2)]
        tags, _ = gmsh.model.mesh.getElementsByType(2)
    assert names == ["air", "part_1_alnico-5"]
    assert len(tags) == prediction.section.triangles.shape[1]


def test_the_same_figure_gives_the_same_svg(tmp_path: Path) -> None:
    for name in ("a.svg", "b.svg"):
        figure = Figure()
        figure.add_subplot().plot([0, 1])
        save_figure(figure, tmp_path / name)
    assert (tmp_path / "a.svg").read_bytes() == (tmp_path / "b.svg").read_bytes()


@pytest.mark.parametrize("fault", [KeyboardInterrupt, OSError(28, "No space left on device")])
def test_an_interrupted_run_leaves_the_old_results(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    case: Case,
    prediction: Prediction,
    source: CaseSource,
    fault: type[BaseException] | BaseException,
) -> None:
    def stop(case: object, prediction: object) -> None:
        (temp / "scene.png").write_text("half a picture", encoding="utf-8")
        raise fault

    target = tmp_path / "out"
    old_results(target)
    before = contents(target)
    plain_pictures(monkeypatch)
    monkeypatch.setattr(pictures, "_scene", stop)
    with pytest.raises((KeyboardInterrupt, OutputError)), replaced_folder(target) as temp:
        write_results(temp, case, prediction, source)
    assert contents(target) == before
    assert list(tmp_path.iterdir()) == [target]
