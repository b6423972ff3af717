"""How the planar chain stands against the string in the mesh, as the tables of docs/measured.md.

    python tests/run.py plane            all of them
    python tests/run.py plane string     linkage of a string moved step by step, direct and by reciprocity
    python tests/run.py plane settings   what the mesh of a section moves, against a much finer one
    python tests/run.py plane ends       a blade of finite length against 3-D, endless and with its ends
"""

from __future__ import annotations

import sys
from collections.abc import Sequence

import numpy as np

from rigs.fields.plane_string import BARS, COIL, bars, direct, reciprocity, string_cell
from stringflux.cases.files.load import load_case
from stringflux.cases.solved.bars_case import solve_case_plane
from stringflux.cases.solved.materials import case_materials
from stringflux.cases.solved.solid_inputs import solid_inputs
from stringflux.cases.solved.solve_build import solve_solid_inputs
from stringflux.geometry.mesh.bars import PLANE_QUALITIES
from stringflux.geometry.mesh.pole import Quality
from stringflux.geometry.shapes.section import PlaneShape
from stringflux.solver.coil import sides as plane_coil
from stringflux.solver.materials import find_material
from stringflux.solver.plane.section import solve_plane

LEVELS = (("draft", PLANE_QUALITIES["draft"]), ("normal", PLANE_QUALITIES["normal"]),
          ("6, 0.14", Quality(divisions=6.0, growth=0.14, far=8.0)), ("fine", PLANE_QUALITIES["fine"]))
HEIGHTS = (1.5e-3, 1.75e-3, 2.0e-3, 2.25e-3, 3.0e-3, 3.25e-3)


def string(levels: Sequence[tuple[str, Quality]] = LEVELS) -> None:
    """λ by height, and S between neighbouring heights: direct differences of the whole linkage beside reciprocity."""
    print("\nString of 0.4 × 24 mm in the plane over a blade on a bar, per metre and turn; one mesh for every height "
          "(direct), none for any (reciprocity)\n")
    print("| mesh | z mm | λ direct µWb/m | λ reciprocity | apart % | −Δλ/Δz to the next, direct µWb/m/mm "
          "| reciprocity | apart % | of the whole linkage, apart % |")
    print("|---|--:|--:|--:|--:|--:|--:|--:|--:|")
    for name, quality in levels:
        plane, cell = bars(quality), string_cell(quality)
        meshed = np.array([direct(z, quality) for z in HEIGHTS])
        ours = np.array([reciprocity(z, plane, cell) for z in HEIGHTS])
        for i, z in enumerate(HEIGHTS):
            row = f"| {name} | {1e3 * z:g} | {1e6 * meshed[i, 0]:.4f} | {1e6 * ours[i]:.4f} " \
                  f"| {100 * (ours[i] / meshed[i, 0] - 1):+.3f} |"
            if i % 2 == 0:
                step = HEIGHTS[i + 1] - z
                slopes = [-(a[i + 1] - a[i]) / step for a in (meshed[:, 0], ours, meshed[:, 1])]
                row += f" {1e3 * slopes[0]:.4f} | {1e3 * slopes[1]:.4f} | {100 * (slopes[1] / slopes[0] - 1):+.3f} " \
                       f"| {100 * (slopes[1] / slopes[2] - 1):+.3f} |"
            else:
                row += " | | | |"
            print(row, flush=True)


def settings() -> None:
    """B₀, b at a string and L of a blade on a bar of real materials, in % of a much finer mesh."""
    shape = PlaneShape(parts=BARS)
    materials = {"blade": find_material("steel-1008"), "magnet": find_material("alnico-5")}
    points = np.array([[0.0, 3e-3], [1.5e-3, 1.5e-3]])

    def figures(quality: Quality) -> np.ndarray:
        plane = solve_plane(shape, (COIL,), materials, quality=quality)
        return np.array([plane.bias(points)[1, 0], plane.bias(points)[0, 1], plane.reciprocal(points)[1, 0],
                         plane.reciprocal(points)[0, 1], plane.inductance[0, 0]])

    finest = figures(Quality(divisions=14.0, growth=0.07, far=14.0))
    print("\nBlade on a bar, 1.5 mm over the blade; in % of a mesh of 14, 0.07, 14\n")
    print("| divisions, growth, far | B₀z over the middle | B₀x 3 mm beside | b_z | b_x 3 mm beside | L' |")
    print("|---|--:|--:|--:|--:|--:|")
    for quality in (*PLANE_QUALITIES.values(), Quality(divisions=5.0, growth=0.2, far=12.0)):
        errors = 100 * (figures(quality) / finest - 1)
        print(f"| {quality.divisions:g}, {quality.growth:g}, {quality.far:g} | "
              + " | ".join(f"{e:+.3f}" for e in errors) + " |", flush=True)


def ends() -> None:
    """B₀ and b over the shipped blade, and L: errors of the endless section and with its ends, in % of 3-D (fine)."""
    case = load_case("blade-six")
    materials = case_materials(case)
    solid = solve_solid_inputs(solid_inputs(case, "fine", materials)).connected(np.ones(1))
    bars = solve_case_plane(case, "normal", materials).connected(np.ones(1))
    length = 2 * bars.build.halves[0]
    added = bars.section.inductance[0, 0] - plane_coil.inductance(bars.section.coils[0])
    print("\nBlade-six: error of the vector in % of its modulus, section endless / with its ends\n")
    print(f"L: {100 * ((bars.matrix_air[0, 0] + added * length) / solid.inductance - 1):+.1f} % / "
          f"{100 * (bars.inductance / solid.inductance - 1):+.2f} %; moment per ampere: "
          f"{100 * (bars.area[2] / solid.area[2] - 1):+.2f} %\n")
    print("| x, z mm over the face | y mm | B₀ | b |")
    print("|---|--:|--:|--:|")
    for x, z in ((0.0, 1.0), (0.0, 2.0), (0.0, 3.0), (3.0, 3.0)):
        for y in (0.0, 10.0, 20.0, 26.0, 30.0):
            at = np.array([[x * 1e-3], [y * 1e-3], [1.6e-3 + z * 1e-3]])
            row = f"| {x:g}, {z:g} | {y:g} |"
            for truth, endless, ours in ((solid.field.bias(at), bars.section.bias(at[[0, 2]]), bars.field.bias(at)),
                                         (solid.field.reciprocal(at), bars.section.reciprocal(at[[0, 2]]),
                                          bars.field.reciprocal(at))):
                flat = np.array([endless[0], 0 * endless[0], endless[1]])
                row += " / ".join(f" {100 * np.linalg.norm(v - truth) / np.linalg.norm(truth):.{n}f}"
                                  for v, n in ((flat, 1), (ours, 2))) + " |"
            print(row, flush=True)


TABLES = {"string": string, "settings": settings, "ends": ends}

if __name__ == "__main__":
    for wanted in sys.argv[1:] or TABLES:
        TABLES[wanted]()
