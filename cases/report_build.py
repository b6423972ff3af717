"""What a report needs of a build of bodies and several coils besides its prediction: network, areas, mesh."""

from __future__ import annotations

from typing import Any

from stringflux.geometry.arrays import Array
from stringflux.geometry.case import Case
from stringflux.postprocess.hum import HumArea
from stringflux.postprocess.report_findings import BuildFindings
from stringflux.solver.solved_solid import SolvedSolid

from .build_circuit import build_network
from .build_hum import build_hum
from .coil_windings import coil_windings


def build_findings(case: Case, solved: SolvedSolid, materials: dict[str, Any],
                   frequency: Array) -> tuple[BuildFindings, HumArea]:
    """Coils, their network over frequencies (f,), Hz, and the area of all together.

    Parameters
    ----------
    solved : SolvedSolid
        With its coils connected as the case says.
    """
    hum = build_hum(case, solved)
    found = BuildFindings(windings=coil_windings(case), network=build_network(case, solved, materials, frequency),
                          areas=hum.areas, residue=hum.residue, unknowns=solved.space.unknowns,
                          copies=solved.space.copies)
    return found, hum.together
