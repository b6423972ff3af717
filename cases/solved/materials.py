"""The material objects of a case."""

from __future__ import annotations

from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.solver.materials import Material, find_material, material_from_definition


def case_materials(case: Case) -> dict[str, Material]:
    """The material objects that a case uses, by name: its own definitions first."""
    own = {name: material_from_definition(name, d) for name, d in case.materials.items()}
    names = {body.material for body in case.solid_bodies()}
    for s in (string.shape for string in placed_strings(case)):
        names |= {s.steel} | ({s.wrap} if s.wrap else set())
    return {name: find_material(name, own) for name in sorted(names)}
