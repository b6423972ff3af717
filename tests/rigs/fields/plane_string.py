"""A string in the plane of a section, by two routes, for tests and for `tests/measure/plane.py`.

The string is a strip of steel along x, endless along y like everything in the plane, at a height z over a blade on a
bar magnet. Everything is linear, so that both routes mean the same thing:

direct       the strip is meshed with the bars and the coil's sides; the linkage ∫ J A of the coil, the strip of
             steel against the strip of air on the same mesh. A new mesh for every height.
reciprocity  bars without the strip give B₀ and b; the strip alone, on a mesh of its own that moves with it,
             answers to B₀ and to what the bars answer to it; λ = ∫ M·b. The coil is not in any mesh.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.bars import plane_mesh
from stringflux.geometry.mesh.pole import Quality
from stringflux.geometry.shapes.section import CoilSides, PlanePart, PlaneShape, box
from stringflux.solver.materials import ConstantPermeability, linear_magnet
from stringflux.solver.materials.signal import reluctivity
from stringflux.solver.plane.line_charges import LineCharges
from stringflux.solver.plane.section import SolvedPlane, solve_plane
from stringflux.solver.plane.small_signal import PlaneSignalCell
from stringflux.solver.section.bias import BiasCell
from stringflux.solver.section.forms import PLANAR_ODD
from stringflux.solver.section.space import section_from_mesh

COIL = CoilSides(inner=2.2e-3, build=3.5e-3, bottom=-12e-3, top=-2e-3)
BARS = (PlanePart(material="blade", outline=box(-1.5e-3, 1.5e-3, -14e-3, 0.0)),
        PlanePart(material="magnet", outline=box(-3e-3, 3e-3, -17.2e-3, -14e-3), magnetisation=(0.0, 1.0)))
HALF_LENGTH, THICKNESS, MU_STRING = 12e-3, 0.4e-3, 100.0
MATERIALS = {"blade": ConstantPermeability(name="blade", mu_r=200.0),
             "magnet": linear_magnet(name="magnet", remanence=1.0, mu_recoil=2.0),
             "string": ConstantPermeability(name="string", mu_r=MU_STRING),
             "air": ConstantPermeability(name="air", mu_r=1.0)}
SETTLED = 1e-6  # of λ: bars and strip answer each other until a round moves it by less


def strip(z: float) -> PlanePart:
    """The string with its axis at z."""
    return PlanePart(material="string", outline=box(-HALF_LENGTH, HALF_LENGTH, z - THICKNESS / 2, z + THICKNESS / 2))


def direct(z: float, quality: Quality) -> tuple[float, float]:
    """λ of the string per metre (Wb/m, one turn), and the whole linkage with the string there."""
    shape = PlaneShape(parts=(*BARS, strip(z), PlanePart(material="air", outline=COIL.outline(1))))
    section = section_from_mesh(shape, plane_mesh(shape, quality, half=True), PLANAR_ODD)
    coil = section.parts[3]
    J = 1.0 / float(np.sum(coil.dx))
    load = section.formulation.current.assemble(coil, J=np.full((coil.nelems, 1), J))
    linked = []
    for steel in ("string", "air"):
        names = ("blade", "magnet", steel, "air")
        state = BiasCell(section=section, materials=tuple(MATERIALS[n] for n in names)).solve(tolerance=1e-11)
        linked.append(2.0 * float(load @ state.u))
    return linked[0] - linked[1], linked[0]


def bars(quality: Quality) -> SolvedPlane:
    return solve_plane(PlaneShape(parts=BARS), (COIL,), MATERIALS, quality=quality)


def string_cell(quality: Quality) -> PlaneSignalCell:
    """The strip alone, its axis at z = 0; its field is smooth along it, so half as many elements as a bar do."""
    shape = PlaneShape(parts=(strip(0.0),))
    quality = replace(quality, divisions=quality.divisions / 2)
    section = section_from_mesh(shape, plane_mesh(shape, quality, half=True), PLANAR_ODD)
    basis = section.parts[0]
    zero = np.zeros((2, basis.nelems, basis.X.shape[-1]))
    nu = reluctivity(MATERIALS["string"], shape.parts[0].axis, zero)
    return PlaneSignalCell(section=section, reluctivity=(nu,))


def reciprocity(z: float, plane: SolvedPlane, string: PlaneSignalCell) -> float:
    """λ of the string per metre, Wb/m for one turn."""
    pole = string.section.pole
    (points,) = (_lifted(x, z) for x in string.places)
    rest, b = plane.bias(points), plane.reciprocal(points)
    external, before = rest, 0.0
    for _ in range(30):
        answer = string.answer(lambda _, B=external: B)  # type: ignore[misc]
        linked = 2.0 * string.linked(answer.magnetisation, lambda _: b)
        if abs(linked - before) < SETTLED * abs(linked):
            return linked
        own = LineCharges(nodes=_lifted(string.section.nodes[:, pole], z), charges=answer.charges[pole], mirror=1)
        external, before = rest + plane.charged(plane.signal.answer(own.field)).field(points), linked
    raise RuntimeError("bars and strip do not settle")


def _lifted(x: Array, z: float) -> Array:
    return np.stack([x[0], x[1] + z])
