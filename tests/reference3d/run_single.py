"""Items 0-2: the bench rod and a steel slug on a disc magnet, strings above the centre. Appends to results.json."""

import fcntl
import json
import sys
from pathlib import Path

import axisym
import ngsolve as ng
from field3d import MU0, Rig, solve

HERE = Path(__file__).parent
FILE = HERE / "results.json"
COARSE = dict()
FINE = dict(h_string=0.7, h_rim=0.08, h_near=0.5, h=1.0)


def store(section, key, value):
    with (HERE / ".lock").open("w") as lock:  # two runs may write
        fcntl.flock(lock, fcntl.LOCK_EX)
        data = json.loads(FILE.read_text()) if FILE.exists() else {}
        data.setdefault(section, {})[key] = value
        FILE.write_text(json.dumps(data, indent=1, ensure_ascii=False) + "\n")
    print(section, key, json.dumps(value), flush=True)


def have(section, key):
    return FILE.exists() and key in json.loads(FILE.read_text()).get(section, {})


def rig3(parts, mats, **kw):
    return Rig([(m, 0.0, r, a, b) for m, r, a, b in parts], mats, coil=axisym.COIL, **kw)


def air_fields(section, parts, mats):
    if have(section, "fields_without_string"):
        return
    r1, r2 = (axisym.solve(parts, mats, axisym.COIL, axisym.PTS, 0.7, p, rim) for p, rim in ((6, 1e-3), (8, 1e-4)))
    err = max(abs(p / q - 1) for k in ("b_z_uT", "B_z_mT") for p, q in zip(r1[k], r2[k]))
    store(section, "fields_without_string", {
        "method": "axisymmetric scalar potential, order 8", "L_nH_per_turn2": r2["L_nH"],
        "points_x_z_mm": axisym.PTS, "b_z_uT_per_A_turn": r2["b_z_uT"], "b_r_uT_per_A_turn": r2["b_r_uT"],
        "B_z_bias_mT": r2["B_z_mT"], "B_r_bias_mT": r2["B_r_mT"],
        "change_L_from_order_6": abs(r1["L_nH"] / r2["L_nH"] - 1), "largest_change_field_from_order_6": err})


def linkage(section, parts, mats, a, z, law=None, both=True, length=None):
    key = f"a_mm={a:g} axis_z_mm={z:g}" + (" froehlich" if law else "")
    if length:
        key += f" half_length_mm={length:g}"
    if have(section, key):
        return
    rec = {"string_radius_mm": a, "axis_z_mm": z, "gap_face_to_underside_mm": round(z - a, 6)}
    rec["string"] = ("M = Ms chi0 H/(Ms + chi0 H), Ms 1.55 MA/m, chi0 90" if law else "linear mur 100")
    rec["string_half_length_mm"] = length = length or (30.0 if a > 0.15 else 25.0)
    runs = []
    for name, kw in (("coarse", COARSE), ("fine", FINE)) if both else (("coarse", COARSE),):
        f = solve(rig3(parts, mats, string=(a, 0.0, z), string_len=length, **kw), froehlich=law).out
        rec[name] = f
        runs.append(f["lambda_nWb"])
    rec["lambda_nWb_per_turn"] = runs[-1]
    if both:
        rec["relative_change_coarse_to_fine"] = runs[1] / runs[0] - 1
    store(section, key, rec)


if __name__ == "__main__":
    ng.SetNumThreads(1)
    todo = sys.argv[1]
    if todo == "0":
        air_fields("0_bench_rod", *axisym.ROD)
        for a, z in ((0.215, 2.5), (0.215, 3.5), (0.65, 2.15), (0.215, 3.0)):
            linkage("0_bench_rod", *axisym.ROD, a, z, both=False)
        linkage("0_bench_rod", *axisym.ROD, 0.215, 3.5, law=(MU0 * 1.55e6, 90.0), both=False)  # coarse
    if todo == "1":
        both = {(1.5, 0.215), (1.5, 0.65), (1.5, 0.1), (1.0, 0.65)}  # the rest change by less
        for gap in (1.5, 2.5, 1.0, 4.0):
            for a in (0.215, 0.65, 0.1, 0.4):
                linkage("1_rod_table", *axisym.ROD, a, round(gap + a, 6), both=(gap, a) in both)
    if todo == "2":
        air_fields("2_steel_slug_on_disc", *axisym.SLUG)
        for gap in (1.5, 2.5):
            for a in (0.215, 0.65, 0.1):
                linkage("2_steel_slug_on_disc", *axisym.SLUG, a, round(gap + a, 6), both=gap == 1.5)
    if todo == "long":  # a thick string carries its flux further along
        for gap in (1.5, 2.5):
            linkage("2_steel_slug_on_disc", *axisym.SLUG, 0.65, round(gap + 0.65, 6), both=False, length=80.0)
        for a in (0.65, 0.4):
            for gap in (1.5, 2.5, 1.0, 4.0):
                linkage("1_rod_table", *axisym.ROD, a, round(gap + a, 6), both=False, length=80.0)
