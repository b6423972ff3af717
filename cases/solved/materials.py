"""The material objects of a case."""

from __future__ import annotations

from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.solver.materials import Material, at_temperature, find_material, material_from_definition


def case_materials(case: Case) -> dict[str, Material]:
    """The material objects that a case uses at its temperature, by name: its own definitions first.

    Raises
    ------
    CaseError
        For a temperature beyond what is known of one of them.
    """
    own = {name: material_from_definition(name, d) for name, d in case.materials.items()}
    names = {body.material for body in case.solid_bodies()}
    for s in (string.shape for string in placed_strings(case)):
        names |= {s.steel} | ({s.wrap} if s.wrap else set())
    return {name: at_temperature(find_material(name, own), case.conditions.temperature) for name in sorted(names)}
