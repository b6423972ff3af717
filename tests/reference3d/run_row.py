"""Items 3 and 4: six poles in a race-track coil. Poles 1..6 at y = -25..25 mm. Appends to results.json.

All on the quarter x ≥ 0, y ≥ 0: a string then has a mirror image at -y. That 30 mm away or more it
changes λ by less than 1e-3 is an estimate, not measured.
"""

import sys

import ngsolve as ng
from field3d import Rig, solve
from run_single import COARSE, FINE, have, store

MEDIUM = dict(h_near=0.45, h_rim=0.08, h=1.2)
LIGHT = dict(h_string=1.4, near_len=7.0, string_len=20.0)
Y = (-25.0, -15.0, -5.0, 5.0, 15.0, 25.0)
RODS = ([("rod", y, 2.4, -17.0, 0.0) for y in Y], {"rod": (4.0, 1.0)})
STEEL = ([("slug", y, 2.4, -17.0, 0.0) for y in Y] + [("disc", y, 4.5, -21.0, -17.0) for y in Y],
         {"slug": (300.0, 0.0), "disc": (1.05, 0.38)})


def row(case, **kw):
    return Rig(*case, half=25.0, **kw)


def inductance(section, case):
    if have(section, "inductance"):
        return
    runs = [solve(row(case, all_rims=True, focus=(5.0, 0.0), **kw), want_string=False).out for kw in (COARSE, FINE)]
    store(section, "inductance", {"L_nH_per_turn2": runs[1]["L_nH"], "coarse": runs[0], "fine": runs[1],
                                  "note": "upper bounds: the potential converges from above",
                                  "relative_change_coarse_to_fine": runs[1]["L_nH"] / runs[0]["L_nH"] - 1})


def fields(section, case, pole):
    """b and B at z = 3 mm, x = 0, at the pole's axis and beside it; the quarter's image gives y < 0."""
    key = f"fields_pole_{pole}"
    if have(section, key):
        return
    y0 = Y[pole - 1]
    sign = 1 if y0 > 0 else -1
    runs = []
    for kw in (COARSE, MEDIUM):
        f = solve(row(case, focus=(abs(y0), 0.0), all_rims=False, **kw), want_string=False)
        vals = []
        for off in (0, 1, 2, -1, -2):
            p = f.mesh(1e-7, sign * (y0 + off), 3.0)
            b, B = f.b(p), f.B(p)
            vals.append((off, 1e6 * sign * b[1], 1e6 * b[2], 1e3 * sign * B[1], 1e3 * B[2]))
        runs.append((f.out, vals))
    names = ("offset_y_mm", "b_y_uT_per_A_turn", "b_z_uT_per_A_turn", "B_y_bias_mT", "B_z_bias_mT")
    table = lambda r: [dict(zip(names, v)) for v in r[1]]
    store(section, key, {"pole_y_mm": y0, "x_mm": 0.0, "z_mm": 3.0, "note": "b_x = B_x = 0 by symmetry",
                         "points": table(runs[1]), "coarse_points": table(runs[0]), "coarse": runs[0][0],
                         "fine": runs[1][0]})


def linkage(section, case, pole, off, mesh_name="light", length=None):
    """String of radius 0.215 mm at z = 3 mm, `off` mm towards larger y from its pole's axis."""
    y0 = Y[pole - 1]
    key = f"lambda_pole_{pole} offset_y_mm={off:g} a_mm=0.215 axis_z_mm=3" + ("" if mesh_name == "light" else " coarse")
    if length:
        key += f" half_length_mm={length:g}"
    if have(section, key):
        return
    kw = {"coarse": dict(COARSE, string_len=30.0), "light": LIGHT}[mesh_name]
    kw = dict(kw, string_len=length) if length else kw
    f = solve(row(case, string=(0.215, -(y0 + off), 3.0), focus=(-y0, 0.0), **kw)).out
    for name in ("lambda_nWb", "lambda_axial_nWb", "string_volume_ratio"):
        f[name] /= 2  # two strings in the whole
    store(section, key, {"pole_y_mm": y0, "offset_y_mm": off, "string_radius_mm": 0.215, "axis_z_mm": 3.0,
                         "string": "linear mur 100", "mesh": mesh_name, "string_half_length_mm": kw["string_len"], "run": f,
                         "lambda_nWb_per_turn": f["lambda_nWb"],
                         "note": f"a mirror string lies at {2 * abs(y0 + off):g} mm"})


if __name__ == "__main__":
    ng.SetNumThreads(1)
    section, case = {"3": ("3_six_rods", RODS), "4": ("4_six_steel_slugs_on_discs", STEEL)}[sys.argv[1]]
    inductance(section, case)
    for pole in (4, 1):  # pole at y = 5 (its mirror image at y = -5 differs in the sign of b_y and B_y)
        fields(section, case, pole)
    if "strings" in sys.argv[2:]:
        for pole, off in ((1, 0), (1, 1), (1, -1), (1, 2), (1, -2), (2, 0)):
            linkage(section, case, pole, off)
        for pole, off in ((1, 0), (2, 0), (1, 2), (1, -2)):
            linkage(section, case, pole, off, length=60.0)
