"""Which solved rows are taken for the same one."""

from __future__ import annotations

import pytest

from stringflux.cases.files.load import load_case
from stringflux.cases.jobs.prediction import predict
from stringflux.geometry.mesh.pole import QUALITIES, Quality


def test_a_quality_that_comes_to_mean_another_mesh_is_solved_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    """Tests and benches give names of qualities other meshes; what was kept before would be per cents off here."""
    case = load_case("bench-single")
    draft = predict(case, quality="draft", maps=False).poles[0].field
    with monkeypatch.context() as patch:
        patch.setitem(QUALITIES, "draft", Quality(divisions=1.0, growth=1.0, far=4.0))
        coarse = predict(case, quality="draft", maps=False).poles[0].field
    assert abs(coarse / draft - 1) > 0.02
    assert predict(case, quality="draft", maps=False).poles[0].field == draft
