"""What every numerical setting costs: one at a time is made finer (or coarser), the result is compared.

    python tests/run.py settings [CASE]            all settings
    python tests/run.py settings CASE mesh         only those whose name begins so

Printed: the largest change of S over the strings, of the inductance and of the face field, in %, shipped
against changed, as the table of docs/measured.md. Strings are level with the top plate.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Any
from unittest.mock import patch

import numpy as np

from stringflux.cases import load_case
from stringflux.cases.jobs.prediction import predict
from stringflux.cases.solved import abstract
from stringflux.cases.solved import solve_row as case_row
from stringflux.cases.solved.solve_row import forget_meshes
from stringflux.geometry.case.model import Case
from stringflux.geometry.mesh import pole as mesh
from stringflux.geometry.mesh.pole import QUALITIES, Quality
from stringflux.postprocess.string import linkage
from stringflux.postprocess.string import model as string_model
from stringflux.solver.coil import air as coil_air
from stringflux.solver.materials import Material, is_steel
from stringflux.solver.row import coil_on_pole, rings, string_answer
from stringflux.solver.row import coupling as row
from stringflux.solver.row import field as row_field
from stringflux.solver.row import pole as pole_cells
from stringflux.solver.row import ring_table as pole_field
from stringflux.solver.row import solve as solved_row
from stringflux.solver.section.space import Section

LEVEL = {"strings.plane_angle": "0 deg"}
LONG = 120e-3  # metres of string each way


@dataclass(frozen=True)
class Setting:
    """A change: what is put in the place of which name."""

    name: str
    shipped: str
    changed: str
    where: Any
    attribute: str
    value: Any


def _string(**changed: float) -> Callable[..., string_model.StringModel]:
    """`string_model` with another grid: of the callers' arguments only the first four are kept."""
    return lambda field, shape, layers, span, *_: string_model.string_model(field, shape, layers, span, **changed)


def _more_far_rings(section: Section, orders: int = 3) -> rings.Rings:
    every = np.arange(section.pole.size)
    return rings._joined(section, rings._parts(section, every, orders, radial=6, per_panel=20, depths=()), orders)


def _steel(mu: float) -> Callable[[Case], dict[str, Material]]:
    """The materials of a case with another reversible permeability of its steel poles."""
    shipped = abstract.case_materials

    def changed(case: Case) -> dict[str, Material]:
        return {name: replace(m, mu_reversible=mu) if is_steel(m) else m
                for name, m in shipped(case).items()}

    return changed


def _meshes() -> list[Setting]:
    normal = QUALITIES["normal"]
    tried = [(3, 0.3, 6), (4, 0.25, 6), (5, 0.15, 6), (5, 0.1, 6), (7, 0.2, 6), (5, 0.2, 10), (9, 0.1, 10),
             (12, 0.07, 10)]
    return [Setting("mesh: divisions, growth, far", f"{normal.divisions:g}, {normal.growth:g}, {normal.far:g}",
                    ", ".join(f"{v:g}" for v in q), case_row, "QUALITIES",
                    QUALITIES | {"normal": Quality(divisions=q[0], growth=q[1], far=q[2])}) for q in tried]


SETTINGS = [
    *_meshes(),
    Setting("orders of the row", "3", "2", solved_row, "ORDERS", 2),
    Setting("orders of the answer to a string", "3", "2", pole_cells, "ANSWER_ORDERS", 2),
    Setting("orders of the answer to a string", "3", "1", pole_cells, "ANSWER_ORDERS", 1),
    Setting("modes of the answer, cut", "3e-5", "3e-6", string_answer, "_KEEP", 3e-6),
    Setting("near rings: radii a metre under the skin", "3.3e3", "5e3", rings, "_RADIAL", 5e3),
    Setting("near rings: depth of the skin", "0.8 mm", "1.5 mm", rings, "_SKIN", 1.5e-3),
    Setting("far rings: radii, heights", "4, 14", "6, 20", pole_cells, "far_rings", _more_far_rings),
    Setting("mesh: size at the face", "0.25 mm", "0.12 mm", mesh, "_FACE", 0.12e-3),
    Setting("field table: ratio of heights", "0.2", "0.1", pole_field, "_RATIO", 0.1),
    Setting("field table: growth of radii", "1.15", "1.07", pole_field, "_GROWTH", 1.07),
    Setting("row: angles between poles", "8", "16", row, "_ANGLES", 16),
    Setting("row: tolerance", "1e-4", "1e-6", row, "COUPLING_TOLERANCE", 1e-6),
    Setting("coil: angles of an end", "10", "24", coil_air, "_ANGLES", 24),
    Setting("coil: inductance in air, points", "5", "16", coil_air, "inductance", partial(coil_air.inductance, n=16)),
    Setting("coil on a pole: radii", "4", "7", coil_on_pole, "_RADII", 7),
    Setting("coil on a pole: heights a panel", "9", "16", coil_on_pole, "_HEIGHTS", 16),
    Setting("coil on a pole: angles", "7", "14", coil_on_pole, "_ANGLES", 14),
    Setting("string: step", "1", "1/4", linkage, "string_model", _string(refine=4.0)),
    Setting("string: poles sampled closely", "8 mm", "30 mm", row_field, "CLOSE", 30e-3),
    Setting("string: passes axial–across", "2", "3", string_model, "_PASSES", 3),
    Setting("string: passes axial–across", "2", "1", string_model, "_PASSES", 1),
    Setting("string: half length looked at", "60 mm", "40 mm", linkage, "string_model", _string(reach=40e-3)),
    Setting("string: half length looked at", "60 mm", "110 mm", linkage, "string_model", _string(reach=110e-3)),
    Setting("steel poles: reversible μr", "200", "100", abstract, "case_materials", _steel(100.0)),
    Setting("steel poles: reversible μr", "200", "300", abstract, "case_materials", _steel(300.0)),
]


def result(name: str) -> tuple[np.ndarray, float, np.ndarray]:
    """S of the strings, L, field over the poles, from nothing."""
    forget_meshes()
    p = predict(load_case(name, LEVEL), maps=False)
    return np.array([s.sensitivity for s in p.strings]), p.coil.inductance, np.array([q.field for q in p.poles])


def main() -> None:
    case = sys.argv[1] if len(sys.argv) > 1 else "baritone-six"
    start = sys.argv[2] if len(sys.argv) > 2 else ""
    print(f"{case}: shipped against changed, largest difference in %\n")
    print("| setting | shipped | changed | S | L | face field |\n|---|---|---|--:|--:|--:|")
    shipped = result(case)
    for s in SETTINGS:
        if not s.name.startswith(start):
            continue
        with patch.object(s.where, s.attribute, s.value), patch.object(solved_row, "REACH", LONG):
            found = result(case)
        differences = (100 * np.ravel(a / b - 1) for a, b in zip(shipped, found, strict=True))
        cells = (f"{d[np.argmax(np.abs(d))]:+.3f}" for d in differences)
        print(f"| {s.name} | {s.shipped} | {s.changed} | " + " | ".join(cells) + " |", flush=True)
    forget_meshes()


if __name__ == "__main__":
    main()
