"""Sheets that several tests share."""

from __future__ import annotations

from stringflux.geometry.shapes.bodies import Cover, Cylinder, Form
from stringflux.solver.eddy.sheet import Sheet
from stringflux.solver.eddy.sheet_mesh import sheet_mesh

SIGMA, T = 1 / 6.5e-8, 0.5e-3  # brass
COVER = Cover(low=(-10e-3, -10e-3, -14e-3), high=(10e-3, 10e-3, 1.5e-3), wall=T)
DISC = Cylinder(base=(0.0, 0.0, 1e-3), along=2, length=T, radius=10e-3)


def sheet(form: Form, cells: int = 400, sigma: float = SIGMA) -> Sheet:
    return Sheet(mesh=sheet_mesh([form], cells), conductivity=[sigma], thickness=[form.thickness])
