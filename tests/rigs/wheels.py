"""Wheels before sensors for tests, and what is computed of them another way than the program does."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.geometry.mesh.wheel import SlidingQuality
from stringflux.geometry.shapes.section import CoilSides, PlanePart, PlaneShape, box
from stringflux.geometry.shapes.tooth_wheel import WheelBuild, WheelSensor, WheelShape
from stringflux.solver.coil import sides as plane_coil
from stringflux.solver.constants import NU0
from stringflux.solver.factor import factor
from stringflux.solver.materials.h_of_b import in_section
from stringflux.solver.materials.lookup import find_material
from stringflux.solver.materials.magnet import linear_magnet
from stringflux.solver.plane.section import solve_plane
from stringflux.solver.section.bias import BiasCell
from stringflux.solver.wheel.solve import SolvedWheel

FEW = SlidingQuality(positions=4, layers=1.5, corner=2.0, growth=0.8, divisions=1.5)
MATERIALS = {
    **{name: find_material(name) for name in ("alnico-5", "ceramic-5", "steel-1008", "air")},
    "straight": linear_magnet(name="straight", remanence=0.4, mu_recoil=1.0),
}
_MM = 1e-3
_CORNERS = 720  # of a disc: it lacks 1 µm of its gap between them


def wheel_build(teeth: int = 24, gap: float = 1.0, pole: bool = True, magnet: str = "alnico-5",
                steel: str = "steel-1008", **wheel: Any) -> WheelBuild:
    """A wheel of 50 mm before a bar of 4 mm, with a pole piece of 2 mm or none; lengths in mm."""
    shape = WheelShape(**{"teeth": teeth, "radius": 25 * _MM, "height": 3 * _MM, "top": 0.4, "floor": 0.4,
                          "bore": 8 * _MM, "material": steel} | wheel)
    low = -8 * _MM if pole else 0.0
    bars = (PlanePart(material=magnet, outline=box(-2 * _MM, 2 * _MM, low - 15 * _MM, low), magnetisation=(0, 1)),)
    if pole:
        bars += (PlanePart(material=steel, outline=box(-_MM, _MM, low, 0.0)),)
    coil = CoilSides(inner=2.2 * _MM, build=3 * _MM, bottom=-7.5 * _MM, top=-_MM, turns=1000.0)
    return WheelBuild(wheel=shape, sensor=WheelSensor(bars=bars, coil=coil, length=10 * _MM), gap=gap * _MM)


def clockwise(build: WheelBuild) -> WheelBuild:
    """The same with its coil wound the other way."""
    coil = replace(build.sensor.coil, turns=-build.sensor.coil.turns)
    return replace(build, sensor=replace(build.sensor, coil=coil))


def disc_linkage(sensor: WheelSensor, radius: float, gap: float) -> float:
    """λ in V s before a smooth steel disc, lengths in m, by the solver for bars: its mesh, and λ = ℓ ∫ M·b with the
    coil's field b in closed form."""
    turn = 2 * np.pi * np.arange(_CORNERS) / _CORNERS
    disc = PlanePart(material="steel-1008", outline=tuple(
        (radius * np.sin(t), gap + radius - radius * np.cos(t)) for t in turn))
    shape = PlaneShape(parts=(*sensor.bars, disc))
    solved = solve_plane(shape, (sensor.coil,), MATERIALS, quality=QUALITIES["normal"])
    linked = 0.0
    for part, basis, b in zip(solved.section.shape.parts, solved.section.parts, solved.bias_state.b, strict=True):
        m = b * NU0 - in_section(MATERIALS[part.material], part, b, None)[0]  # type: ignore[arg-type]
        own = plane_coil.field(sensor.coil, np.asarray(basis.global_coordinates()))
        linked += float(np.sum(basis.dx * np.sum(m * own, axis=0)))
    return linked * sensor.length * (2.0 if solved.half else 1.0)


def torque_per_ampere(solved: SolvedWheel, i: int) -> float:
    """dT/dI in N m/A on the wheel at position i, by Maxwell's stress of the field and of what one ampere adds to it::

        T = −ℓ ∫ σ_ij v_i ∂_j γ dS,   σ = ν0 (B B − B²/2),   v the velocity of a turn at 1 rad/s

    γ falls from 1 to 0 in the layer of elements along the circle in the gap. What one ampere adds is solved on the
    tangent of the curves. It equals dλ/dθ, since both are ∂²W'/∂I∂θ of the co-energy W'.
    """
    space, state = solved.space, solved.states[i]
    section = space.turned(solved.steps[i])
    cell = BiasCell(section=section, materials=solved.materials)  # type: ignore[arg-type]
    low = list(solved.alone.b)
    _, at = cell._residual(state.u, None, low)
    sensor = solved.build.sensor
    w = factor(section.linear + cell._tangent(at)).solve(section.joined.T @ space.linked * sensor.coil.turns)
    big, small = (_in_layer(solved, section.joined @ u) for u in (state.u, w))
    x, z, weight, slope = _layer(solved)
    v = np.stack([solved.build.centre - z, x])
    mixed = np.einsum("i...,j...->ij...", big, small)
    stress = NU0 * (mixed + mixed.swapaxes(0, 1) - np.eye(2)[:, :, None, None] * np.trace(mixed))
    return -sensor.length * float(np.sum(weight * np.einsum("ij...,i...,j...->...", stress, v, slope)))


def _layer_basis(solved: SolvedWheel) -> Any:
    from skfem import Basis

    sheets, ring = solved.space.sheets, solved.build.ring
    mesh = sheets.basis.mesh
    on = np.abs(np.hypot(mesh.p[0], mesh.p[1] - solved.build.centre) / ring - 1) < 1e-9
    own = np.flatnonzero(np.any(on[mesh.t], axis=0) & solved.space.mesh.wheel)
    return Basis(mesh, sheets.basis.elem, elements=own, intorder=6)


def _in_layer(solved: SolvedWheel, potential: Array) -> Array:
    """B (2, elements, points) of a potential on both sheets."""
    slope = np.asarray(_layer_basis(solved).interpolate(potential).grad)
    return np.stack([-slope[1], slope[0]])


def _layer(solved: SolvedWheel) -> tuple[Array, Array, Array, Array]:
    """x, z, weights and the slope of γ, (…, elements, points)."""
    basis = _layer_basis(solved)
    mesh = basis.mesh
    on = np.abs(np.hypot(mesh.p[0], mesh.p[1] - solved.build.centre) / solved.build.ring - 1) < 1e-9
    from skfem import ElementTriP1

    gamma = np.where(on, 0.0, 1.0)
    slope = np.asarray(basis.with_element(ElementTriP1()).interpolate(gamma).grad)
    x, z = np.asarray(basis.global_coordinates())
    return x, z, np.asarray(basis.dx), slope
