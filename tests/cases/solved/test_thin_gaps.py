"""Gaps that a 3-D mesh does not resolve are told; contact and what is wide enough are not."""

from __future__ import annotations

import pytest

from stringflux.cases.files.load import load_case
from stringflux.cases.solved.thin_gaps import thin_gaps


@pytest.mark.parametrize(("top", "said"), [
    ("-10.4 mm", False), ("-10.401 mm", True), ("-10.44 mm", True), ("-10.45 mm", False), ("-11 mm", False)])
def test_a_blade_over_its_bar(top: str, said: bool) -> None:
    found = thin_gaps(load_case("blade-six", {"body.2.top": top}).magnetic_bodies())
    assert bool(found) == said
    if said:
        assert found[0].startswith("blade stands 0.0")
        assert "over bar; a mesh does not resolve so thin a gap" in found[0]


@pytest.mark.parametrize("name", ["side-by-side-six", "stacked-six", "bar-screws-six", "bass-four"])
def test_shipped_cases_have_none(name: str) -> None:
    assert thin_gaps(load_case(name).magnetic_bodies()) == ()
