"""How far the chain is from the stored 3-D solves, as the tables of docs/measured.md.

    python tests/run.py reference             all of them
    python tests/run.py reference strings     λ over a rod and over a slug on a disc, by radius and gap
    python tests/run.py reference orders      fields 3 mm over a row by azimuthal orders carried
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from rigs.fields.bench_rig import Wire, linkage
from rigs.fields.reference_rigs import DISC, PLACES, RESULTS, ROW_COIL, slug, slug_row
from rigs.fields.shapes import BENCH_MAGNET, placed, rod
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.geometry.shapes.row import PoleShape
from stringflux.solver.materials import ConstantPermeability
from stringflux.solver.row.numerics import SHIPPED, RowNumerics
from stringflux.solver.row.solve import SolvedRow, solve_row
from stringflux.solver.seam import REACH


def strings() -> None:
    """Error of λ in %; where a string was solved with several lengths, the longest one."""
    for section, row in (("1_rod_table", None), ("2_steel_slug_on_disc", slug_row())):
        print(f"\nλ, error in % ({section}; string of constant μr 100)\n")
        items = [item for key, item in RESULTS[section].items() if key.startswith("a_mm")]
        errors: dict[float, dict[float, float]] = {}
        for item in sorted(items, key=lambda item: float(item["string_half_length_mm"])):
            wire = Wire(item["string_radius_mm"] * 1e-3, item["axis_z_mm"] * 1e-3)
            reach = min(item["string_half_length_mm"] * 1e-3, REACH)
            ratio = linkage(wire, row, reach=reach) * 1e9 / item["lambda_nWb_per_turn"]
            errors.setdefault(item["string_radius_mm"], {})[item["gap_face_to_underside_mm"]] = ratio - 1
        gaps = sorted({gap for of in errors.values() for gap in of})
        print("| radius mm | " + " | ".join(f"gap {g:g} mm" for g in gaps) + " |\n|---|" + "--:|" * len(gaps))
        for radius, of in sorted(errors.items()):
            cells = (f"{100 * of[g]:+.2f}" if g in of else "" for g in gaps)
            print(f"| {radius:g} | " + " | ".join(cells) + " |")


def _rods(numerics: RowNumerics) -> SolvedRow:
    return _row(rod(), {"bench": BENCH_MAGNET}, numerics)


def _steel(numerics: RowNumerics) -> SolvedRow:
    materials = {"steel": ConstantPermeability(name="steel", mu_r=300.0), "disc": DISC}
    return _row(slug(300.0, 4.5e-3), materials, numerics)


def _row(shape: PoleShape, materials: dict[str, Any], numerics: RowNumerics) -> SolvedRow:
    return solve_row([placed(shape, y=float(y)) for y in PLACES], ROW_COIL, materials,
                     quality=QUALITIES["normal"], history="after", band=(1e-3, 6e-3), numerics=numerics)


ROWS: dict[str, Callable[[RowNumerics], SolvedRow]] = {"3_six_rods": _rods, "4_six_steel_slugs_on_discs": _steel}


def orders() -> None:
    """Largest miss of a component in % of the field's modulus, and of L, by orders carried."""
    for name, make in ROWS.items():
        stored = RESULTS[name]
        poles = [p for p in (1, 4) if f"fields_pole_{p}" in stored]
        print(f"\n{name}: largest error of B₀ / b, % of the modulus, 3 mm over the faces\n")
        print("| orders | L % | " + " | ".join(f"pole {p}, {o} mm off" for p in poles for o in (0, 1, 2)) + " |")
        print("|---|--:|" + "--:|" * (3 * len(poles)))
        for count in (1, 2, 3):
            row = make(replace(SHIPPED, orders=count))
            cells = [f"{100 * (row.inductance * 1e9 / stored['inductance']['L_nH_per_turn2'] - 1):+.2f}"]
            for pole in poles:
                worst = _misses(row, stored[f"fields_pole_{pole}"])
                cells += [f"{worst['B'][o]:.2f} / {worst['b'][o]:.2f}" for o in (0, 1, 2)]
            print(f"| 0…{count - 1} | " + " | ".join(cells) + " |")
        print(f"\nNeighbours change a pole's magnetisation by {row.bias.coupling:.1%} (bias), "
              f"{row.signal.coupling:.1%} (coil).")


def _misses(row: SolvedRow, item: dict[str, Any]) -> dict[str, dict[int, float]]:
    """Largest error over the y and z components at each distance from the pole's axis, %."""
    offset = np.array([q["offset_y_mm"] for q in item["points"]])
    p = np.stack([0 * offset, item["pole_y_mm"] + offset, 0 * offset + 3.0]) * 1e-3
    out = {}
    for name, key, ours in (("B", "B_{}_bias_mT", row.field.bias(p) * 1e3),
                            ("b", "b_{}_uT_per_A_turn", row.field.reciprocal(p) * 1e6)):
        theirs = np.array([[q[key.format(c)] for q in item["points"]] for c in "yz"])
        miss = 100 * np.max(np.abs(ours[1:] - theirs), axis=0) / np.linalg.norm(theirs, axis=0)
        out[name] = {o: float(np.max(miss[np.abs(offset) == o])) for o in (0, 1, 2)}
    return out


if __name__ == "__main__":
    for wanted in sys.argv[1:] or ("strings", "orders"):
        {"strings": strings, "orders": orders}[wanted]()
