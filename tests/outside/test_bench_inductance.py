"""One coil with rods of known grades on an amateur's bench (docs/sources.md 2.1): L over that in air.

The table's permeabilities for signals were read backwards from these figures; what is held is that they still give
them, and that the range of alnico 5 spans a second coil, wound for another pickup.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np
import pytest

from rigs.fields.shapes import placed, rectangle
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.geometry.shapes.row import PartShape, PoleShape, Racetrack
from stringflux.solver.materials import MagnetCurve, find_material
from stringflux.solver.row.solve import solve_row

MEASURED = {"alnico-2": 1.4756, "alnico-3": 1.5030, "alnico-4": 1.4628, "alnico-5": 1.2605}
SECOND = 1.243  # alnico 5, magnetised
WITHIN = 5e-3  # the meter's last digit and 0.1 of μ
COIL = Racetrack(inner_radius=2.5e-3, straight=52.2e-3, build=4.2e-3, bottom=-12e-3, top=-1e-3, turns=1)
PLACES = (np.arange(6) - 2.5) * 10.4e-3


@lru_cache
def gain(name: str, end: int | None = None) -> float:
    """L of six rods of 4.8 × 17 mm in the coil over that of the coil alone; at an `end` of what signals may meet."""
    material: Any = find_material(name)
    assert isinstance(material, MagnetCurve)
    if end is not None:
        material = replace(material, mu_reversible=material.mu_signal_range[end])
    shape = PoleShape(parts=(PartShape(material=name, outline=rectangle(0, 2.4e-3, -17e-3, 0), polarity=1),))
    row = solve_row([placed(shape, y=float(y), face=1.5e-3) for y in PLACES], COIL, {name: material},
                    quality=QUALITIES["draft"], history="after", band=(2e-3, 7e-3))
    return abs(row.inductance / row.inductance_air)


@pytest.mark.parametrize("name", MEASURED)
def test_rods_of_a_grade_raise_the_inductance_as_measured(name: str) -> None:
    assert gain(name) == pytest.approx(MEASURED[name], rel=WITHIN)


def test_the_doubt_about_alnico_5_spans_another_coil() -> None:
    assert gain("alnico-5", 0) < SECOND < gain("alnico-5", 1)


def test_grades_stand_in_the_measured_order() -> None:
    """Alnico 4 beside alnico 2, not between that and alnico 5."""
    assert gain("alnico-5") < gain("alnico-4") < gain("alnico-2") < gain("alnico-3")
    assert gain("alnico-4") > gain("alnico-2") - 0.2 * (gain("alnico-2") - gain("alnico-5"))
