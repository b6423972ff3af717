"""All numerical settings of a solution in one record: the program's own, and others where accuracy is measured."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stringflux.geometry.mesh.bars import PLANE_QUALITIES
from stringflux.geometry.mesh.pole import QUALITIES, Quality
from stringflux.geometry.mesh.solid_quality import SOLID_QUALITIES, SolidQuality
from stringflux.geometry.rules import check, rising
from stringflux.postprocess.string.numerics import SHIPPED as STRING
from stringflux.postprocess.string.numerics import StringNumerics
from stringflux.solver.eddy.numerics import SHIPPED as EDDIES
from stringflux.solver.eddy.numerics import EddyNumerics
from stringflux.solver.row.numerics import BAND, RowNumerics
from stringflux.solver.row.numerics import SHIPPED as ROW


@dataclass(frozen=True, kw_only=True)
class Numerics:
    """Numerical settings beside the quality of the meshes.

    Attributes
    ----------
    mesh : Quality, optional
        Of the sections of poles and bars, in place of the one that the quality's name stands for.
    solid : SolidQuality, optional
        Of builds in 3-D, likewise.
    row : RowNumerics
        Of rows of poles, and of a build's poles where they answer to strings.
    string : StringNumerics
        Of every string; its reach is what fields are tabulated for.
    eddies : EddyNumerics
        Of a build's eddy currents.
    band : tuple of float
        Frequencies at which eddy currents at the strings are computed, Hz, rising; twice as many change κ of a build
        by up to 0.4 % (one rod), of a row by 1e-4 at the most.
    frequencies : tuple of float
        At which the coils are computed at their terminals, Hz, rising: a 1–2–5 series over the band, and the two
        frequencies of simple meters beside 1 and 10 kHz.

    Raises
    ------
    InputError
        For frequencies that do not rise, or lie beyond what meshes resolve the skin for.
    """

    mesh: Quality | None = None
    solid: SolidQuality | None = None
    row: RowNumerics = ROW
    string: StringNumerics = STRING
    eddies: EddyNumerics = EDDIES
    band: tuple[float, ...] = tuple(np.geomspace(*BAND, 10).tolist())
    frequencies: tuple[float, ...] = (20.0, 50.0, 100.0, 120.0, 200.0, 500.0, 1e3, 2e3, 5e3, 10e3, 20e3)

    def __post_init__(self) -> None:
        check(self, band=rising(2, BAND[1], "Hz"), frequencies=rising(1, BAND[1], "Hz"))

    def section_mesh(self, quality: str) -> Quality:
        """How fine poles are meshed at a quality of that name."""
        return self.mesh or QUALITIES[quality]

    def plane_mesh(self, quality: str) -> Quality:
        """How fine sections of bars are meshed at a quality of that name."""
        return self.mesh or PLANE_QUALITIES[quality]

    def solid_mesh(self, quality: str) -> SolidQuality:
        """How fine builds are meshed in 3-D at a quality of that name."""
        return self.solid or SOLID_QUALITIES[quality]


SHIPPED = Numerics()
"""What the program takes when it is told nothing else."""
