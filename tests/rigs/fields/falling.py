"""A magnet, a coil and a core to hold the falling magnet's fields against others."""

from __future__ import annotations

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.demonstrations.falling import rectangle
from stringflux.geometry.shapes.row import PartShape, Racetrack
from stringflux.solver.materials.constant import ConstantPermeability
from stringflux.solver.materials.kinds import Materials
from stringflux.solver.materials.lookup import find_material
from stringflux.solver.materials.magnet import linear_magnet

COIL = Racetrack(inner_radius=8e-3, straight=0.0, build=3e-3, bottom=-6e-3, top=6e-3, turns=1000)
MATERIALS: Materials = {
    **{name: find_material(name) for name in ("ndfeb-38", "alnico-5", "smco-5", "steel-1008")},
    "rigid": linear_magnet(name="rigid", remanence=1.0, mu_recoil=1.0),
    "plain-core": ConstantPermeability(name="plain-core", mu_r=200.0),
}


def rod(material: str, diameter: float, length: float, middle: float = 0.0, polarity: int = 1) -> PartShape:
    """A magnet with its middle at a height."""
    return PartShape(material=material, polarity=polarity,
                     outline=rectangle(0.0, diameter / 2, middle - length / 2, middle + length / 2))


def flux_of_field(bz: object, radius: float, edges: tuple[float, ...]) -> float:
    """∫ B_z 2πr dr out to a radius by Gauss points in stretches that end at `edges`, Wb; bz of radii (n,)."""
    g, w = np.polynomial.legendre.leggauss(24)
    total, low = 0.0, 0.0
    for high in (*[e for e in edges if e < radius], radius):
        r = (low + high) / 2 + (high - low) / 2 * g
        values: Array = bz(r)  # type: ignore[operator]
        total += float(np.sum(w * values * 2 * np.pi * r)) * (high - low) / 2
        low = high
    return total
