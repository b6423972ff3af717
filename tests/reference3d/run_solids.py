"""Builds that are no rows of rods: python run_solids.py A|B|C|D|E [coarse|fine]. Appends to solids.json.

Points are x, y, z in mm; fields in mT (bias) and µT per ampere and turn (coils), as x, y, z components.
"""

import fcntl
import json
import sys
from pathlib import Path

import ngsolve as ng
from solids3d import TEAM13, at, solve
from solids3d_mesh import Bar, Build, Coil, Rod

FILE = Path(__file__).parent / "solids.json"
ROW = (-26.0, -15.6, -5.2, 5.2, 15.6, 26.0)
COARSE = dict(h_rim=0.3, h_edge=0.6, h_focus=0.8, h=1.5)
FINE = dict(h_rim=0.15, h_edge=0.35, h_focus=0.55, h=1.1)
STEEL_NOTE = ("steel: bias by the monotone cubic H(B) through team13_points_B_T_H_A_per_m and the origin, slope mu0 beyond "
              "them; the signal meets constant relative permeability {}")


def store(item, mesh, value):
    with (FILE.parent / ".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        data = json.loads(FILE.read_text()) if FILE.exists() else {}
        data.setdefault("team13_points_B_T_H_A_per_m", TEAM13)
        data.setdefault(item, {})[mesh] = value
        if {"coarse", "fine"} <= set(data[item]):
            data[item]["change_coarse_to_fine"] = changes(data[item]["coarse"], data[item]["fine"])
        FILE.write_text(json.dumps(data, indent=1, ensure_ascii=False) + "\n")
    print(item, mesh, json.dumps(value), flush=True)


def length(v):
    return sum(c * c for c in v) ** 0.5


def changes(a, b):
    """Largest relative change of every table of vectors (by the modulus) and of every number."""
    out = {}
    for k, new in b.items():
        old = a.get(k)
        if k.startswith(("B_bias", "b_")):
            out[k] = max(length([p - q for p, q in zip(u, v)]) / length(v) for u, v in zip(old, new))
        elif k.startswith(("L", "M", "lambda")) and old:
            out[k] = new / old - 1
    return out


def flat(rows):
    return [list(r) for r in rows]


def slug_and_bar(mesh):
    """Quarter x ≥ 0, y ≥ 0: coils in sum (φ even in x) and in difference (odd); the bar's φ is odd."""
    p = Build(
        bodies=[Rod("steel", 9.0, 0.0, 2.4, -17.0, 0.0), Bar("magnet", 6.4, 12.0, -17.0, -12.0)],
        mats={"steel": (200.0, (0, 0, 0), False), "magnet": (1.1, (0.4, 0, 0), False)},
        coils=[Coil(3.0, 7.0, -11.0, -2.0, x=9.0)], odd=True, focus=[((-1, -1, 1.4), (13.2, 4.4, 4.6), 1.0)], **mesh)
    f = solve(p)
    pts = [(px, 0.0, pz) for px in (-12.0, -9.0, -6.0, 0.0, 6.0, 9.0, 12.0) for pz in (2.0, 3.0, 4.0)]
    pts += [(9.0, 2.0, 3.0), (9.0, 4.0, 3.0)]
    mirrored = [(abs(q[0]), q[1], q[2]) for q in pts]
    B = at(f.B, f.mesh, mirrored, 1e3)
    even, odd = (at(b, f.mesh, mirrored, 1e6) for b in f.b)
    for q, v in zip(pts, B):
        if q[0] < 0:  # φ odd in x: B_x even, the others odd
            v[1:] = [-v[1], -v[2]]
    b1, b2 = [], []
    for q, e, o in zip(pts, even, odd):
        right = [(s + d) / 2 for s, d in zip(e, o)]   # of the coil on the same side as |x|
        left = [(s - d) / 2 for s, d in zip(e, o)]
        if q[0] < 0:
            right, left = left, right
            right[0], left[0] = -right[0], -left[0]
        b1.append(left)
        b2.append(right)
    e, o = f.L[0, 0] / 4, f.L[1, 1] / 4   # energy of both coils: 2 (L ± M); each quarter counted four times
    return {"geometry": "steel slugs R 2.4, z -17..0 at x = -9 and 9, y = 0; bar magnet |x| <= 6.4, |y| <= 12, z -17..-12; "
                        "round coils 1 and 2 about the slugs at x = -9 and 9, r 3..7, z -11..-2, both counter-clockwise",
            "materials": "steel mu_r 200; bar B = mu0 1.1 H + 0.4 T along +x", "run": f.out, "points_mm": flat(pts),
            "B_bias_mT": B, "b_coil_1_uT_per_A_turn": b1, "b_coil_2_uT_per_A_turn": b2,
            "L11_nH_per_turn2": 2 * (e + o) / 2, "L22_nH_per_turn2": 2 * (e + o) / 2, "M12_nH_per_turn2": 2 * (e - o) / 2}


def one_coil(f, pts, more):
    return more | {"run": f.out, "points_mm": flat(pts), "B_bias_mT": at(f.B, f.mesh, pts, 1e3),
                   "b_uT_per_A_turn": at(f.b[0], f.mesh, pts, 1e6), "L_nH_per_turn2": f.L[0, 0]}


def screws_on_bar(mesh):
    p = Build(
        bodies=[*(Rod("steel", 0.0, v, 2.4, -16.0, 0.0) for v in ROW), Bar("magnet", 3.0, 31.0, -28.0, -16.0)],
        mats={"steel": (150.0, (0, 0, 0), True), "magnet": (2.0, (0, 0, 1.05), False)},
        coils=[Coil(3.2, 7.2, -13.0, -2.0, half=26.0)],
        focus=[((-1, 3.4, 1.4), (6.8, 7.2, 4.6), 1.0), ((-1, 24.0, 1.4), (6.8, 29.4, 4.6), 1.0)], **mesh)
    f = solve(p)
    pts = [(0.0, v, h) for v in (5.2, 26.0, 27.0, 28.0) for h in (2.0, 3.0, 4.0)]
    pts += [(u, v, 3.0) for v in (5.2, 26.0, 27.0, 28.0) for u in (3.0, 6.0)]
    return one_coil(f, pts, {
        "geometry": "six steel slugs R 2.4, z -16..0 at x = 0, y = ±5.2, ±15.6, ±26 on a bar magnet |x| <= 3, |y| <= 31, z -28..-16; "
                    "race-track coil inner half-width 3.2, straight |y| <= 26, build 4, z -13..-2",
        "materials": "magnet B = mu0 2 H + 1.05 T up (signal: mu_r 2); " + STEEL_NOTE.format(150)})


BLADE = [Bar("steel", 1.5, 31.0, -14.0, 0.0), Bar("magnet", 3.0, 31.0, -20.0, -14.0)]
BLADE_MATS = {"steel": (150.0, (0, 0, 0), True), "magnet": (1.1, (0, 0, 0.4), False)}
BLADE_COIL = Coil(2.0, 6.5, -12.0, -2.0, half=30.0)
BLADE_TEXT = {
    "geometry": "steel blade |x| <= 1.5, |y| <= 31, z -14..0 on a bar magnet |x| <= 3, |y| <= 31, z -20..-14; race-track coil "
                "inner half-width 2, straight |y| <= 30, build 4.5, z -12..-2",
    "materials": "magnet B = mu0 1.1 H + 0.4 T up; " + STEEL_NOTE.format(150)}


def blade_on_bar(mesh):
    p = Build(bodies=BLADE, mats=BLADE_MATS, coils=[BLADE_COIL],
              focus=[((-1, -1, 1.4), (6.0, 28.0, 4.6), 1.0)], **mesh)
    f = solve(p)
    pts = [(u, v, h) for v in (0.0, 10.0, 20.0, 26.0) for u in (0.0, 2.0, 5.0) for h in (2.0, 3.0, 4.0)]
    return one_coil(f, pts, BLADE_TEXT)


LIGHT = {"coarse": dict(h_rim=0.4, h_edge=1.2, h_focus=0.8, h=1.5, h_string=1.4),
         "fine": dict(h_rim=0.2, h_edge=0.8, h_focus=0.6, h=1.2, h_string=1.0)}


def string_over_blade(mesh, height):
    """Half x ≥ 0, so that there is one string only; the blade is meshed finely about it, elsewhere coarsely."""
    mesh = LIGHT["coarse" if mesh is COARSE else "fine"]
    p = Build(bodies=BLADE, mats=BLADE_MATS, coils=[BLADE_COIL], half_y=False, string=(0.215, 5.0, height, 40.0),
              fine_y=(0.0, 10.0), focus=[((-1, 0.0, 0.0), (4.0, 10.0, 5.0), 1.0)], **mesh)
    f = solve(p)
    o = f.out
    return BLADE_TEXT | {
        "string": f"radius 0.215 mm, along x from -40 to 40 mm at y = 5, z = {height:g} mm, mu_r 100", "run": o,
        "L_nH_per_turn2": f.L[0, 0], "lambda_nWb_per_turn": o["lambda_nWb_small_movement"][0],
        "lambda_of_axial_part_nWb_per_turn": o["lambda_axial_nWb_small_movement"][0],
        "note": "the string's answer in the nonlinear bias of the build without it, bodies at the signal's permeability; "
                "L of this coarser mesh is only a check"}


def stacked_coils(mesh):
    p = Build(
        bodies=[Rod("rod", 0.0, v, 2.4, -17.0, 0.0) for v in ROW], mats={"rod": (3.5, (0, 0, 1.25), False)},
        coils=[Coil(3.0, 7.0, -8.0, -1.5, half=26.0), Coil(3.0, 7.0, -15.5, -9.0, half=26.0)],
        focus=[((-1, 3.4, 1.4), (2.0, 7.2, 4.6), 1.0), ((-1, 24.0, 1.4), (2.0, 28.0, 4.6), 1.0)], **mesh)
    f = solve(p)
    pts = [(0.0, 5.2, 3.0), (0.0, 26.0, 3.0)]
    return {"geometry": "six rods R 2.4, z -17..0 at x = 0, y = ±5.2, ±15.6, ±26; race-track coils inner half-width 3, straight "
                        "|y| <= 26, build 4: 1 (upper) z -8..-1.5, 2 (lower) z -15.5..-9, both counter-clockwise",
            "materials": "B = mu0 3.5 H + 1.25 T up", "run": f.out, "points_mm": flat(pts),
            "B_bias_mT": at(f.B, f.mesh, pts, 1e3), "b_coil_1_uT_per_A_turn": at(f.b[0], f.mesh, pts, 1e6),
            "b_coil_2_uT_per_A_turn": at(f.b[1], f.mesh, pts, 1e6), "L11_nH_per_turn2": f.L[0, 0],
            "L22_nH_per_turn2": f.L[1, 1], "M12_nH_per_turn2": f.L[0, 1]}


ITEMS = {"A": ("A_slugs_and_bar", slug_and_bar), "B": ("B_screws_on_bar", screws_on_bar),
         "C": ("C_blade_on_bar", blade_on_bar), "E": ("E_stacked_coils", stacked_coils)}
ITEMS |= {f"D{h:g}": (f"D_string_over_blade_z_mm={h:g}", lambda m, h=h: string_over_blade(m, h)) for h in (2.5, 3.0, 3.5)}


if __name__ == "__main__":
    ng.SetNumThreads(1)
    name, run = ITEMS[sys.argv[1]]
    for label in sys.argv[2:] or ["coarse", "fine"]:
        store(name, label, run({"coarse": COARSE, "fine": FINE}[label]))
