"""The single-pole rig that independent 3-D references were computed for, and strings over it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from rigs.fields.shapes import BENCH_COIL, BENCH_MAGNET, placed, rod
from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.geometry.shapes.row import StringShape
from stringflux.postprocess.string.linkage import RestStencil, rest_model
from stringflux.postprocess.string.magnetisation import Layer
from stringflux.postprocess.string.model import StringModel, around, string_model
from stringflux.postprocess.string.numerics import StringNumerics
from stringflux.solver.materials import StringSteel
from stringflux.solver.row.solve import SolvedRow, solve_row
from stringflux.solver.seam import REACH

LINEAR_100 = StringSteel(name="linear", saturation=float("inf"), chi_initial=99.0, chi_reversible=99.0, law="linear")
FROHLICH = StringSteel(name="test law", saturation=1.55e6, chi_initial=90.0, chi_reversible=90.0, law="frohlich")


@lru_cache
def bench_row(quality: str = "normal") -> SolvedRow:
    return solve_row([placed(rod())], BENCH_COIL, {"bench": BENCH_MAGNET}, quality=QUALITIES[quality],
                     history="after", band=(0.7e-3, 7e-3))


@dataclass(frozen=True)
class Wire:
    """A plain string over the rig."""

    radius: float
    height: float
    steel: StringSteel = LINEAR_100
    y: float = 0.0
    slope: float = 0.0

    @property
    def shape(self) -> StringShape:
        return StringShape(y=self.y, axis_height=self.height, core_radius=self.radius, slope=self.slope)

    @property
    def layers(self) -> tuple[Layer, ...]:
        return (Layer(area=np.pi * self.radius**2, law=self.steel),)


def model(wire: Wire, row: SolvedRow | None = None, refine: float = 1.0, reach: float = REACH) -> StringModel:
    span = around(wire.shape, 0.3e-3)
    return string_model((row or bench_row()).field, wire.shape, wire.layers, span,
                        StringNumerics(refine=refine, reach=reach))


def linkage(wire: Wire, row: SolvedRow | None = None, refine: float = 1.0, reach: float = REACH) -> float:
    """λ at rest, Wb."""
    return float(model(wire, row, refine, reach).at(np.array([wire.y]), np.array([wire.height])).linkage[0])


def stencil(wire: Wire, row: SolvedRow | None = None) -> RestStencil:
    return RestStencil(rest_model((row or bench_row()).field, wire.shape, wire.layers))


def points(*triples: tuple[float, float, float]) -> Array:
    """Points given in mm as an array (3, n) in m."""
    return np.array(triples).T * 1e-3
