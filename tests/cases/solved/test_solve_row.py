"""Which solved rows are taken for the same one."""

from __future__ import annotations

from dataclasses import replace

from stringflux.cases.files.load import load_case
from stringflux.cases.solved.materials import case_materials
from stringflux.cases.solved.numerics import SHIPPED, Numerics
from stringflux.cases.solved.solve_row import RowInputs, row_inputs
from stringflux.geometry.mesh.pole import QUALITIES, Quality
from stringflux.postprocess.string.numerics import StringNumerics


def test_a_row_goes_by_its_mesh_and_not_by_the_name_of_a_quality() -> None:
    """A key with the name in it would take a row on another mesh for its own, per cents off."""
    case = load_case("bench-single")
    materials = case_materials(case)

    def inputs(quality: str, numerics: Numerics = SHIPPED) -> RowInputs:
        return row_inputs(case, quality, materials, numerics=numerics)

    coarse = Numerics(mesh=Quality(divisions=1.0, growth=1.0, far=4.0))
    assert inputs("draft", coarse) == inputs("fine", coarse) != inputs("draft")
    assert inputs("draft", Numerics(mesh=QUALITIES["normal"])) == inputs("normal")


def test_of_a_string_a_row_knows_its_length_alone() -> None:
    case = load_case("bench-single")
    materials = case_materials(case)

    def inputs(string: StringNumerics) -> RowInputs:
        return row_inputs(case, "draft", materials, numerics=replace(SHIPPED, string=string))

    one = inputs(SHIPPED.string)
    assert inputs(StringNumerics(passes=1, refine=3.0)) == one
    assert inputs(StringNumerics(reach=90e-3)) == replace(one, reach=90e-3)
