"""One set of laws over the row, the plane and the solid, asked through the seam alone.

Each solver brings a small pickup: a rod beside the middle of its coil, by the row and by the solid, and a blade on a
bar magnet, by the plane. What differs between them stands in their makers; the laws know
:mod:`stringflux.solver.seam` and no solver.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import pytest

from rigs.fields.plane_bodies import HARD, bar, steel
from rigs.fields.shapes import BENCH_MAGNET, placed, rod
from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.bars import PLANE_QUALITIES
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.geometry.mesh.solid_quality import SOLID_QUALITIES
from stringflux.geometry.shapes.bodies import Revolved, SolidBody
from stringflux.geometry.shapes.long_bars import LongBuild
from stringflux.geometry.shapes.row import Racetrack
from stringflux.geometry.shapes.section import PlaneShape
from stringflux.solver.plane.solve import SolvedBars, solve_bars
from stringflux.solver.row.solve import solve_row
from stringflux.solver.seam import REACH, Answer, Over, Place, Solved
from stringflux.solver.solid.solve import SolvedSolid, solve_solid

ROD_COIL = Racetrack(inner_radius=3e-3, straight=6e-3, build=3e-3, bottom=-13e-3, top=-2e-3, turns=1)
ASIDE = 1e-3  # m: how far the rod stands from the middle of its coil
MATERIALS = {"bench": BENCH_MAGNET, "blade": steel(200), "bar": HARD}
HALF = 90e-3  # m: of the blade

# in air over the bodies, beside and close to the face
POINTS = np.array([[0.0, 1.2e-3, -2.5e-3, 4e-3, -7e-3], [0.3e-3, -1.8e-3, 2.2e-3, 3e-3, -4e-3],
                   [2e-3, 1.5e-3, 3e-3, 2.5e-3, 4e-3]])


@dataclass(frozen=True, kw_only=True)
class Setting:
    """Where the pickup stands and how it is wound.

    Attributes
    ----------
    by : float
        How far all of it is moved along y, m.
    flip : float
        −1 for its mirror image in y.
    turns : float
        Negative: clockwise.
    """

    by: float = 0.0
    flip: float = 1.0
    turns: float = 1000.0


def over(at: Setting) -> Over:
    return Over(y=at.by, face=0.0, low=1e-3, high=5e-3)


@lru_cache
def row(at: Setting) -> Solved:
    coil = replace(ROD_COIL, y_centre=at.by, turns=abs(at.turns), sense=1 if at.turns > 0 else -1)
    return solve_row([placed(rod(), at.by + at.flip * ASIDE)], coil, MATERIALS, quality=QUALITIES["draft"],
                     history="after", band=(0.7e-3, 7e-3))


@lru_cache
def bodies(by: float, aside: float) -> SolvedSolid:
    """The rod by the solid, one turn."""
    one = SolidBody(name="rod", material="bench", magnetisation=(0, 0, 1),
                    form=Revolved(outline=rod().parts[0].outline, x=0.0, y=by + aside))
    return solve_solid([one], [replace(ROD_COIL, y_centre=by)], MATERIALS, quality=SOLID_QUALITIES["draft"])


@lru_cache
def solid(at: Setting) -> Solved:
    found = bodies(at.by, at.flip * ASIDE).connected(np.array([at.turns]))
    return found.over([over(at)], MATERIALS, QUALITIES["draft"], REACH)


@lru_cache
def blade() -> SolvedBars:
    """The blade by the plane, one turn."""
    coil = Racetrack(inner_radius=2e-3, straight=2 * HALF, build=4.5e-3, bottom=-11e-3, top=-2.5e-3, turns=1.0)
    shape = PlaneShape(parts=(bar(-1.5e-3, 1.5e-3, -12e-3, 0.0, "blade"),
                              bar(-5e-3, 5e-3, -17e-3, -12e-3, "bar", (0, 1))))
    return solve_bars(LongBuild(shape=shape, halves=(HALF, HALF), coil=coil), MATERIALS,
                      quality=PLANE_QUALITIES["draft"])


@lru_cache
def plane(at: Setting) -> Solved:
    """It lies about y = 0, its own mirror image; moved along itself it is nearly what it was."""
    found = blade().connected(np.array([at.turns]))
    return found.over([over(at)], 0.0, REACH)


@dataclass(frozen=True, kw_only=True)
class Kind:
    """A solver, and how far its own approximations let a law miss, over |B|.

    Attributes
    ----------
    solve : callable
    parts : float
        Sum of both parts: the plane's table, 7e-5 at this blade.
    moved : float
        The blade's ends stay where they are, so it is only nearly the same 3 mm on: 3.4e-3, 7.8e-4 and 1.7e-4 for
        halves of 45, 90 and 180 mm.
    mirrored : float
        gmsh's tetrahedra are no mirror image of those of the mirrored rod: 4.7e-4.
    """

    solve: Callable[[Setting], Solved]
    parts: float = 1e-12
    moved: float = 1e-9
    mirrored: float = 1e-9


KINDS = {"row": Kind(solve=row), "plane": Kind(solve=plane, parts=2e-4, moved=1e-3),
         "solid": Kind(solve=solid, mirrored=1e-3)}
kinds = pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)
REST = Setting()


def both(solved: Solved, points: Array) -> Array:
    """B₀ and b, (2, 3, n)."""
    return np.stack([solved.field.bias(points), solved.field.reciprocal(points)])


def off(found: Array, true: Array) -> float:
    """How far two pairs of fields (2, 3, n) are apart, over their moduli, at most."""
    return float(np.max(np.linalg.norm(found - true, axis=1) / np.linalg.norm(true, axis=1)))


def below(solved: Solved) -> tuple[Answer, Place]:
    """What answers a string at y = 0."""
    i = solved.field.nearest(0.0)
    return solved.field.answers[i], solved.field.places[i]


def along(place: Place) -> tuple[Array, Array, Array]:
    """Points of a string at y = 0, 2.2 mm over the face, from there; none at its own mirror image."""
    x = np.linspace(-8e-3, 8e-3, 9) + 1e-4
    return x, np.full(9, -place.y), np.full(9, 2.2e-3)


@kinds
def test_moved_along_y_all_comes_along(kind: Kind) -> None:
    by = np.array([[0.0], [3e-3], [0.0]])
    rest, moved = kind.solve(REST), kind.solve(Setting(by=3e-3))
    assert off(both(moved, POINTS + by), both(rest, POINTS)) < kind.moved
    assert moved.inductance == pytest.approx(rest.inductance, rel=1e-9)
    assert below(moved)[1].y == pytest.approx(below(rest)[1].y + 3e-3, abs=1e-12)


@kinds
def test_the_mirror_image_has_the_mirrored_field(kind: Kind) -> None:
    """Magnets up and current the same way round: along and up stay as they are, across turns over."""
    across = np.array([[1.0], [-1.0], [1.0]])
    rest, image = kind.solve(REST), kind.solve(Setting(flip=-1.0))
    assert off(both(image, across * POINTS), across * both(rest, POINTS)) < kind.mirrored
    assert image.inductance == pytest.approx(rest.inductance, rel=kind.mirrored)


@kinds
def test_both_parts_add_up_to_the_whole(kind: Kind) -> None:
    solved = kind.solve(REST)
    near, away = solved.field.parts(0.0)
    assert off((near(POINTS) + away(POINTS)).reshape(2, 3, -1), both(solved, POINTS)) < kind.parts
    assert np.linalg.norm(away(POINTS)[3:]) > 0  # of the coil in air at least


@kinds
def test_turns_scale_b_and_their_square_the_inductance(kind: Kind) -> None:
    rest, other = kind.solve(REST), kind.solve(Setting(turns=-2500.0))
    factor = np.array([1.0, -2.5])[:, None, None]
    assert off(both(other, POINTS), factor * both(rest, POINTS)) < 1e-12
    for middle in (0.0, 2e-3):
        for part, same in zip(other.field.parts(middle), rest.field.parts(middle), strict=True):
            assert part(POINTS) == pytest.approx(np.repeat(factor[:, 0, 0], 3)[:, None] * same(POINTS), rel=1e-10)
    assert other.inductance == pytest.approx(6.25 * rest.inductance, rel=1e-12)
    assert other.inductance_air == pytest.approx(6.25 * rest.inductance_air, rel=1e-12)
    assert rest.inductance > rest.inductance_air > 0
    assert other.face_field(2e-3) == pytest.approx(rest.face_field(2e-3), rel=1e-12)


@kinds
def test_fields_in_air_have_neither_sources_nor_currents(kind: Kind) -> None:
    """div B = 0 and curl B = 0 by differences over ± 20 µm, which leave 4e-5 of |B| a millimetre next to the face."""
    solved, h = kind.solve(REST), 2e-5
    steps = h * np.eye(3)[:, :, None]
    slopes = np.stack([(both(solved, POINTS + e) - both(solved, POINTS - e)) / (2 * h) for e in steps])  # ∂_i of B_c
    size = np.linalg.norm(both(solved, POINTS), axis=1) / 1e-3
    divergence = np.einsum("ikin->kn", slopes)
    curl = slopes - slopes.transpose(2, 1, 0, 3)
    assert np.max(np.abs(divergence) / size) < 1e-4
    assert np.max(np.abs(curl) / size[:, None]) < 1e-4


@kinds
def test_a_field_that_is_its_own_mirror_image_along_the_strings_says_so(kind: Kind) -> None:
    """All three stand at x = 0: B₀ and b along turn over from x to −x."""
    solved = kind.solve(REST)
    assert solved.field.mirrored
    assert solved.field.spread == 0.0
    turned = np.array([[-1.0], [1.0], [1.0]])
    assert off(both(solved, turned * POINTS), turned * both(solved, POINTS)) < 1e-9


@kinds
def test_the_field_on_a_poles_axis_is_that_of_its_face(kind: Kind) -> None:
    """Within 1e-3, 1.3 mm and more over the face: the row's comes from the solution there, its field from rings."""
    solved = kind.solve(REST)
    poles = [p for p in solved.field.places if p.radius > 0]
    for height in (1.3e-3, 4e-3):
        at = np.array([(0.0, p.y, p.face + height) for p in poles]).reshape(-1, 3).T
        assert solved.face_field(height) == pytest.approx(solved.field.bias(at)[2], rel=1e-3)


@kinds
def test_there_is_no_field_at_no_points(kind: Kind) -> None:
    solved, none = kind.solve(REST), np.zeros((3, 0))
    assert both(solved, none).shape == (2, 3, 0)
    assert [part(none).shape for part in solved.field.parts(0.0)] == [(6, 0), (6, 0)]


@kinds
def test_an_answer_is_reciprocal_and_draws_the_string_down(kind: Kind) -> None:
    """G(x, x') = G(x', x), and the energy of charges in the potential of their images is negative."""
    answer, place = below(kind.solve(REST))
    F, S = answer.factor(*along(place), False), answer.matrix(False)
    assert pytest.approx(S.T, rel=1e-12) == S
    assert np.linalg.eigvalsh(F @ S @ F.T)[-1] < 0


@kinds
def test_a_mirrored_answer_is_that_to_charges_on_both_sides(kind: Kind) -> None:
    answer, place = below(kind.solve(REST))
    x, y, z = along(place)
    here, there, S = answer.factor(x, y, z, False), answer.factor(-x, y, z, False), answer.matrix(False)
    half = answer.factor(x, y, z, True)
    assert half @ answer.matrix(True) @ half.T == pytest.approx(here @ S @ (here + there).T, rel=1e-9)


@kinds
def test_the_slopes_of_an_answer_are_its_differences(kind: Kind) -> None:
    answer, place = below(kind.solve(REST))
    x, y, z = along(place)
    h = 1e-5
    for mirrored in (False, True):
        dy, dz = answer.gradient(x, y, z, mirrored)
        size = np.abs(dz).max()
        for slope, (v, w) in ((dy, (h, 0.0)), (dz, (0.0, h))):
            up, down = answer.factor(x, y + v, z + w, mirrored), answer.factor(x, y - v, z - w, mirrored)
            assert slope == pytest.approx((up - down) / (2 * h), abs=2e-5 * size)


def test_row_and_solid_see_the_same_rod() -> None:
    """0.7 % apart on draft meshes, next to the edge of the face; 0.23 % on normal, 0.09 % on fine ones."""
    assert off(both(solid(REST), POINTS), both(row(REST), POINTS)) < 1e-2
    assert solid(REST).inductance == pytest.approx(row(REST).inductance, rel=1e-3)
    assert solid(REST).inductance_air == pytest.approx(row(REST).inductance_air, rel=1e-12)
