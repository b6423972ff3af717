"""Sections and materials that the planar tests share."""

from __future__ import annotations

import numpy as np

from stringflux.geometry.shapes.section import CoilSides, PlanePart, PlaneShape, box
from stringflux.solver.materials import ConstantPermeability, linear_magnet

BLADE_COIL = CoilSides(inner=2.2e-3, build=3.5e-3, bottom=-12e-3, top=-2e-3)
HARD = linear_magnet(name="hard", remanence=1.0, mu_recoil=1.0, mu_transverse=1.0)
RECOIL = linear_magnet(name="recoil", remanence=1.0, mu_recoil=4.0, mu_transverse=2.0)
RECOIL_4 = linear_magnet(name="recoil 4", remanence=1.0, mu_recoil=4.0)


def steel(mu: float) -> ConstantPermeability:
    return ConstantPermeability(name=f"steel {mu:g}", mu_r=mu)


def disc(radius: float, *, x: float = 0.0, z: float = 0.0, material: str = "body", pieces: int = 96,
         magnetisation: tuple[float, float] | None = None) -> PlanePart:
    """A cylinder along y as a polygon of the same area, so that its moment is right to fourth order."""
    t = 2 * np.pi * (np.arange(pieces) + 0.5) / pieces
    r = radius * np.sqrt(2 * np.pi / pieces / np.sin(2 * np.pi / pieces))
    outline = tuple((float(x + r * np.sin(a)), float(z - r * np.cos(a))) for a in -t)
    return PlanePart(material=material, outline=outline, magnetisation=magnetisation)


def bar(x0: float, x1: float, z0: float, z1: float, material: str = "body",
        magnetisation: tuple[float, float] | None = None) -> PlanePart:
    return PlanePart(material=material, outline=box(x0, x1, z0, z1), magnetisation=magnetisation)


def blade_on_bar(magnetisation: tuple[float, float] = (0.0, 1.0)) -> PlaneShape:
    """A steel blade that stands on a flat bar magnet."""
    return PlaneShape(parts=(bar(-1.5e-3, 1.5e-3, -14e-3, 0.0, "blade"),
                             bar(-3e-3, 3e-3, -17.2e-3, -14e-3, "magnet", magnetisation)))
