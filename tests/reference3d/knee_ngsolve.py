"""Two alnico rods at the knee by another code: ngsolve, potential of third order, rods and air meshed in half a ball.

    python tests/reference3d/knee_ngsolve.py     solves both polarities on two meshes and writes knee_ngsolve.json

Only the magnets' curve is the program's; across it their permeability is 3. H = -grad phi; B = mu0 H in air, in a rod
B_z = b(H_z) and B_xy = mu0 mu_t H_xy; div B = 0 by Newton's method. At the ball's surface phi falls off as a dipole's does. Stored: B_y and B_z in T, summed from the
magnetisation found, at points (y, z over the face, mm) of the plane x = 0, on a fine and on a coarse mesh.
"""

import json
import sys
from math import pi
from pathlib import Path

import numpy as np
from netgen.occ import Box, Cylinder, Glue, OCCGeometry, Pnt, Sphere, Z
from ngsolve import (
    CF,
    H1,
    BilinearForm,
    BSpline,
    GridFunction,
    Integrate,
    Mesh,
    SetNumThreads,
    TaskManager,
    ds,
    dx,
    grad,
    x,
    y,
    z,
)
from ngsolve import sqrt as root

from stringflux.solver.materials.lookup import find_material

STORED = Path(__file__).with_name("knee_ngsolve.json")
MU0 = 4e-7 * pi
ACROSS = 3.0
RADIUS, LENGTH, HALF_PITCH, BALL = 2.4, 16.0, 5.0, 250.0  # mm
POINTS = [(at, over) for over in (1.5, 2.7, 4.0) for at in (5.0, 3.5, 2.0, 0.0, 7.5)]  # a rod's axis is at 5 mm


def mesh_of(fine):
    keep = Box(Pnt(0, -2 * BALL, -2 * BALL), Pnt(2 * BALL, 2 * BALL, 2 * BALL))
    rods = []
    for name, at in (("first", -HALF_PITCH), ("second", HALF_PITCH)):
        rod = Cylinder(Pnt(0, at, -LENGTH), Z, RADIUS, LENGTH) * keep
        rod.mat(name)
        rod.maxh = 1.0 / fine
        rods.append(rod)
    over = Cylinder(Pnt(0, 0, 0), Z, 10.0, 4.6) * keep
    over.mat("air")
    over.maxh = 0.9 / fine
    near = Cylinder(Pnt(0, 0, -LENGTH - 8), Z, 14.0, LENGTH + 16) * keep - rods[0] - rods[1] - over
    near.mat("air")
    near.maxh = 2.2 / fine
    ball = Sphere(Pnt(0, 0, -LENGTH / 2), BALL) * keep - Cylinder(Pnt(0, 0, -LENGTH - 8), Z, 14.0, LENGTH + 16)
    ball.mat("air")
    shape = Glue([*rods, over, near, ball])
    for edge in shape.edges:  # rims of the rods
        if abs(edge.center.z) < 1e-6 or abs(edge.center.z + LENGTH) < 1e-6:
            edge.maxh = 0.35 / fine
    for face in shape.faces:
        low, high = face.bounding_box
        face.name = "far" if high.z - low.z > 1.5 * BALL and high.x - low.x > 0.5 * BALL else "other"
    mesh = Mesh(OCCGeometry(shape).GenerateMesh(maxh=60.0, grading=0.35))
    mesh.Curve(3)
    return mesh


def solve(mesh, signs, name="alnico-5"):
    material = find_material(name, {})
    b = np.linspace(-1.6, 2.4, 4001)
    h = np.asarray(material.field(b, charge=1.0, b_low=None)[0])
    curve = BSpline(2, [h[0], *h], [b[0], *b])
    fes = H1(mesh, order=3)
    u, v = fes.TnT()
    H = -1e3 * grad(u)  # mesh in mm, phi in A
    across = MU0 * ACROSS
    laws = {"air": MU0 * H}
    for part, sign in zip(("first", "second"), signs):
        laws[part] = CF((across * H[0], across * H[1], sign * curve(sign * H[2])))
    r = root(x * x + y * y + (z + LENGTH / 2) ** 2)
    form = BilinearForm(fes)
    for part, B in laws.items():
        form += -B * grad(v) * dx(part, bonus_intorder=0 if part == "air" else 4)
    form += MU0 * 1e3 * 2 / r * u * v * ds("far")
    phi = GridFunction(fes)
    residual, trial = phi.vec.CreateVector(), phi.vec.CreateVector()
    form.Apply(phi.vec, residual)
    size = first = residual.Norm()
    for step in range(40):
        form.AssembleLinearization(phi.vec)
        change = phi.vec.CreateVector()
        change.data = form.mat.Inverse(fes.FreeDofs(), inverse="sparsecholesky") * residual
        length = 1.0
        while True:
            trial.data = phi.vec - length * change
            form.Apply(trial, residual)
            if residual.Norm() < size or length < 1e-3:
                break
            length /= 2
        phi.vec.data = trial
        size = residual.Norm()
        print(f"newton {step + 1} residual {size / first:.2e} length {length:g}", flush=True)
        if size < 1e-8 * first:
            break
    else:
        raise RuntimeError("Newton's method did not settle")
    H = -1e3 * grad(phi)
    M = {"first": None, "second": None}
    for part, sign in zip(M, signs):
        M[part] = CF((across * H[0], across * H[1], sign * curve(sign * H[2]))) / MU0 - H
    return [over_rods(mesh, M, at, over) for at, over in POINTS], fes.ndof


def over_rods(mesh, M, at, over):
    """B_y and B_z, T, of magnetised rods at a point in air of the plane x = 0: the half that is not meshed counts too.

    B = mu0/4 pi int 3 (M.d) d / d^5 - M / d^3. The potential's own gradient at a point scatters by 1 % between meshes.
    """
    d = CF((-x, at - y, over - z))
    square = d * d
    found = np.zeros(2)
    for part, m in M.items():
        here = 3 * (m * d) / square**2.5 * d - m / square**1.5
        found += [2e-7 * Integrate(here[k], mesh, order=10, definedon=mesh.Materials(part)) for k in (1, 2)]
    return list(found)


if __name__ == "__main__":
    SetNumThreads(1)
    meshes = sorted((float(word) for word in sys.argv[1:] or ("0.6", "0.4")), reverse=True)
    stored = {"points": POINTS, "meshes": meshes}
    for fine in meshes:
        with TaskManager():
            mesh = mesh_of(fine)
            for words, signs in (("++", (1, 1)), ("+-", (1, -1))):
                found, unknowns = solve(mesh, signs)
                stored[f"{words} {fine:g}"] = {"unknowns": unknowns, "b": np.round(found, 9).tolist()}
                print(words, fine, unknowns, np.round(found[0], 6), flush=True)
    STORED.write_text(json.dumps(stored, indent=1) + "\n")
