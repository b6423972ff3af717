"""Shapes and materials that several tests share."""

from __future__ import annotations

import numpy as np

from stringflux.geometry.shapes.magnet_state import MagnetState
from stringflux.geometry.shapes.row import PartShape, PlacedPole, PoleShape, Racetrack
from stringflux.solver.materials import ConstantPermeability, linear_magnet

BENCH_RADIUS, BENCH_LENGTH = 2.4e-3, 17e-3
BENCH_COIL = Racetrack(inner_radius=3e-3, straight=0, build=4e-3, bottom=-13e-3, top=-2e-3, turns=1)
BENCH_MAGNET = linear_magnet(name="bench", remanence=1.0, mu_recoil=4.0, mu_transverse=4.0)
STEEL_200 = ConstantPermeability(name="steel 200", mu_r=200.0)


def rectangle(r0: float, r1: float, z0: float, z1: float) -> tuple[tuple[float, float], ...]:
    return ((r0, z0), (r1, z0), (r1, z1), (r0, z1))


def rod(radius: float = BENCH_RADIUS, length: float = BENCH_LENGTH, material: str = "bench",
        polarity: int = 1, charge: float = 1.0) -> PoleShape:
    return PoleShape(parts=(PartShape(material=material, outline=rectangle(0, radius, -length, 0),
                                      polarity=polarity, state=MagnetState(charge=charge)),))


def spheroid(radius: float, half_length: float, material: str = "body", pieces: int = 80,
             polarity: int = 0) -> PoleShape:
    """Prolate spheroid (a sphere for equal half axes) with its top at z = 0, area of the true section."""
    t = np.linspace(0, np.pi, pieces + 1)
    # a polygon between the inscribed and the circumscribed one has the volume right to fourth order
    swell = 1 + (t[1] - t[0]) ** 2 / 12
    r, z = radius * swell * np.sin(t), half_length * swell * np.cos(t)
    r[0] = r[-1] = 0.0
    top = z.max()
    outline = tuple((float(a), float(b - top)) for a, b in zip(r[::-1], z[::-1], strict=True))
    return PoleShape(parts=(PartShape(material=material, outline=outline, polarity=polarity),))


def placed(shape: PoleShape, y: float = 0.0, face: float = 0.0) -> PlacedPole:
    return PlacedPole(y=y, face=face, shape=shape)
