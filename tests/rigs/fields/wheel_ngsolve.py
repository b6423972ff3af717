"""A wheel before a sensor by another code: ngsolve, a mesh for each angle, A of third order, its own Newton.

Shared are the curves alone, as splines through the program's points. The magnet's history likewise: solved without
the wheel first, then H = max(major curve, recoil line from there).
"""

from __future__ import annotations

from typing import Any

import numpy as np

from stringflux.geometry.shapes.tooth_wheel import WheelBuild
from stringflux.solver.constants import NU0
from stringflux.solver.materials.magnet import MagnetCurve
from stringflux.solver.materials.soft import SoftCurve

_MM = 1e3


def ngsolve_linkage(build: WheelBuild, magnet: MagnetCurve, steel: SoftCurve, angle: float,
                    fine: float = 1.0) -> float:
    """λ in V s with the wheel turned by an angle, rad; lengths of elements go as 1/fine."""
    import ngsolve as ng

    ng.SetNumThreads(1)
    mesh, middle = _mesh(build, angle, fine)
    space = ng.H1(mesh, order=3)
    u, v = space.TnT()
    rho = ng.sqrt(ng.x**2 + (ng.y - middle) ** 2)

    def field(w: Any) -> Any:
        g = ng.grad(w)
        return ng.CF((-_MM * g[1], _MM * g[0]))  # T: A in T m, lengths in mm

    b = np.linspace(-0.6, 2.4, 3001)
    major = ng.BSpline(2, [float(b[0]), *b], [float(magnet.major(b)[0][0]), *magnet.major(b)[0]])
    of = np.linspace(0.0, 3.0, 3001)
    nu = ng.BSpline(2, [0.0, *of], [float(steel.reluctivity(of**2)[0][0]), *steel.reluctivity(of**2)[0]])
    slope = NU0 / magnet.mu_recoil

    def solved(wheel: bool, low: Any | None) -> Any:
        B, W = field(u), field(v)
        size = ng.sqrt(B[0] ** 2 + B[1] ** 2 + 1e-10)
        along = major(B[1])
        if low is not None:
            line = major(low) + (B[1] - low) * slope
            along = ng.IfPos((B[1] - low), ng.IfPos(line - along, line, along), along)
        laws = {"air|left|right": NU0 * B, "magnet": ng.CF((NU0 / magnet.mu_transverse * B[0], along)),
                "pole": nu(size) * B, "wheel": (nu(size) if wheel else NU0) * B}
        form = ng.BilinearForm(space)
        for name, H in laws.items():
            form += (H[0] * W[0] + H[1] * W[1]) * ng.dx(name, bonus_intorder=2)
        form += NU0 * _MM**2 / rho * u * v * ng.ds("far")
        answer = ng.GridFunction(space)
        _newton(ng, space, form, answer)
        return answer

    alone = solved(False, None)
    low = ng.GridFunction(ng.L2(mesh, order=3))
    low.Set(field(alone)[1])
    answer = solved(True, low)
    means = [ng.Integrate(answer, mesh, definedon=mesh.Materials(side)) /
             ng.Integrate(ng.CF(1.0), mesh, definedon=mesh.Materials(side)) for side in ("right", "left")]
    return float(means[0] - means[1]) * build.sensor.coil.turns * build.sensor.length


def _newton(ng: Any, space: Any, form: Any, answer: Any) -> None:
    residual, trial, change = (answer.vec.CreateVector() for _ in range(3))
    form.Apply(answer.vec, residual)
    first = size = residual.Norm()
    for _ in range(60):
        form.AssembleLinearization(answer.vec)
        change.data = form.mat.Inverse(space.FreeDofs(), inverse="sparsecholesky") * residual
        length = 1.0
        while True:
            trial.data = answer.vec - length * change
            form.Apply(trial, residual)
            if residual.Norm() < size or length < 1e-3:
                break
            length /= 2
        answer.vec.data = trial
        size = residual.Norm()
        if size < 1e-9 * first:
            return
    raise RuntimeError("Newton's method did not settle")


def _mesh(build: WheelBuild, angle: float, fine: float) -> tuple[Any, float]:
    """The mesh in mm, and the height of its rim's middle."""
    import ngsolve as ng
    from netgen.occ import Glue, OCCGeometry, WorkPlane

    def face(outline: Any, name: str, size: float) -> Any:
        made = WorkPlane().MoveTo(*(_MM * c for c in outline[0]))
        for x, z in outline[1:]:
            made = made.LineTo(_MM * x, _MM * z)
        made = made.Close().Face()
        made.faces.name = name
        made.faces.maxh = size / fine
        return made

    gap = _MM * build.gap
    magnet, pole = build.sensor.bars
    parts = [face(magnet.outline, "magnet", 1.0), face(pole.outline, "pole", 0.5)]
    parts += [face(build.sensor.coil.outline(side), name, 1.0) for side, name in ((1, "right"), (-1, "left"))]
    bore = WorkPlane().MoveTo(0, _MM * build.centre).Circle(_MM * build.wheel.bore).Face()
    bore.faces.name = "air"
    wheel = face(build.wheel.outline(build.gap, angle), "wheel", 1.0) - bore
    near = WorkPlane().MoveTo(-5, -1).Rectangle(10, 1 + gap + 4).Face() - Glue([wheel, *parts])
    near.faces.name = "air"
    near.faces.maxh = min(0.4, gap / 3) / fine
    top = _MM * (build.centre + build.wheel.radius)
    bottom = _MM * min(z for part in build.sensor.bars for _, z in part.outline)
    middle, far = (top + bottom) / 2, 4.0 * (top - bottom) / 2
    inner = Glue([wheel, *parts, near, bore])
    rim = WorkPlane().MoveTo(0, middle).Circle(far).Face()
    rim.edges.name = "far"
    ball = rim - inner
    ball.faces.name = "air"
    whole = Glue([inner, ball])
    corners = [(_MM * x, _MM * z) for x, z in pole.outline]
    for vertex in whole.vertices:
        if any(np.hypot(vertex.p[0] - x, vertex.p[1] - z) < 1e-6 for x, z in corners):
            vertex.maxh = 0.08 / fine
    made = ng.Mesh(OCCGeometry(whole, dim=2).GenerateMesh(maxh=20.0, grading=0.3))
    made.Curve(3)
    assert "far" in made.GetBoundaries()
    return made, middle


