"""What the coils of a build hear of uniform fields: each, all together, and how well they cancel."""

from __future__ import annotations

from dataclasses import dataclass

from stringflux.geometry.case import Case
from stringflux.postprocess.hum import MAINS, HumArea
from stringflux.postprocess.hum_pair import HumResidue, combined_area, hum_residue, solid_areas
from stringflux.solver.solved_solid import SolvedSolid


@dataclass(frozen=True, kw_only=True, eq=False)
class BuildHum:
    """Areas of a build.

    Attributes
    ----------
    areas : tuple of HumArea
        Of every coil as it is wound.
    together : HumArea
        As they are connected.
    residue : HumResidue, optional
        Of several coils, at the first of the mains' frequencies.
    """

    areas: tuple[HumArea, ...]
    together: HumArea
    residue: HumResidue | None


def build_hum(case: Case, solved: SolvedSolid) -> BuildHum:
    """Areas of a solved build; its coils are connected as the case says."""
    turns = [c.turns * c.sense for c in case.racetracks()]
    areas, weights = solid_areas(solved, turns), solved.field.weights / turns
    residue = hum_residue(areas, [abs(n) for n in turns], weights, MAINS[0]) if len(areas) > 1 else None
    return BuildHum(areas=areas, together=combined_area(areas, weights), residue=residue)
