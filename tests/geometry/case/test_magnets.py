"""The keys of magnets: one reading for parts of poles and for bodies."""

from __future__ import annotations

import pytest

from stringflux.geometry.case.bodies import BoxBody
from stringflux.geometry.case.magnets import magnet_state
from stringflux.geometry.case.poles import Part
from stringflux.geometry.shapes.magnet_state import AS_GRADED, MagnetState

KEYS = {"charge": 0.9, "coercivity_scale": 0.8, "remanence_scale": 1.1}
SIZES = {BoxBody: {"shape": "box", "along": "3 mm", "across": "20 mm", "height": "5 mm", "bottom": "0 mm"},
         Part: {"diameter": "5 mm", "length": "17 mm"}}


@pytest.mark.parametrize("table", SIZES)
def test_they_make_the_state_that_solvers_see(table: type[BoxBody] | type[Part]) -> None:
    sizes = {"material": "alnico-5", **SIZES[table]}
    assert magnet_state(table(**sizes)) == AS_GRADED  # type: ignore[arg-type]
    read = table(**sizes, **KEYS)  # type: ignore[arg-type]
    assert magnet_state(read) == MagnetState(charge=0.9, coercivity=0.8, remanence=1.1)
    seen = read.solid_body("bar") if isinstance(read, BoxBody) else read.part_shape(0.0)
    assert seen.state == magnet_state(read)


def test_both_tables_tell_the_same_of_them() -> None:
    for key in KEYS:
        part, body = (table.model_json_schema()["properties"][key] for table in (Part, BoxBody))
        assert part == body
