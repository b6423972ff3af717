"""What accuracy of a 3-D build costs: S and L against a much finer solution, time and unknowns at every quality; and
one linear problem beside ngsolve's, same mesh and order, one thread each.

    python tests/run.py bench.solid_errors
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from rich.console import Console
from rich.table import Table

from stringflux.cases.files.load import load_case
from stringflux.cases.jobs.prediction import prediction_of
from stringflux.cases.solved.materials import case_materials
from stringflux.cases.solved.numerics import SHIPPED
from stringflux.cases.solved.solve import solved_case
from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.solid import SolidMesh, solid_mesh
from stringflux.geometry.mesh.solid_quality import SOLID_QUALITIES, SolidQuality
from stringflux.geometry.shapes.symmetry import Symmetry
from stringflux.solver.constants import MU0
from stringflux.solver.solid.halves import magnetic
from stringflux.solver.solid.linear import SolidSolver
from stringflux.solver.solid.space import solid_space

BUILDS = ("stacked-six", "blade-six", "side-by-side-six")
TARGETS = {("stacked-six", "normal"): "4", ("blade-six", "draft"): "2.5", ("blade-six", "normal"): "5",
           ("side-by-side-six", "draft"): "3", ("side-by-side-six", "normal"): "8"}
FINEST = SolidQuality(divisions=9.0, largest=0.5e-3, tip=0.27e-3, edge=0.22, growth=0.17, far=12.0, least=0.3e-3)
MU, TOLERANCE = 500.0, 1e-8


def errors_table() -> Table:
    """Every string, at rest, nothing known before but the process itself."""
    table = Table(title="3-D builds against a finer solution, processor time, largest error of all strings")
    for head in ("build", "quality", "unknowns", "s", "target", "S %", "B₀ %", "L %"):
        table.add_column(head, justify="left" if head in ("build", "quality") else "right")
    for name in BUILDS:
        exact = _solved(name, FINEST)[2]
        for quality, sizes in SOLID_QUALITIES.items():
            seconds, unknowns, figures = _solved(name, sizes)
            S, B, L = (100 * float(np.max(np.abs(a / b - 1))) for a, b in zip(figures, exact, strict=True))
            table.add_row(name, quality, f"{unknowns}", f"{seconds:.1f}", TARGETS.get((name, quality), ""),
                          f"{S:.2f}", f"{B:.2f}", f"{L:.2f}")
    return table


def _solved(name: str, quality: SolidQuality) -> tuple[float, int, tuple[Array, Array, Array]]:
    """Seconds, unknowns, and S, B₀ of every string and L."""
    start = time.process_time()
    solved = solved_case(load_case(name), "normal", solver="solid", numerics=replace(SHIPPED, solid=quality))
    found = prediction_of(solved, maps=False)
    seconds = time.process_time() - start
    figures = (np.array([s.sensitivity for s in found.strings]), np.array([s.bias[2] for s in found.strings]),
               np.array([found.coil.inductance]))
    return seconds, solved.unknowns()[0], figures


def peer_table(name: str = "side-by-side-six", quality: str = "normal", runs: int = 3) -> Table:
    """∫ μ ∇φ·∇w = ∫_bodies μ0 M·∇w, steel and magnets of one μ: put together and solved."""
    table = Table(title=f"one linear problem on {name}'s mesh ({quality}), second order, flat, processor time")
    for head in ("", "assemble s", "solve s", "both s", "over ngsolve's (target 1.0)"):
        table.add_column(head, justify="right" if head else "left")
    case = load_case(name)
    bodies = magnetic(case.solid_bodies(), case_materials(case))
    mesh = replace(solid_mesh(tuple(b.bare for b in bodies), SOLID_QUALITIES[quality],
                              symmetry=Symmetry(x=False, y=False)), middles=None)
    own = _median(lambda: _ours(mesh), runs)
    rows = {"stringflux": own}
    try:
        theirs = netgen_mesh(mesh)
        rows |= {f"ngsolve, {way}": _median(lambda way=way: peer(theirs, way)[1], runs)  # type: ignore[misc]
                 for way in ("bddc", "multigrid", "sparsecholesky")}
    except ImportError:
        table.add_row("ngsolve is not here", "", "", "", "")
    for said, (put, solved) in rows.items():
        over = "" if said == "stringflux" else f"{sum(own) / (put + solved):.2f}"
        table.add_row(said, f"{put:.2f}", f"{solved:.2f}", f"{put + solved:.2f}", over)
    return table


def _median(run: Callable[[], tuple[float, float]], runs: int) -> tuple[float, float]:
    both = [run() for _ in range(runs)]
    return statistics.median(b[0] for b in both), statistics.median(b[1] for b in both)


def _ours(mesh: SolidMesh) -> tuple[float, float]:
    return ours(mesh)[1]


def ours(mesh: SolidMesh) -> tuple[float, tuple[float, float]]:
    """∫ μ |∇φ|² (μ over μ0), and seconds to put together and to solve."""
    start = time.process_time()
    space = solid_space(mesh)
    solver = SolidSolver(space, [MU0 * MU * np.broadcast_to(np.eye(3)[:, :, None, None], (3, 3, *e.weight.shape))
                                 for e in space.bodies])
    up = np.array([0.0, 0.0, 1.0])[:, None, None]
    load = sum(e.load(MU0 * up * np.ones(e.points.shape), space.unknowns) for e in space.bodies)
    middle = time.process_time()
    phi = solver.solve(np.asarray(load), tolerance=TOLERANCE)
    return float(np.asarray(load) @ phi) / MU0, (middle - start, time.process_time() - middle)


def netgen_mesh(mesh: SolidMesh) -> object:
    """The same tetrahedra for ngsolve: "air", "body", and "far" all round."""
    import netgen.meshing as nm
    import ngsolve as ngs

    made = nm.Mesh(dim=3)
    made.AddPoints(np.ascontiguousarray(mesh.points.T))
    a, b, c, d = (mesh.points[:, i] for i in mesh.tetrahedra)
    turned = np.einsum("ie,ie->e", np.cross(b - a, c - a, axis=0), d - a) < 0
    cells = mesh.tetrahedra.copy()
    cells[:2, turned] = cells[1::-1, turned]
    for k, name in enumerate(("air", "body"), start=1):
        made.SetMaterial(k, name)
        own = cells[:, (mesh.region >= 0) == (name == "body")]
        made.AddElements(dim=3, index=k, data=np.ascontiguousarray(own.T.astype(np.int32)), base=0)
    made.Add(nm.FaceDescriptor(bc=1, domin=1, domout=0, surfnr=1))
    made.AddElements(dim=2, index=1, data=np.ascontiguousarray(mesh.far_facets.T.astype(np.int32)), base=0)
    made.SetBCName(0, "far")
    return ngs.Mesh(made)


def peer(mesh: object, way: str) -> tuple[float, tuple[float, float]]:
    """As :func:`ours`, by ngsolve: conjugate gradients with one of its preconditioners, or its Cholesky factor."""
    import ngsolve as ngs

    ngs.SetNumThreads(1)
    start = time.process_time()
    space = ngs.H1(mesh, order=2, dirichlet="far")
    u, v = space.TnT()
    form, load = ngs.BilinearForm(space, symmetric=True), ngs.LinearForm(space)
    form += mesh.MaterialCF({"air": 1.0, "body": MU}) * ngs.grad(u) * ngs.grad(v) * ngs.dx  # type: ignore[attr-defined]
    load += ngs.grad(v)[2] * ngs.dx("body")
    before = None if way == "sparsecholesky" else ngs.Preconditioner(form, way)
    form.Assemble()
    load.Assemble()
    found = ngs.GridFunction(space)
    middle = time.process_time()
    if before is None:
        found.vec.data = form.mat.Inverse(space.FreeDofs(), way) * load.vec
    else:
        found.vec.data = ngs.krylovspace.CGSolver(form.mat, before.mat, tol=TOLERANCE, maxiter=1000) * load.vec
    return float(ngs.InnerProduct(load.vec, found.vec)), (middle - start, time.process_time() - middle)


if __name__ == "__main__":
    Console(width=110).print(peer_table())
    Console(width=110).print(errors_table())
