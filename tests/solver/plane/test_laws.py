"""What planar sections must keep: symmetry, reciprocity, energy, two routes to one number, order of convergence."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from skfem import BilinearForm

from rigs.fields.manufactured import _Field, check, errors, exact
from rigs.fields.plane_bodies import BLADE_COIL, RECOIL, RECOIL_4, bar, blade_on_bar, steel
from stringflux.geometry.mesh.bars import PLANE_QUALITIES, plane_mesh
from stringflux.geometry.shapes.section import CoilSides, PlanePart, PlaneShape
from stringflux.solver.coil import sides as plane_coil
from stringflux.solver.constants import MU0, NU0
from stringflux.solver.factor import factor
from stringflux.solver.materials import find_material
from stringflux.solver.plane.line_charges import LineCharges
from stringflux.solver.plane.section import solve_plane
from stringflux.solver.section.bias import BiasCell
from stringflux.solver.section.forms import AXISYMMETRIC, PLANAR, PLANAR_ODD, Formulation
from stringflux.solver.section.operators import mass_matrix, point_operators, stiffness_matrix
from stringflux.solver.section.space import section_from_mesh

NORMAL, DRAFT = PLANE_QUALITIES["normal"], PLANE_QUALITIES["draft"]
LINEAR = {"blade": steel(200), "magnet": RECOIL}
REAL = {"blade": find_material("steel-1008"), "magnet": find_material("alnico-5")}
POINTS = np.array([[0.0, 2e-3, -3e-3, 6e-3], [1.5e-3, 1.5e-3, 2e-3, 3e-3]])


@pytest.mark.parametrize("form", [PLANAR, PLANAR_ODD])
def test_order_of_convergence(form: Formulation) -> None:
    """A to order 3, B to order 2, on a smooth manufactured field."""

    def load(v: Any, w: Any) -> Any:
        bx, bz = form.curl(_Field(*exact(w.x)), w)
        cx, cz = form.curl(v, w)
        return NU0 * (bx * cx + bz * cz) * form.weight(w.x[0])

    def distance(basis: Any, u: Any) -> tuple[Any, Any]:
        x = np.asarray(basis.global_coordinates())
        value, dx, dz = exact(x)
        e, ex, ez, s = np.asarray(u) - value, u.grad[0] - dx, u.grad[1] - dz, form.scale(x[0])
        return (s * e) ** 2, (s * ez) ** 2 + (form.spread * e + s * ex) ** 2

    check(*errors(form.flux.assemble, load, distance))


@pytest.mark.parametrize("direction", [(0.0, 1.0), (1.0, 0.0)])
def test_half_a_section_is_as_good_as_the_whole(direction: tuple[float, float]) -> None:
    """On the whole curves; the coil a hair off the middle forbids halving."""
    shape = blade_on_bar(direction)
    half = solve_plane(shape, (BLADE_COIL,), REAL, quality=NORMAL)
    off = CoilSides(inner=2.2e-3, build=3.5e-3, bottom=-12e-3, top=-2e-3, centre=1e-12)
    whole = solve_plane(shape, (off,), REAL, quality=NORMAL)
    assert half.half
    assert not whole.half
    for a, b in ((half.bias(POINTS), whole.bias(POINTS)), (half.reciprocal(POINTS), whole.reciprocal(POINTS))):
        assert a == pytest.approx(b, abs=1e-3 * np.max(np.abs(b)))  # two meshes
    assert half.inductance == pytest.approx(whole.inductance, rel=1e-3)


def test_parity_of_sections() -> None:
    blade, keeper = bar(-1e-3, 1e-3, -9e-3, 0.0, "blade"), bar(-3e-3, -2e-3, -9e-3, 0.0, "keeper")
    assert PlaneShape(parts=(blade,)).parity == -1
    assert PlaneShape(parts=(blade, keeper)).parity == 0
    for left, right, parity in (((1.0, 0.0), (-1.0, 0.0), -1), ((1.0, 0.0), (1.0, 0.0), 1),
                                ((0.6, 0.8), (-0.6, 0.8), -1), ((0.6, 0.8), (0.6, 0.8), 0)):
        pair = (bar(-4e-3, -1e-3, -9e-3, -5e-3, "m", left), bar(1e-3, 4e-3, -9e-3, -5e-3, "m", right))
        assert PlaneShape(parts=(blade, *pair)).parity == parity


def test_coils_are_reciprocal_and_turns_are_free() -> None:
    """M of coil 1 in coil 2 = the other way round; turns scale L without another solve."""
    beside = CoilSides(inner=3e-3, build=2e-3, bottom=-10e-3, top=-3e-3, centre=12e-3, turns=-1)
    plane = solve_plane(blade_on_bar(), (BLADE_COIL, beside), LINEAR, quality=DRAFT)
    L = plane.inductance
    # the air part of each way is another quadrature
    assert L[0, 1] == pytest.approx(L[1, 0], rel=1e-6)
    wound = plane.wound((100.0, 50.0))
    assert wound.inductance == pytest.approx(L * np.array([[1e4, -5e3], [-5e3, 2500]]))
    assert wound.reciprocal(POINTS, 1) == pytest.approx(-50 * plane.reciprocal(POINTS, 1))


def test_a_dipole_links_with_the_coil_as_b_says() -> None:
    """m·b at a point = linkage with the coil of the dipole there and of what the bars answer to it."""
    plane = solve_plane(blade_on_bar(), (BLADE_COIL,), LINEAR, quality=DRAFT)
    # 2 A·m up, as two line charges close together
    up = LineCharges(nodes=np.array([[0.0, 0.0], [2e-3 - 1e-7, 2e-3 + 1e-7]]), charges=np.array([-1e7, 1e7]))
    answer = plane.signal.answer(up.field)
    point = np.array([[0.0], [2e-3]])
    direct = 2 * plane_coil.field(BLADE_COIL, point)[1, 0] + 2 * plane.signal.linked(
        answer.magnetisation, lambda x: plane_coil.field(BLADE_COIL, x))
    # charges see the dipole at the unknowns, the load at the quadrature points: that differs by the mesh
    assert 2 * plane.reciprocal(point)[1, 0] == pytest.approx(direct, rel=1e-3)
    assert abs(plane.reciprocal(point)[0, 0]) < 1e-12  # none along x over the middle


def meshed(shape: PlaneShape, mu: dict[str, float]) -> tuple[Any, Any, Any]:
    """Half a section with the coil's side +1 in the mesh: the space, u at one ampere, the load."""
    shape = PlaneShape(parts=(*shape.parts, PlanePart(material="air", outline=BLADE_COIL.outline(1))))
    s = section_from_mesh(shape, plane_mesh(shape, NORMAL, half=True), PLANAR_ODD)
    K = PLANAR_ODD.flux.assemble(s.air) + PLANAR_ODD.far.assemble(s.far, rho=s.mesh.far_radius)
    for part, basis in zip(shape.parts, s.parts, strict=True):
        K = K + PLANAR_ODD.flux.assemble(basis) / mu[part.material]
    coil = s.parts[-1]
    load = PLANAR_ODD.current.assemble(coil, J=np.full((coil.nelems, 1), 1 / float(np.sum(coil.dx))))
    return s, factor(K).solve(load), load


MU = {"blade": 200.0, "magnet": 4.0, "air": 1.0}


def test_two_routes_to_the_inductance() -> None:
    """Coil in closed form + ∫ M·b against the coil in the mesh: two formulations, one L'."""
    shape = blade_on_bar()
    isotropic = {"blade": steel(200), "magnet": steel(4)}
    _, u, load = meshed(shape, MU)
    ours = solve_plane(shape, (BLADE_COIL,), isotropic, quality=NORMAL).inductance[0, 0]
    assert ours == pytest.approx(2 * float(load @ u), rel=1e-3)


def test_energy_is_half_L_I_squared() -> None:
    """½ ∫ B·H by points over the mesh and beyond the far circle = ½ L' I² of the meshed coil."""
    s, u, load = meshed(blade_on_bar(), MU)
    energy = 0.0
    for basis, mu in ((s.air, 1.0), *((b, MU[p.material]) for p, b in zip(s.shape.parts, s.parts, strict=True))):
        points = point_operators(basis, s.formulation)
        B = points.field(points.curl, u)
        energy += float(np.sum(points.weight * np.sum(B**2, axis=0).ravel())) / (2 * mu * MU0)
    A = np.asarray(s.far.global_coordinates())[0] * np.asarray(s.far.interpolate(u))
    # outside the circle a line dipole's energy is ½ ∮ A H_t ds with H_t = A/(μ0 ρ)
    energy += float(np.sum(A**2 * s.far.dx)) / (2 * MU0 * s.mesh.far_radius)
    assert energy == pytest.approx(0.5 * float(load @ u), rel=1e-9)


def test_the_string_in_the_mesh_is_exactly_reciprocal() -> None:
    """On one mesh: coil linkage with the string's steel − without = ∫ M·b over it, to the last digits."""
    string = bar(-4e-3, 4e-3, 2e-3, 2.4e-3, "string")
    shape = PlaneShape(parts=(*blade_on_bar().parts, string))
    s, u, load = meshed(shape, {**MU, "string": 1.0})
    linked, states = [], []
    for mu in (100.0, 1.0):
        state = BiasCell(section=s, materials=(steel(200), RECOIL_4, steel(mu), steel(1))).solve(tolerance=1e-12)
        linked.append(float(load @ state.u))
        states.append(state)
    points = point_operators(s.parts[2], s.formulation)
    M = states[0].b[2] * NU0 * (1 - 1 / 100.0)
    ours = float(np.sum(points.weight * np.sum(M * points.field(points.curl, u), axis=0).ravel()))
    assert ours == pytest.approx(linked[0] - linked[1], rel=1e-7)


def test_a_blade_carries_the_bars_field_to_the_strings() -> None:
    """On the whole curves: a blade on a bar makes more field than the bar alone from as far; across makes none up."""
    with_blade = solve_plane(blade_on_bar(), (BLADE_COIL,), REAL, quality=DRAFT)
    alone = solve_plane(PlaneShape(parts=blade_on_bar().parts[1:]), (BLADE_COIL,), REAL, quality=DRAFT)
    over = np.array([[0.0], [2e-3]])
    assert with_blade.bias(over)[1, 0] > 3 * alone.bias(over)[1, 0] > 0
    across = solve_plane(blade_on_bar((1.0, 0.0)), (BLADE_COIL,), REAL, quality=DRAFT)
    assert abs(across.bias(over)[1, 0]) < 1e-12
    assert with_blade.inductance[0, 0] > 1.3 * plane_coil.inductance(BLADE_COIL)


@pytest.mark.parametrize("form", [AXISYMMETRIC, PLANAR, PLANAR_ODD])
def test_quick_assembly_is_the_weak_form(form: Formulation) -> None:
    """What is summed element by element against scikit-fem's forms; tangents against their sums over the points."""
    shape = blade_on_bar().right_side
    s = section_from_mesh(shape, plane_mesh(shape, DRAFT, half=True), form)
    weak = form.flux.assemble(s.air) + form.far.assemble(s.far, rho=s.mesh.far_radius)
    assert abs(weak - s.linear).max() < 1e-12 * abs(weak).max()
    u, w = np.random.default_rng(1).normal(size=(2, s.unknowns))
    for p in s.points:
        t = np.random.default_rng(2).normal(size=(3, *p.shape))
        for matrix, operator in ((p.tangent(t), p.curl), (p.stiffness(t), p.gradient)):
            (ur, uz), (wr, wz) = (p.field(operator, v) for v in (u, w))
            every = t[0] * ur * wr + t[1] * (ur * wz + uz * wr) + t[2] * uz * wz
            assert w @ (matrix @ u) == pytest.approx(float(p.weight @ every.ravel()), rel=1e-9)


def test_matrices_of_the_potential_are_the_weak_forms() -> None:
    shape = blade_on_bar().right_side
    s = section_from_mesh(shape, plane_mesh(shape, DRAFT, half=True), PLANAR)
    for basis in (s.basis, *s.parts):
        c = 1 + np.asarray(basis.global_coordinates())[0] / s.mesh.far_radius
        mass = BilinearForm(lambda u, w, at: at["c"] * u * w).assemble(basis, c=c)
        assert abs(mass - mass_matrix(basis, c)).max() < 1e-12 * abs(mass).max()
        stiff = BilinearForm(lambda u, w, at: u.grad[0] * w.grad[0] + u.grad[1] * w.grad[1]).assemble(basis)
        assert abs(stiff - stiffness_matrix(basis)).max() < 1e-12 * abs(stiff).max()
