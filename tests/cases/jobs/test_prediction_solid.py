"""`predict` with the 3-D solver: a case of two coils, its folder, its document, and why not as a row."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from stringflux.cases.files.load import load_case
from stringflux.cases.jobs.prediction import predict
from stringflux.cases.output.document import CaseSource
from stringflux.cases.output.results import write_results
from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.postprocess.results.prediction import Prediction

pytestmark = pytest.mark.usefixtures("shared_solutions")


@pytest.fixture(scope="module")
def stacked() -> tuple[Case, Prediction]:
    case = load_case("stacked-six")
    return case, predict(case, quality="draft")


@pytest.mark.slow
def test_folder_and_document(stacked: tuple[Case, Prediction], tmp_path: Path) -> None:
    text, _ = write_results(tmp_path, *stacked, CaseSource(name="stacked-six", text=""))
    names = {p.name for p in tmp_path.iterdir()}
    assert {"slice.png", "slice.svg", "fields.png", "linkage.png", "balance.png", "drawing.png", "field.vtu",
            "strings.csv", "prediction.json"} <= names
    assert not {"section.png", "mesh.msh"} & names
    found = json.loads(text)["result"]
    assert found["solver"] == "solid"
    assert found["section"] is None
    assert np.shape(found["slice"]["b"]) == (3, len(found["slice"]["z"]), len(found["slice"]["x"]))
    assert [c["name"] for c in found["coils"]] == ["upper", "lower"]
    assert found["pairs"][0]["mutual"] < 0  # wound against each other


@pytest.mark.slow
def test_slice_shows_the_plane_of_pole_1(stacked: tuple[Case, Prediction]) -> None:
    cut = stacked[1].slice
    assert cut is not None
    assert cut.y == pytest.approx(-26e-3)
    rod = cut.region >= 0
    # north up: B_z along the axis above the rod and inside it
    assert np.all(cut.b[2][:, cut.x.size // 2][rod[:, cut.x.size // 2]] > 0)
    # mirror image about x = 0, exactly: only one half is solved
    assert np.array_equal(cut.b[2], cut.b[2][:, ::-1])
    assert np.array_equal(cut.b[0], -cut.b[0][:, ::-1])
    # area of the rod's section, within a row of points on every side
    area = float(rod.sum()) * 0.25e-3**2
    assert area == pytest.approx(4.8e-3 * 20e-3, rel=0.08)
    assert next(iter(stacked[1].figures())) == "slice"


def test_row_solver_says_why_it_cannot(stacked: tuple[Case, Prediction]) -> None:
    with pytest.raises(CaseError, match=r"--solver: row takes one row .* this case has 2 coils"):
        predict(stacked[0], solver="row")


def test_field_close_over_a_face_is_continued_from_above() -> None:
    """The row solver sums it over all unknowns of a pole; the surface charges of a build cannot be summed there."""
    case = load_case("bench-single", {"probe_height": "0.1 mm"})
    row = predict(case, quality="normal", maps=False)
    solid = predict(case, quality="draft", maps=False, solver="solid")
    assert solid.poles[0].field == pytest.approx(row.poles[0].field, rel=0.02)
