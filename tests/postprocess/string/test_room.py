"""One table of fields for a string's slopes at rest and for its swings."""

from __future__ import annotations

import pytest

from stringflux.cases import load_case, solve
from stringflux.postprocess.string import room
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.linkage import RestStencil

pytestmark = pytest.mark.usefixtures("shared_solutions")

TABLE = 5e-6  # of S: what eight heights and six places across leave out (1e-6 and less at 1 and 2.5 mm)


@pytest.mark.parametrize("gap", ["2.5 mm", "1 mm"])
def test_the_table_of_the_swings_has_the_slopes_at_rest(gap: str, monkeypatch: pytest.MonkeyPatch) -> None:
    solved = solve(load_case("bench-single", {"strings.gap": gap}), quality="draft").solved
    shape, field = solved.strings[0].shape, solved.solution().field
    layers = layers_of(shape, solved.materials)
    found = RestStencil(room.swing_model(field, shape, layers)).static()
    monkeypatch.setattr(room, "_HEIGHTS", 14)
    finer = RestStencil(room.swing_model(field, shape, layers)).static()
    assert finer.z != found.z
    assert found.z == pytest.approx(finer.z, rel=TABLE)
    assert found.linkage == pytest.approx(finer.linkage, rel=TABLE)


def test_s_of_a_prediction_is_that_of_its_loop() -> None:
    pickup = solve(load_case("bench-single"), quality="draft")
    assert pickup.prediction(maps=False).strings[0].sensitivity == pytest.approx(pickup.loop(1).sensitivity, rel=1e-6)
