"""Small builds on coarse meshes whose nodes are moved at random, but smoothly."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.solid_quality import SolidQuality
from stringflux.geometry.shapes.bodies import Box, Revolved, SolidBody
from stringflux.geometry.shapes.row import Racetrack
from stringflux.solver.materials import find_material
from stringflux.solver.solid.solve import SolvedSolid, solve_solid
from stringflux.solver.solid.space import SolidSpace

COARSE = SolidQuality(divisions=1.5, largest=3e-3, tip=1.5e-3, edge=0.7, growth=0.6, far=4.0)
MATERIALS = {n: find_material(n) for n in ("steel-1008", "ceramic-8", "alnico-5", "ndfeb-38", "string-steel")}
REACH = 25e-3  # m, about the origin: beyond it the nodes rest


def coil(x: float = 0.0, sense: int = 1) -> Racetrack:
    return Racetrack(inner_radius=3.2e-3, straight=22e-3, build=4e-3, bottom=-7e-3, top=-1e-3, turns=5000,
                     sense=sense, x_centre=x)


def blade(x: float = 0.0) -> list[SolidBody]:
    """Soft steel on a flat magnet, the steel aside by x."""
    return [SolidBody(name="blade", material="steel-1008",
                      form=Box(low=(-1.5e-3 + x, -10e-3, -8e-3), high=(1.5e-3 + x, 10e-3, 0.0))),
            SolidBody(name="bar", material="ceramic-8", magnetisation=(0, 0, 1),
                      form=Box(low=(-5e-3, -11e-3, -12e-3), high=(5e-3, 11e-3, -8e-3)))]


def rod() -> list[SolidBody]:
    return [SolidBody(name="rod", material="alnico-5", magnetisation=(0, 0, 1),
                      form=Revolved(outline=((0, -12e-3), (2.4e-3, -12e-3), (2.4e-3, 0), (0, 0)), x=0.0, y=0.0))]


def pair() -> list[SolidBody]:
    """Two blades on a magnet that is magnetised along the strings, two coils against each other."""
    blades = [SolidBody(name=f"blade {k}", material="steel-1008",
                        form=Box(low=(x - 1e-3, -8e-3, -8e-3), high=(x + 1e-3, 8e-3, 0.0)))
              for k, x in enumerate((-8e-3, 8e-3))]
    return [*blades, SolidBody(name="bar", material="ndfeb-38", magnetisation=(1, 0, 0),
                               form=Box(low=(-9e-3, -8e-3, -12e-3), high=(9e-3, 8e-3, -8e-3)))]


BUILDS = {"blade": (blade(), [coil()]), "aside": (blade(0.7e-3), [coil()]), "rod": (rod(), [coil()]),
          "pair": (pair(), [coil(-8e-3), coil(8e-3, -1)])}


@lru_cache(maxsize=8)
def solved(name: str, history: str = "after") -> SolvedSolid:
    bodies, coils = BUILDS[name]
    return solve_solid(bodies, coils, MATERIALS, quality=COARSE, history=history)


def velocity(space: SolidSpace, seed: int) -> Array:
    """A smooth field (3, unknowns) of order 1 that keeps planes of symmetry where they are."""
    rng = np.random.default_rng(seed)
    k, phase = 120 * rng.standard_normal((3, 3)), rng.uniform(0, 6, 3)
    x = space.nodes
    v = np.sin(k @ x + phase[:, None]) * np.exp(-np.sum(x * x, 0) / REACH**2)
    for axis in space.mesh.symmetry.axes:
        v[axis] *= np.sin(x[axis] / REACH)
    return v
