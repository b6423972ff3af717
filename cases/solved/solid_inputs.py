"""What the 3-D solution of a case depends on, and its mesh begun before the rest of the program is there."""

from __future__ import annotations

from dataclasses import dataclass, replace

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import StringfluxError
from stringflux.geometry.mesh.solid import mesh_ahead
from stringflux.geometry.mesh.solid_quality import SolidQuality
from stringflux.geometry.shapes.bodies import SolidBody
from stringflux.geometry.shapes.row import Racetrack
from stringflux.solver.coil.direct import NO_CURRENTS, DirectCurrents, direct_currents
from stringflux.solver.materials import Material, Materials
from stringflux.solver.solid.halves import halving, magnetic

from .choice import choose
from .materials import case_materials
from .numerics import SHIPPED, Numerics


@dataclass(frozen=True, kw_only=True)
class SolidInputs:
    """All that a 3-D solution depends on; strings, turns and connections are not among it, but for the turns that
    carry a direct current."""

    bodies: tuple[SolidBody, ...]
    coils: tuple[Racetrack, ...]
    materials: tuple[tuple[str, Material], ...]
    quality: SolidQuality
    history: str
    direct: DirectCurrents = NO_CURRENTS


def solid_inputs(case: Case, quality: str, materials: Materials, numerics: Numerics = SHIPPED) -> SolidInputs:
    """What a case asks of the 3-D solver."""
    bodies = case.solid_bodies()
    used = {b.material for b in bodies}
    return SolidInputs(bodies=bodies, coils=tuple(_one_turn(c) for c in case.racetracks()),
                       materials=tuple((name, materials[name]) for name in sorted(used)),
                       quality=numerics.solid_mesh(quality), history=case.history,
                       direct=direct_currents(case.racetracks(), [c.direct_current or 0.0 for c in case.coils()]))


def begin_mesh(case: Case, quality: str, solver: str = "auto") -> None:
    """Begin to mesh what a prediction of the case meshes in 3-D, while the rest of the program is loaded.

    It is for commands that load much next and copy no process before they solve. What is wrong with the case is said
    where it is solved.
    """
    try:
        if choose(case, solver).solver != "solid":
            return
        inputs = solid_inputs(case, quality, case_materials(case))
        materials = dict(inputs.materials)
        own = magnetic(inputs.bodies, materials)
        if own:
            mesh_ahead(tuple(b.bare for b in own), inputs.quality,
                       symmetry=halving(own, inputs.coils, materials, inputs.history, inputs.direct))
    except StringfluxError:
        return


def _one_turn(coil: Racetrack) -> Racetrack:
    return replace(coil, turns=1.0, sense=1)
