"""The rigs of the stored 3-D solves, and their results."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from rigs.fields.shapes import BENCH_COIL, placed, rectangle
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.geometry.shapes.row import PartShape, PoleShape, Racetrack
from stringflux.solver.materials import ConstantPermeability, linear_magnet
from stringflux.solver.row.solve import SolvedRow, solve_row

RESULTS: dict[str, dict[str, Any]] = json.loads(
    (Path(__file__).parents[2] / "reference3d" / "results.json").read_text())
PLACES = np.arange(-25e-3, 26e-3, 10e-3)
ROW_COIL = Racetrack(inner_radius=3e-3, straight=50e-3, build=4e-3, bottom=-13e-3, top=-2e-3, turns=1)
DISC = linear_magnet(name="disc", remanence=0.38, mu_recoil=1.05)


def slug(pole_mu: float, disc_radius: float) -> PoleShape:
    """Steel slug on a disc magnet, as in the stored solves."""
    return PoleShape(parts=(
        PartShape(material="steel", outline=rectangle(0, 2.4e-3, -17e-3, 0)),
        PartShape(material="disc", outline=rectangle(0, disc_radius, -21e-3, -17e-3), polarity=1)))


@lru_cache
def slug_row() -> SolvedRow:
    steel = ConstantPermeability(name="steel", mu_r=200.0)
    return solve_row([placed(slug(200.0, 6e-3))], BENCH_COIL, {"steel": steel, "disc": DISC},
                     quality=QUALITIES["normal"], history="after", band=(0.7e-3, 7e-3))
