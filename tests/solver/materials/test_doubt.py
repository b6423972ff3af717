"""Ends of what is known of a material."""

from __future__ import annotations

from dataclasses import replace

import pytest

from stringflux.solver.materials import (
    ConstantPermeability,
    StringSteel,
    body_material,
    find_material,
    is_magnet,
    is_string_metal,
    known_materials,
    linear_magnet,
)
from stringflux.solver.materials.doubt import at_reversible, at_transverse_end

TABLE = {name: find_material(name) for name in known_materials()}


@pytest.mark.parametrize("name", [n for n, m in TABLE.items() if is_magnet(m)])
def test_only_the_permeability_across_moves(name: str) -> None:
    magnet = body_material(TABLE, name)
    assert is_magnet(magnet)
    low, high = (at_transverse_end(magnet, end) for end in (0, 1))
    assert is_magnet(low)
    assert is_magnet(high)
    assert (low.mu_transverse, high.mu_transverse) == magnet.mu_transverse_range
    assert low.mu_transverse <= magnet.mu_transverse <= high.mu_transverse
    assert replace(low, mu_transverse=magnet.mu_transverse) == magnet


@pytest.mark.parametrize("material", [ConstantPermeability(name="s", mu_r=100.0),
                                      linear_magnet(name="m", remanence=1.0, mu_recoil=1.1)])
def test_what_is_not_in_doubt_stays_itself(material: ConstantPermeability) -> None:
    assert at_transverse_end(material, 0) is material
    assert at_transverse_end(material, 1) is material


@pytest.mark.parametrize("name", [n for n, m in TABLE.items() if is_string_metal(m)])
def test_the_reversible_slope_goes_through_its_range(name: str) -> None:
    metal = TABLE[name]
    assert isinstance(metal, StringSteel)
    low, high = metal.chi_reversible_range
    for place in (0.0, 0.5, 1.0):
        found = at_reversible(metal, place)
        assert found.chi_reversible == pytest.approx(min(low + place * (high - low), metal.chi_initial))
        assert replace(found, chi_reversible=metal.chi_reversible) == metal
