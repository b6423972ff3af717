"""What every numerical setting costs: one at a time is made finer (or coarser), the result is compared.

    python tests/run.py settings [CASE]              all settings
    python tests/run.py settings CASE mesh           only those whose name begins so
    python tests/run.py settings CASE --quality draft
    python tests/run.py settings --tried             their names, the values shipped and those tried

Printed: the largest change of S over the strings, of the inductance and of the face field, in %, shipped
against changed, as the table of docs/measured.md. Strings are level with the top plate.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from stringflux.cases import load_case
from stringflux.cases.jobs.prediction import prediction_of
from stringflux.cases.solved import solved_case
from stringflux.cases.solved.numerics import SHIPPED, Numerics
from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.solver.materials import is_steel

LEVEL = {"strings.plane_angle": "0 deg"}


@dataclass(frozen=True, kw_only=True)
class Setting:
    """Another value of some attributes of one part of :class:`Numerics`.

    Attributes
    ----------
    name : str
    part : {"mesh", "row", "string"}
    values : dict
        By attribute.
    unit : (str, float)
        In which they are printed, and what that is in SI.
    """

    name: str
    part: str
    values: dict[str, Any]
    unit: tuple[str, float] = ("", 1.0)

    def of(self, quality: str) -> tuple[Numerics, str, str]:
        """The settings with it, and the values shipped and tried in words."""
        own = QUALITIES[quality] if self.part == "mesh" else getattr(SHIPPED, self.part)
        shipped = {key: getattr(own, key) for key in self.values}
        return (replace(SHIPPED, **{self.part: replace(own, **self.values)}), self._words(shipped),
                self._words(self.values))

    def _words(self, values: dict[str, Any]) -> str:
        name, size = self.unit
        return ", ".join(f"{v / size:.6g}" for v in values.values()) + (f" {name}" if name else "")


MM = ("mm", 1e-3)
MESHES = ((3, 0.3, 6), (4, 0.25, 6), (5, 0.15, 6), (5, 0.1, 6), (7, 0.2, 6), (5, 0.2, 10), (9, 0.1, 10),
          (12, 0.07, 10))
STEEL = (100.0, 300.0)
"""Reversible permeabilities of steel poles: a doubt, no setting; the material is changed, not the numerics."""


def _row(name: str, unit: tuple[str, float] = ("", 1.0), **values: Any) -> Setting:
    return Setting(name=name, part="row", values=values, unit=unit)


def _string(name: str, unit: tuple[str, float] = ("", 1.0), **values: Any) -> Setting:
    return Setting(name=name, part="string", values=values, unit=unit)


SETTINGS = (
    *(Setting(name="mesh: divisions, growth, far", part="mesh",
              values=dict(zip(("divisions", "growth", "far"), m, strict=True))) for m in MESHES),
    Setting(name="mesh: size at the face", part="mesh", values={"face": 0.12e-3}, unit=MM),
    _row("orders of the row", orders=2),
    _row("orders of the row", orders=4),
    _row("orders of the answer to a string", answer_orders=4),
    _row("orders of the answer to a string", answer_orders=2),
    _row("orders of the answer to a string", answer_orders=1),
    _row("modes of the answer, cut", modes=3e-6),
    _row("near rings: radii a metre under the skin", skin_radii=5e3),
    _row("near rings: depth of the skin", MM, skin=1.5e-3),
    _row("far rings: radii, heights", far_radii=6, far_heights=20),
    _row("field table: ratio of heights", table_heights=0.1),
    _row("field table: growth of steps", table_growth=1.07),
    _row("row: angles between poles", angles=16),
    _row("row: tolerance", tolerance=1e-6),
    _row("row: tolerance of steel", steel=1e-3),
    _row("coil: angles of an end", end_angles=24),
    _row("coil: inductance in air, points", winding_points=16),
    _row("coil on a pole: radii", coil_radii=7),
    _row("coil on a pole: heights a panel", coil_heights=16),
    _row("coil on a pole: angles", coil_angles=14),
    _row("string: poles sampled closely", MM, close=30e-3),
    _string("string: steps divided by", refine=4.0),
    _string("string: passes axial–across", passes=3),
    _string("string: passes axial–across", passes=1),
    _string("string: half length looked at", MM, reach=40e-3),
    _string("string: half length looked at", MM, reach=110e-3),
)


def result(case: Case, quality: str, numerics: Numerics = SHIPPED, steel: float | None = None) -> tuple[Array, ...]:
    """S of the strings, L, field over the poles, from nothing; with another reversible permeability of `steel`."""
    solved = solved_case(case, quality, numerics=numerics)
    if steel is not None:
        solved.materials = {name: replace(m, mu_reversible=steel) if is_steel(m) else m
                            for name, m in solved.materials.items()}
    p = prediction_of(solved, maps=False)
    return (np.array([s.sensitivity for s in p.strings]), np.array([p.coil.inductance]),
            np.array([q.field for q in p.poles]))


def row_of(name: str, words: tuple[str, str], shipped: Sequence[Array], found: Sequence[Array]) -> str:
    """A line of the table."""
    differences = (100 * (a / b - 1) for a, b in zip(shipped, found, strict=True))
    cells = (f"{d[np.argmax(np.abs(d))]:+.3f}" for d in differences)
    return f"| {name} | {' | '.join(words)} | {' | '.join(cells)} |"


def main() -> None:
    parser = argparse.ArgumentParser(description="What every numerical setting costs.")
    parser.add_argument("case", nargs="?", default="baritone-six")
    parser.add_argument("start", nargs="?", default="")
    parser.add_argument("--quality", choices=QUALITIES, default="normal")
    parser.add_argument("--tried", action="store_true")
    asked = parser.parse_args()
    wanted = [(s.name, *s.of(asked.quality)) for s in SETTINGS if s.name.startswith(asked.start)]
    if asked.tried:
        for name, _, shipped, changed in wanted:
            print(f"{name}: {shipped} → {changed}")
        return
    case = load_case(asked.case, LEVEL)
    print(f"{asked.case} at {asked.quality}: shipped against changed, largest difference in %\n")
    print("| setting | shipped | changed | S | L | face field |\n|---|---|---|--:|--:|--:|")
    usual = result(case, asked.quality)
    for name, numerics, *words in wanted:
        print(row_of(name, (words[0], words[1]), usual, result(case, asked.quality, numerics)), flush=True)
    doubt = "steel poles: reversible μr"
    for mu in STEEL if doubt.startswith(asked.start) else ():
        print(row_of(doubt, ("the material's", f"{mu:g}"), usual, result(case, asked.quality, steel=mu)), flush=True)


if __name__ == "__main__":
    main()
