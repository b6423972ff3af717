"""The coils of a 3-D build at their terminals: inductances over the band with eddy currents, and their connection.

    L(f) = L + [bodies with eddy currents − the same without] + sheets

L is the static matrix with every body's own permeability at its bias; for the eddy currents each body has one mean
permeability (:mod:`stringflux.solver.solid_eddy`). Non-magnetic sheets answer to b with the bodies in place
(:mod:`stringflux.solver.sheet`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case import Case
from stringflux.geometry.solid_shapes import SolidBody
from stringflux.postprocess.connection import CoilNetwork, coil_network
from stringflux.postprocess.winding import Winding, winding
from stringflux.solver import coil_air
from stringflux.solver.constants import MU0
from stringflux.solver.sheet import Sheet
from stringflux.solver.sheet_mesh import sheet_mesh
from stringflux.solver.solid_charges import unfolded
from stringflux.solver.solid_eddy import SolidBand, solve_band
from stringflux.solver.solved_solid import SolvedSolid, magnetic

_STILL = 1e-3  # Hz: so slow that nothing flows


def coil_windings(case: Case) -> tuple[Winding, ...]:
    """What to wind for every coil."""
    rows = (case.row, *(partner.row or case.row for partner in case.partner))
    return tuple(winding(case.model_copy(update={"coil": coil, "row": row}))
                 for coil, row in zip(case.coils(), rows, strict=True))


def build_network(case: Case, solved: SolvedSolid, materials: dict[str, Any], frequency: Array,
                  progress: Callable[[float], None] = lambda share: None) -> CoilNetwork:
    """The coils of a solved build over frequencies (f,), Hz, connected."""
    made = coil_windings(case)
    turns = np.array([c.turns * c.sense for c in case.racetracks()])
    per_turn = build_inductance(case, solved, materials, frequency, progress)
    return coil_network(how=case.connection.coils, names=case.coil_names(), turned=case.connection.reversed,
                        frequency=frequency, inductance=per_turn * np.outer(turns, turns),
                        resistance=[w.resistance for w in made], capacitance=[w.capacitance for w in made])


def build_inductance(case: Case, solved: SolvedSolid, materials: dict[str, Any], frequency: Array,
                     progress: Callable[[float], None] = lambda share: None) -> Any:
    """L − jR_e/ω of one turn each, H: complex (f, coils, coils)."""
    sources = [np.stack([coil_air.field(c, e.points) / MU0 for c in solved.coils]) for e in solved.space.bodies]
    band = solve_band(solved.space, solved.bodies, materials, solved.bias, sources,
                      np.concatenate([[_STILL], frequency]), progress)
    out = solved.matrix + band.inductance[1:] - band.inductance[0].real
    sheets = conducting_sheets(case, solved, materials)
    return out if not sheets else out + _of_sheets(sheets, solved, materials, band, frequency)


def conducting_sheets(case: Case, solved: SolvedSolid, materials: dict[str, Any]) -> tuple[SolidBody, ...]:
    """Bodies that conduct and are not magnetic."""
    own = {b.name for b in magnetic(case.solid_bodies(), materials)}
    return tuple(b for b in case.solid_bodies()
                 if b.name not in own and np.isfinite(getattr(materials[b.material], "resistivity", np.inf)))


def _of_sheets(sheets: tuple[SolidBody, ...], solved: SolvedSolid, materials: dict[str, Any], band: SolidBand,
               frequency: Array) -> Any:
    """What the sheets add, H per turn² (f, coils, coils)."""
    sheet = Sheet(mesh=sheet_mesh([b.form for b in sheets]),
                  conductivity=[1.0 / materials[b.material].resistivity for b in sheets],
                  thickness=[b.form.thickness for b in sheets])
    flux = []
    for values in band.charges[1:]:
        charges = unfolded(solved.space, values, ((),) * len(solved.coils))
        one = [sheet.flux(lambda p, c=c, k=k, charges=charges: coil_air.field(c, p)  # type: ignore[misc]
                          + MU0 * replace(charges, values=charges.values[k:k + 1]).field(p)[0])
               for k, c in enumerate(solved.coils)]
        flux.append(np.stack(one))
    return sheet.added_inductance(frequency, np.stack(flux))
