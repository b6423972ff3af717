"""Newton's method on builds: how many steps and iterations it takes, and that shorter ways lead to the same field."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from stringflux.geometry.mesh import solid_sizes
from stringflux.geometry.mesh.solid import solid_mesh
from stringflux.geometry.mesh.solid_quality import SOLID_QUALITIES
from stringflux.geometry.shapes.bodies import Box, Cylinder, SolidBody
from stringflux.geometry.shapes.magnet_state import MagnetState
from stringflux.geometry.shapes.row import Racetrack
from stringflux.geometry.shapes.symmetry import Symmetry
from stringflux.solver.coil import air as coil_air
from stringflux.solver.constants import MU0
from stringflux.solver.materials import BodyMaterial, find_material
from stringflux.solver.materials.b_of_h import solid_law
from stringflux.solver.materials.doubt import at_signal_end, at_transverse_end
from stringflux.solver.materials.signal import permeability
from stringflux.solver.solid import bias, face_field
from stringflux.solver.solid.bias import Law, SolidState, solve_static
from stringflux.solver.solid.charges import Charges
from stringflux.solver.solid.face_field import transverse_ends
from stringflux.solver.solid.linear import SolidSolver
from stringflux.solver.solid.small_signal import solve_signal
from stringflux.solver.solid.solve import solve_solid
from stringflux.solver.solid.space import SolidSpace, solid_space

SCREWS = tuple(SolidBody(name=f"screw {i}", material="steel-12l14",
                         form=Cylinder(base=(x, 0.0, -14e-3), along=2, length=14e-3, radius=2.4e-3))
               for i, x in enumerate((-5e-3, 5e-3)))
BAR = SolidBody(name="bar", material="alnico-5", magnetisation=(1.0, 0.0, 0.0),
                form=Box(low=(-2.5e-3, -15e-3, -17e-3), high=(2.5e-3, 15e-3, -14e-3)))
MAGNETS = [("alnico-5", MagnetState()), ("alnico-5", MagnetState(charge=0.4)), ("alnico-2", MagnetState()),
           ("ceramic-8", MagnetState(charge=0.5))]


@pytest.fixture(scope="module")
def space() -> SolidSpace:
    """Of curves divided as closely as gmsh does by itself: how many steps a kink takes hangs on the mesh."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(solid_sizes, "_ALONG", 1e-9)
        solid_mesh.cache_clear()
        found = _space()
    solid_mesh.cache_clear()
    return found


def _space() -> SolidSpace:
    return solid_space(solid_mesh((*SCREWS, BAR), SOLID_QUALITIES["draft"], symmetry=Symmetry(x=False, y=True)))


def bodies(material: str, state: MagnetState) -> tuple[SolidBody, ...]:
    return (*SCREWS, replace(BAR, material=material, state=state))


def materials(own: tuple[SolidBody, ...]) -> list[BodyMaterial]:
    found: list[BodyMaterial] = [find_material(b.material) for b in own]  # type: ignore[misc]
    return found


@pytest.mark.slow
@pytest.mark.parametrize(("material", "state"), MAGNETS)
def test_steps_by_induction_lead_where_those_along_the_energy_do(space: SolidSpace, material: str,
                                                                 state: MagnetState) -> None:
    """In less steps: measured 5 to 12."""
    own = bodies(material, state)
    laws: list[Law] = [solid_law(b, m) for b, m in zip(own, materials(own), strict=True)]
    found, plain = (solve_static(space, each, tolerance=1e-9) for each in (laws, [without(law) for law in laws]))
    assert found.phi == pytest.approx(plain.phi, abs=1e-7 * float(np.abs(plain.phi).max()))
    assert found.iterations < plain.iterations
    assert found.iterations <= 12


def without(law: Law) -> Law:
    """The same law, its point at an induction unknown."""
    return lambda h: law(h)


def test_iterations_of_a_step(space: SolidSpace, monkeypatch: pytest.MonkeyPatch) -> None:
    count = []
    solve = SolidSolver.solve

    def counted(self: SolidSolver, *args: object, **more: object) -> object:
        out = solve(self, *args, **more)  # type: ignore[arg-type]
        count.append(self.iterations)
        return out

    monkeypatch.setattr(bias.SolidSolver, "solve", counted)
    own = bodies(*MAGNETS[0])
    solve_static(space, [solid_law(b, m) for b, m in zip(own, materials(own), strict=True)])
    assert max(count) <= 20
    assert sum(count) <= 90


@pytest.mark.slow
@pytest.mark.parametrize(("material", "state"), MAGNETS)
def test_the_range_over_faces_is_that_of_whole_solutions(space: SolidSpace, monkeypatch: pytest.MonkeyPatch,
                                                         material: str, state: MagnetState) -> None:
    """Steps from the nominal field with each end's own slopes, as few as it takes, against solutions from nothing to
    six digits more: B_z over the screws, as a share of the nominal one."""
    own = bodies(material, state)
    made = materials(own)
    laws: list[Law] = [solid_law(b, m) for b, m in zip(own, made, strict=True)]
    nominal = solve_static(space, laws)
    asked = {b.material: m for b, m in zip(own, made, strict=True)}
    steps: list[int] = []
    plain = solve_static

    def counted(*args: object, **more: object) -> SolidState:
        out = plain(*args, **more)  # type: ignore[arg-type]
        steps.append(out.iterations)
        return out

    monkeypatch.setattr(face_field, "solve_static", counted)
    quick = transverse_ends(space, own, asked, nominal, ())
    assert max(steps) <= 4  # one to three, each a linear solution with its slopes; four on recoil lines of alnico
    points = np.array([[-5e-3, 5e-3], [0.0, 0.0], [1.5e-3, 3e-3]])
    middle = over(space, nominal, points)
    for end, charges in enumerate(quick):
        other = [solid_law(b, at_transverse_end(m, end)) for b, m in zip(own, made, strict=True)]
        whole = over(space, solve_static(space, other, tolerance=1e-9), points)
        assert MU0 * charges.field(points)[0, 2] / middle == pytest.approx(whole / middle, abs=2e-4)
        assert np.max(np.abs(whole / middle - 1)) > 5e-4  # there is a range


def test_other_permeabilities_start_from_the_nominal_answer(space: SolidSpace) -> None:
    """L and moments of magnets and steel at both ends, to six digits in few steps, against solutions from nothing."""
    coil = Racetrack(inner_radius=3e-3, build=2e-3, bottom=-12e-3, top=-2e-3, straight=0.0, turns=1.0)
    sources = [coil_air.field(coil, e.points)[None] / MU0 for e in space.bodies]
    own = bodies(*MAGNETS[0])
    nominal = solve_static(space, [solid_law(b, m) for b, m in zip(own, materials(own), strict=True)])

    def mu(end: int | None) -> list[np.ndarray]:
        made = materials(own) if end is None else [at_signal_end(m, end) for m in materials(own)]
        return [permeability(m, b.axis, f) for b, m, f in zip(own, made, nominal.b, strict=True)]

    middle = solve_signal(space, mu(None), sources)
    for end in (0, 1):
        whole, quick = solve_signal(space, mu(end), sources), solve_signal(space, mu(end), sources, start=middle,
                                                                           tolerance=1e-6)
        assert quick.inductance == pytest.approx(whole.inductance, rel=1e-6)
        assert quick.moment == pytest.approx(whole.moment, abs=1e-6 * float(np.abs(whole.moment).max()))
        assert np.abs(whole.inductance / middle.inductance - 1).max() > 1e-3


def test_other_turns_sum_nothing_and_other_magnets_mesh_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    coils = tuple(Racetrack(inner_radius=3e-3, build=2e-3, bottom=-12e-3, top=-2e-3, straight=0.0, turns=1.0,
                            x_centre=x) for x in (-5e-3, 5e-3))
    own = (replace(SCREWS[0], form=Box(low=(-5e-3, -2e-3, -9e-3), high=(5e-3, 2e-3, 0.0))), replace(BAR, form=Box(
        low=(-5e-3, -2e-3, -12e-3), high=(5e-3, 2e-3, -9e-3))))
    asked = {b.material: m for b, m in zip(own, materials(own), strict=True)}
    quality = replace(SOLID_QUALITIES["draft"], divisions=1.0, tip=3e-3, edge=1.0, largest=4e-3, far=4.0)
    solved = solve_solid(own, coils, asked, quality=quality)
    points = np.array([[0.0, 3e-3], [0.0, 1e-3], [4e-3, 5e-3]])
    first = [part(points) for part in solved.field.parts(0.0)]
    monkeypatch.setattr(Charges, "field", None)
    again = [part(points) for part in solved.field.connected(np.array([2.0, -1.0])).parts(0.0)]
    assert sum(again)[:3] == pytest.approx(sum(first)[:3], rel=1e-12)
    monkeypatch.undo()
    whole = solved.field.connected(np.array([2.0, -1.0])).reciprocal(points)
    assert sum(again)[3:] == pytest.approx(whole, rel=1e-9, abs=1e-15)
    other = (own[0], replace(own[1], state=MagnetState(charge=0.5)))
    assert solve_solid(other, coils, asked, quality=quality).space is solved.space


def over(space: SolidSpace, state: SolidState, points: np.ndarray) -> np.ndarray:
    found: Charges = face_field.unfolded(space, face_field.bias_charges(space, state)[None], ((),))
    return np.asarray(MU0 * found.field(points)[0, 2])
