"""The 3-D potential solver against closed forms and against magpylib."""

from __future__ import annotations

from typing import Any

import magpylib
import numpy as np
import pytest
from scipy.optimize import brentq

from rigs.fields.solid_ball import ball, cube
from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.solid import EDGES, edges_of, solid_mesh
from stringflux.geometry.mesh.solid_quality import SOLID_QUALITIES
from stringflux.geometry.shapes.bodies import Box, Cylinder, SolidBody
from stringflux.solver.constants import MU0
from stringflux.solver.materials import ConstantPermeability, find_material, linear_magnet
from stringflux.solver.materials.b_of_h import soft_law, solid_law
from stringflux.solver.solid.bias import SolidState, charges, solve_static
from stringflux.solver.solid.charges import Charges, unfolded
from stringflux.solver.solid.linear import SolidSolver
from stringflux.solver.solid.space import SolidSpace, solid_space

RADIUS = 5e-3
H0 = 2.0e4  # A/m
_BALL = 0.004  # far boundary at 12 radii and flat sides of 0.2 radii; 0.001 at 0.1
_CHARGES = 1e-3  # an element or more away; measured 1e-5 for the cube at 0.2 edges


@pytest.fixture(scope="module")
def space() -> SolidSpace:
    return solid_space(ball(RADIUS, 0.2))


def uniform(space: SolidSpace, direction: Array) -> list[Array]:
    return [np.broadcast_to(H0 * direction[:, None, None], e.points.shape) for e in space.bodies]


def mean(space: SolidSpace, field: Array) -> Array:
    w = space.bodies[0].weight
    return np.asarray(np.einsum("ceq,eq->c", field, w) / w.sum())


def outside(space: SolidSpace, state: SolidState, points: Array) -> Array:
    m = [b / MU0 - h for b, h in zip(state.b, state.h, strict=True)]
    return MU0 * unfolded(space, charges(space, m)[None], ((),)).field(points)[0]


def dipole(moment: Array, points: Array) -> Array:
    r = np.linalg.norm(points, axis=0)
    return np.asarray(MU0 / (4 * np.pi) * (3 * points * (moment @ points) / r**5 - moment[:, None] / r**3))


def test_magnetised_sphere(space: SolidSpace) -> None:
    """B = 2J/3 inside, a dipole outside (exact), whichever way it is magnetised."""
    way = np.array([1.0, 2.0, 2.0]) / 3
    body = SolidBody(name="ball", material="m", form=Box(low=(0, 0, 0), high=(1, 1, 1)), magnetisation=tuple(way))
    state = solve_static(space, [solid_law(body, linear_magnet(name="m", remanence=1.2, mu_recoil=1.0))])
    assert mean(space, state.b[0]) == pytest.approx(2 / 3 * 1.2 * way, abs=_BALL)
    p = 2 * RADIUS * np.array([[1.0, 0.0, 0.6], [0.0, 1.0, 0.0], [0.0, 0.0, 0.8]])
    exact = dipole(4 / 3 * np.pi * RADIUS**3 * 1.2 / MU0 * way, p)
    assert outside(space, state, p) == pytest.approx(exact, abs=_BALL * np.abs(exact).max())


@pytest.mark.parametrize("mu", [2.0, 200.0, 1e4])
def test_permeable_sphere(space: SolidSpace, mu: float) -> None:
    """B = 3μ/(μ + 2) B₀ inside (exact). The cancellation of H_s and ∇φ at 1e4 costs nothing."""
    way = np.array([0.6, 0.0, 0.8])
    state = solve_static(space, [soft_law(ConstantPermeability(name="s", mu_r=mu))], sources=uniform(space, way),
                         soft=[True])
    exact = 3 * mu / (mu + 2) * MU0 * H0
    assert mean(space, state.b[0]) == pytest.approx(exact * way, abs=_BALL * exact)
    off = np.sum((state.b[0] - exact * way[:, None, None]) ** 2, axis=0)
    spread = np.sqrt(np.sum(off * space.bodies[0].weight) / space.bodies[0].weight.sum())
    assert spread < 0.03 * exact  # the sphere's flat sides; a left-over of H_s would come in mu times


def test_saturating_sphere(space: SolidSpace) -> None:
    """Steel in a uniform field stays uniform: H = H₀ − M(H)/3, solved here by itself."""
    steel: Any = find_material("steel-1008")
    strong = 40 * H0

    def miss(b: float) -> float:
        h = float(steel.static(np.array([b]))[0][0])
        return h - strong + (b / MU0 - h) / 3

    exact = brentq(miss, 0.1, 4.0)
    source = [np.broadcast_to(np.array([0.0, 0.0, strong])[:, None, None], space.bodies[0].points.shape)]
    state = solve_static(space, [soft_law(steel)], sources=source, soft=[True])
    assert exact > 1.8  # beyond the knee
    assert mean(space, state.b[0])[2] == pytest.approx(exact, rel=_BALL)


def magnet(form: Box | Cylinder, way: tuple[float, float, float]) -> tuple[SolidSpace, Array]:
    body = SolidBody(name="bar", material="m", form=form, magnetisation=way)
    space = solid_space(solid_mesh((body,), SOLID_QUALITIES["normal"]))
    state = solve_static(space, [solid_law(body, linear_magnet(name="m", remanence=1.0, mu_recoil=1.0))])
    return space, charges(space, [state.b[0] / MU0 - state.h[0]])


@pytest.mark.parametrize("way", [(0.0, 0.0, 1.0), (1.0, 0.0, 0.0), (0.6, 0.0, 0.8)])
def test_box_magnet(way: tuple[float, float, float]) -> None:
    """Against magpylib's closed form, an element and more over its faces and edges."""
    space, q = magnet(Box(low=(-3e-3, -12e-3, -8e-3), high=(3e-3, 12e-3, 0.0)), way)
    peer = magpylib.magnet.Cuboid(dimension=(6e-3, 24e-3, 8e-3), polarization=way, position=(0, 0, -4e-3))
    x, y, z = np.meshgrid([-5e-3, 0.0, 2e-3], [0.0, 6e-3, 12e-3], [2.5e-3, 3.5e-3, 5e-3])
    p = np.stack([x.ravel(), y.ravel(), z.ravel()])
    found, exact = MU0 * unfolded(space, q[None], ((),)).field(p)[0], peer.getB(p.T).T
    assert np.max(np.linalg.norm(found - exact, axis=0) / np.linalg.norm(exact, axis=0)) < _CHARGES


def test_fields_from_charges_are_smoother_than_gradients(space: SolidSpace) -> None:
    """Along a line half a radius over a magnetised ball, where a string could be: error against the dipole (exact),
    and the part of it that jumps (rms of its differences between places 0.04 radii apart). Measured, of the largest
    B_z: −∇φ 4.5 % and 1.2 %, charges 0.02 % and 0.002 %."""
    body = SolidBody(name="ball", material="m", form=Box(low=(0, 0, 0), high=(1, 1, 1)), magnetisation=(0, 0, 1))
    state = solve_static(space, [solid_law(body, linear_magnet(name="m", remanence=1.0, mu_recoil=1.0))])
    x = RADIUS * np.arange(-1.6, 1.61, 0.04)
    p = np.stack([x, np.full(x.size, 1e-4), np.full(x.size, 1.5 * RADIUS)])
    exact = dipole(np.array([0.0, 0.0, 4 / 3 * np.pi * RADIUS**3 / MU0]), p)[2]
    error = {"gradient": -MU0 * gradient_at(space, state.phi, p)[2] - exact,
             "charges": outside(space, state, p)[2] - exact}
    largest = {name: np.max(np.abs(e)) / exact.max() for name, e in error.items()}
    rough = {name: np.sqrt(np.mean(np.diff(e) ** 2)) / exact.max() for name, e in error.items()}
    assert largest["charges"] < _BALL < largest["gradient"]
    assert rough["charges"] < rough["gradient"] / 30


def gradient_at(space: SolidSpace, phi: Array, points: Array) -> Array:
    """∇φ (3, n) in the elements in which points lie."""
    t, n = space.mesh.tetrahedra, space.mesh.points.shape[1]
    _, number = edges_of(t, n)
    dofs = np.concatenate([t, n + number])
    corners = space.mesh.points[:, t]  # (3, 4, e)
    near = np.all((corners.min(axis=1) <= points.max(axis=1)[:, None])
                  & (corners.max(axis=1) >= points.min(axis=1)[:, None]), axis=0)
    dofs, corners = dofs[:, near], corners[:, :, near]
    inverse = np.linalg.inv(np.moveaxis(corners[:, 1:] - corners[:, :1], 2, 0))
    out = np.empty(points.shape)
    for i, p in enumerate(points.T):
        lam = np.einsum("eij,je->ei", inverse, p[:, None] - corners[:, 0])
        lam = np.column_stack([1 - lam.sum(axis=1), lam])
        e = int(np.argmax(lam.min(axis=1)))
        slopes = np.concatenate([-np.ones((1, 3)), np.eye(3)]) @ inverse[e]  # of λ0 … λ3
        basis = [(4 * v - 1) * g for v, g in zip(lam[e], slopes, strict=True)]
        basis += [4 * (lam[e, a] * slopes[b] + lam[e, b] * slopes[a]) for a, b in EDGES]
        out[:, i] = phi[dofs[:, e]] @ np.array(basis)
    return out


def test_rod_on_its_axis() -> None:
    """B/J = 0.17387 and 0.10431 at 2 and 3 mm over a rod 4.75 × 16.51 mm (exact; published as a worked example)."""
    space, q = magnet(Cylinder(base=(0, 0, -16.51e-3), along=2, length=16.51e-3, radius=2.375e-3), (0, 0, 1))
    p = np.array([[0.0, 0.0], [0.0, 0.0], [2e-3, 3e-3]])
    found = MU0 * unfolded(space, q[None], ((),)).field(p)[0, 2]
    assert found == pytest.approx([0.17387, 0.10431], rel=2e-3)


def test_order_of_convergence() -> None:
    """φ = sin πx sin πy sin πz on the unit cube: order 3 in φ, 2 in its gradient; slope and last error."""
    def exact(p: Array) -> Array:
        return np.asarray(np.prod(np.sin(np.pi * p), axis=0))

    def gradient(p: Array) -> Array:
        s, c = np.sin(np.pi * p), np.pi * np.cos(np.pi * p)
        return np.stack([c[0] * s[1] * s[2], s[0] * c[1] * s[2], s[0] * s[1] * c[2]])

    errors = []
    for n in (3, 6, 12):
        space = solid_space(cube(n))
        e = space.bodies[0]
        one = np.broadcast_to(np.eye(3)[:, :, None, None], (3, 3, *e.weight.shape))
        solver = SolidSolver(space, [one])
        phi = solver.solve(e.load(gradient(e.points), space.unknowns), tolerance=1e-12)
        off = e.field(phi) - gradient(e.points)
        errors.append((np.sqrt(np.mean((phi - exact(space.nodes)) ** 2)), np.sqrt(np.sum(off**2 * e.weight))))
    slopes = np.log2(np.array(errors[1]) / np.array(errors[2]))
    assert slopes[0] > 2.8
    assert slopes[1] > 1.8
    assert errors[2][0] < 2e-4
    assert errors[2][1] < 0.05


def test_a_complex_solve_begins_from_solutions_like_it() -> None:
    """Any that it lies among are combined to it at once; without them it is the same, after more steps."""
    space = solid_space(cube(4))
    e = space.bodies[0]
    one = np.broadcast_to(np.eye(3)[:, :, None, None], (3, 3, *e.weight.shape))
    own = e.matrix(one, space.unknowns)
    solver = SolidSolver(space, [one])
    loads = [e.load(e.points**n, space.unknowns) for n in (1, 2)]
    matrix = space.air + (1 - 0.5j) * own
    found = [solver.solve_complex(matrix, load, 1e-10) for load in loads]
    assert solver.iterations > 5
    both = solver.solve_complex(matrix, loads[0] - 2 * loads[1], 1e-8, found)
    assert solver.iterations == 0
    assert both == pytest.approx(found[0] - 2 * found[1], abs=1e-7 * float(np.abs(both).max()))
    near = solver.solve_complex(space.air + (1 - 0.6j) * own, loads[0], 1e-10, found)
    assert near == pytest.approx(solver.solve_complex(space.air + (1 - 0.6j) * own, loads[0], 1e-10),
                                 abs=1e-8 * float(np.abs(near).max()))


def test_steps_to_a_solution_do_not_grow_with_the_mesh_or_with_mu() -> None:
    """Measured 6 to 8; with P1 aggregated in place of factored there were twice as many, and more on finer meshes."""
    for n, mu in ((4, 1.0), (12, 1.0), (8, 10.0), (8, 1e4)):
        space = solid_space(cube(n))
        e = space.bodies[0]
        half = np.where(e.points[0] < 0.5, mu, 1.0)
        solver = SolidSolver(space, [half * np.eye(3)[:, :, None, None]])
        solver.solve(e.load(e.points**2, space.unknowns), tolerance=1e-8)
        assert solver.iterations <= 10, (n, mu, solver.iterations)


def test_several_loads_at_once_are_each_alone() -> None:
    space = solid_space(cube(4))
    e = space.bodies[0]
    solver = SolidSolver(space, [np.broadcast_to(np.eye(3)[:, :, None, None], (3, 3, *e.weight.shape))])
    loads = np.stack([e.load(e.points**n, space.unknowns) for n in (1, 2, 3)] + [np.zeros(space.unknowns)], axis=1)
    loads[:, 1] *= 1e-9  # each ends by its own size
    found = solver.solve_several(loads, 1e-9)
    for one, load in zip(found.T, loads.T, strict=True):
        assert one == pytest.approx(solver.solve(load, tolerance=1e-9), abs=1e-8 * float(np.abs(one).max()))


def test_the_sum_over_charges_close_by_and_far_away() -> None:
    """Against Σ q (r − r')/R³ term by term: 0.2 mm from a charge 40 mm off the middle of all; complex ones too."""
    rng = np.random.default_rng(2)
    places = np.array([[40e-3], [30e-3], [8e-3]]) * rng.uniform(-1, 1, (3, 2500))
    values = rng.standard_normal((2, 2500)) + 1j * rng.standard_normal((2, 2500))
    points = np.concatenate([places[:, :5] + 0.115e-3, rng.uniform(-1, 1, (3, 230))], axis=1)
    away = points[:, :, None] - places[:, None]
    exact = (values[:, None, None] * away / np.sum(away**2, axis=0)**1.5).sum(axis=-1) / (4 * np.pi)
    found, size = Charges(places=places, values=values).field(points), np.linalg.norm(exact, axis=1, keepdims=True)
    assert np.max(np.abs(found - exact) / size) < 1e-9
    assert Charges(places=places, values=values.real).field(points) == pytest.approx(found.real, rel=1e-12, abs=1e-12)


def test_charges_far_away_are_a_dipole() -> None:
    q = Charges(places=np.array([[0.0, 0.0], [0.0, 0.0], [-0.5e-3, 0.5e-3]]), values=np.array([[-1.0, 1.0]]))
    p = np.array([[0.3], [0.1], [0.2]])
    assert MU0 * q.field(p)[0] == pytest.approx(dipole(np.array([0.0, 0.0, 1e-3]), p), rel=1e-4)
