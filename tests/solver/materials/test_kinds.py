"""Which kind a material is, and what may be a body's or a string's."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.geometry.errors import CaseError
from stringflux.solver.constants import MU0
from stringflux.solver.materials import ConstantPermeability, find_material, known_materials, material_uses
from stringflux.solver.materials.kinds import body_material, is_magnet, is_steel, is_string_metal, string_metal

TABLE = {name: find_material(name) for name in known_materials()}
USES = material_uses()


@pytest.mark.parametrize("name", TABLE)
def test_every_material_of_the_table_is_of_one_kind(name: str) -> None:
    m = TABLE[name]
    assert is_magnet(m) == (USES[name] == "magnet")
    assert is_string_metal(m) == (USES[name] == "string")
    assert is_magnet(m) + is_steel(m) + is_string_metal(m) + isinstance(m, ConstantPermeability) == 1


@pytest.mark.parametrize("name", TABLE)
def test_bodies_are_magnets_or_soft(name: str) -> None:
    if USES[name] == "string":
        with pytest.raises(CaseError, match=f"received '{name}' for a body, a metal of strings"):
            body_material(TABLE, name)
    else:
        assert body_material(TABLE, name) is TABLE[name]


@pytest.mark.parametrize("name", [n for n in TABLE if USES[n] != "string"])
def test_a_static_field_does_not_know_of_what_has_the_permeability_of_air(name: str) -> None:
    assert body_material(TABLE, name).magnetic == (getattr(TABLE[name], "mu_r", 2.0) != 1.0)


def test_a_constant_permeability_is_the_straight_law_of_a_string() -> None:
    steel = string_metal({"s": ConstantPermeability(name="s", mu_r=60.0)}, "s")
    h = np.array([-3e4, 10.0, 2e6])
    m, slope = steel.magnetisation(h)
    assert MU0 * (h + m) == pytest.approx(60.0 * MU0 * h, rel=1e-14)
    assert slope == pytest.approx(59.0)
    assert steel.reversible(m) == pytest.approx(59.0)


@pytest.mark.parametrize("name", ["alnico-5", "steel-1010"])
def test_a_string_is_of_no_magnet_and_of_no_steel_for_bodies(name: str) -> None:
    with pytest.raises(CaseError, match=f"received '{name}' for a string"):
        string_metal({name: find_material("alnico-5" if name == "alnico-5" else _a_steel())}, name)


def _a_steel() -> str:
    return next(name for name, m in TABLE.items() if is_steel(m))
