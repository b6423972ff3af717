"""The table of materials, finding one by name, and those a case defines itself."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from stringflux.geometry.case.bodies import NON_MAGNETIC
from stringflux.geometry.errors import CaseError
from stringflux.solver.constants import MU0
from stringflux.solver.materials import (
    ConstantPermeability,
    MagnetCurve,
    SoftCurve,
    StringSteel,
    find_material,
    known_materials,
    linear_magnet,
    material_from_definition,
    material_uses,
)

CLASSES = {"magnet": (MagnetCurve,), "soft": (SoftCurve, ConstantPermeability), "string": (StringSteel,),
           "conductor": (ConstantPermeability,), "spacer": (ConstantPermeability,)}


def test_table_is_complete() -> None:
    wanted = [f"alnico-{n}" for n in ("1", "2", "3", "4", "5", "5-7", "6", "8", "9")]
    wanted += ["ceramic-1", "ceramic-5", "ceramic-8", "smco-5", "sm2co17", "ndfeb-38"]
    wanted += ["steel-1008", "steel-12l14", "steel-test-13", "air"]
    wanted += ["brass", "nickel-silver", "copper", "aluminium", "spacer"]
    wanted += [f"string-{n}" for n in ("steel", "nickel-steel", "nickel", "stainless", "bronze")]
    assert set(wanted) == set(known_materials())


@pytest.mark.parametrize("name", known_materials())
def test_every_entry_builds_and_says_its_source(name: str) -> None:
    m = find_material(name)
    assert m.name == name
    assert len(m.source) > 10
    assert isinstance(m, CLASSES[material_uses()[name]])
    assert m.resistivity > 0
    assert find_material(name) is m
    hash(m)


def test_what_holds_no_magnetism_is_told_apart() -> None:
    uses = material_uses()
    for name, use in uses.items():
        m = find_material(name)
        if use in ("conductor", "spacer"):
            assert isinstance(m, ConstantPermeability)
            assert m.mu_r == 1.0
            assert (m.resistivity < 1e-6) == (use == "conductor")
    assert {n for n in uses if uses[n] in ("conductor", "spacer")} | {"air"} == NON_MAGNETIC


@pytest.mark.parametrize("name", [n for n, use in material_uses().items() if use == "magnet"])
def test_nominal_values_lie_in_their_ranges(name: str) -> None:
    m = find_material(name)
    assert isinstance(m, MagnetCurve)
    for value, (low, high) in (
        (m.mu_recoil, m.mu_recoil_range),
        (m.mu_signal, m.mu_signal_range),
        (m.mu_transverse, m.mu_transverse_range),
    ):
        assert low <= value <= high


def test_near_matches_are_named() -> None:
    with pytest.raises(CaseError, match="alnico-5"):
        find_material("Alnico 5")
    own = {"my-steel": ConstantPermeability(name="my-steel", mu_r=100)}
    with pytest.raises(CaseError, match="my-steel"):
        find_material("my-stel", own)
    with pytest.raises(CaseError, match="stringflux materials"):
        find_material("xyzzy")


def test_own_material_comes_first() -> None:
    own = {"alnico-5": linear_magnet(name="alnico-5", remanence=1.0, mu_recoil=4.0)}
    assert find_material("alnico-5", own) is own["alnico-5"]
    assert find_material("alnico-2", own).name == "alnico-2"


def test_definitions_of_a_case() -> None:
    magnet = material_from_definition(
        "m",
        SimpleNamespace(
            kind="linear magnet", remanence=1.0, recoil_permeability=4.0, transverse_permeability=None,
            reversible_permeability=None, resistivity=None, remanence_per_kelvin=None,
        ),
    )  # fmt: skip
    assert isinstance(magnet, MagnetCurve)
    assert magnet == linear_magnet(name="m", remanence=1.0, mu_recoil=4.0)
    curve = material_from_definition(
        "c",
        SimpleNamespace(
            kind="demagnetisation curve", curve=lambda: ((0.0, 1.2), (-3e4, 1.1), (-5e4, 0.0)),
            recoil_permeability=3.0, transverse_permeability=2.0, reversible_permeability=2.5,
            resistivity=5e-7,
            remanence_per_kelvin=-3e-4,
        ),
    )  # fmt: skip
    assert isinstance(curve, MagnetCurve)
    assert (curve.remanence, curve.mu_recoil, curve.mu_transverse) == (1.2, 3.0, 2.0)
    assert (magnet.mu_signal, curve.mu_signal, curve.mu_signal_range) == (4.0, 2.5, (2.5, 2.5))
    assert curve.coercivity == pytest.approx(5e4)
    assert (magnet.thermal.remanence, curve.thermal.remanence) == (None, -3e-4)
    table = material_from_definition(
        "t",
        SimpleNamespace(
            kind="BH table", curve=lambda: ((0.0, 0.0), (100.0, 0.5), (1000.0, 1.5)),
            reversible_permeability=120.0, resistivity=None,
        ),
    )  # fmt: skip
    assert isinstance(table, SoftCurve)
    assert table.mu_reversible == 120.0
    plain = material_from_definition(
        "p", SimpleNamespace(kind="constant permeability", permeability=500.0, resistivity=1e-7)
    )
    assert isinstance(plain, ConstantPermeability)
    assert (plain.mu_r, plain.resistivity) == (500.0, 1e-7)
    wire = material_from_definition(
        "w",
        SimpleNamespace(
            kind="string steel", saturation=1.9, initial_susceptibility=600.0, reversible_susceptibility=80.0,
            law="frohlich", density=7800.0, pinning=None,
        ),
    )  # fmt: skip
    assert isinstance(wire, StringSteel)
    assert wire.saturation == pytest.approx(1.9 / MU0)
    assert (wire.law, wire.density) == ("frohlich", 7800.0)
    usual = find_material("string-steel")
    assert isinstance(usual, StringSteel)
    assert (wire.pinning, wire.pinning_range) == (usual.pinning, usual.pinning_range) == (1200.0, (600.0, 2500.0))
    with pytest.raises(CaseError, match="kind"):
        material_from_definition("x", SimpleNamespace(kind="cheese"))
