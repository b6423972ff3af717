"""The error told for the force between blocks of magnets with μ = 1 against the true one, by closed forms.

With steel and a coil: tests/outside/test_mesh_doubt.py.
"""

from __future__ import annotations

from dataclasses import replace

import magpylib
import numpy as np
import pytest

from rigs.fields.blocks import MATERIALS, force_on_box, magnet, upper
from stringflux.geometry.mesh.solid import solid_mesh
from stringflux.geometry.mesh.solid_quality import SOLID_QUALITIES
from stringflux.geometry.shapes.bodies import Box, SolidBody
from stringflux.solver.solid.bias import solve_static
from stringflux.solver.solid.doubt.force import doubt_force
from stringflux.solver.solid.force import Forces
from stringflux.solver.solid.solve import SolvedMagnets, solve_magnets
from stringflux.solver.solid.space import solid_space

WAY = (0.6, 0.0, 0.8)
LOW = Box(low=(-3e-3, -6e-3, -4e-3), high=(3e-3, 6e-3, 0.0))
PEER = magpylib.magnet.Cuboid(dimension=(6e-3, 12e-3, 4e-3), polarization=(0, 0, 1), position=(0, 0, -2e-3))
_CHARGES = {"draft": 8e-3, "normal": 2e-3}  # of the force, told at most; found 6.1e-3, 1.2e-3 over 0.5 mm
_SAME = 0.45  # two meshes, the quarter a fifth finer; found 0.02 to 0.29, at normal 0.14
_STRESS = {"draft": 4.8e-2, "normal": 2.6e-2}  # 3.6e-2, 2.0e-2 over 0.1 mm


def aside(box: Box, by: float) -> Box:
    return replace(box, low=(box.low[0] + by, *box.low[1:]), high=(box.high[0] + by, *box.high[1:]))


@pytest.mark.slow
@pytest.mark.parametrize(("gap", "by", "quality"), [
    (0.1e-3, 0.0, "draft"), (0.1e-3, 0.0, "normal"), (0.2e-3, 0.0, "draft"), (0.5e-3, 0.0, "draft"),
    (0.5e-3, 0.0, "normal"), (3e-3, 0.0, "draft"), (20e-3, 0.0, "draft"), (-3e-3, 14e-3, "draft"),
])
def test_covers_the_true_error(gap: float, by: float, quality: str) -> None:
    box = aside(upper(gap), by)
    exact = force_on_box(box, WAY, PEER)
    solved = solve_magnets((magnet("low", LOW), magnet("up", box, WAY)), MATERIALS, quality=SOLID_QUALITIES[quality])
    forces = Forces(solved)
    found = forces.on([1])
    doubt = doubt_force(solved, forces, [1], found)
    true = float(np.linalg.norm((found.charges if doubt.by == "charges" else found.stress) - exact))
    size = float(np.linalg.norm(exact))
    print(f"{gap} {by} {quality} by {doubt.by}: true {true / size} told {doubt.error / size}, {doubt.error / true}")
    assert doubt.by == ("stress" if 0 < gap < 0.3e-3 else "charges")
    assert true <= doubt.error <= (_CHARGES if doubt.by == "charges" else _STRESS)[quality] * size


@pytest.mark.slow
def test_a_quarter_of_a_mesh_tells_what_the_whole_does() -> None:
    """Two magnets over a plate of steel; a magnet's image is another body."""
    bodies = (*(magnet(f"magnet {y:g}", Box(low=(-2e-3, y - 2e-3, 0.0), high=(2e-3, y + 2e-3, 5e-3)))
                for y in (-5e-3, 5e-3)),
              SolidBody(name="plate", material="s",
                        form=Box(low=(-5e-3, -10e-3, -3e-3), high=(5e-3, 10e-3, -0.1e-3))))
    draft = SOLID_QUALITIES["draft"]
    quarter = solve_magnets(bodies, MATERIALS, quality=draft)
    assert quarter.space.copies == 4
    space = solid_space(solid_mesh(bodies, draft))
    whole = SolvedMagnets(bodies=bodies, space=space, bias=solve_static(space, quarter.laws), odd=(),
                          laws=quarter.laws)
    assert Forces(quarter).axes([0]) == [1, 2]
    assert Forces(quarter).axes([2]) == [2]
    for members in ([0], [2]):
        one, other = (doubt_force(s, f := Forces(s), members, f.on(members)) for s in (quarter, whole))
        print(members, one, other)
        assert one.by == other.by == "stress"
        for k in Forces(quarter).axes(members):
            assert one.parts[k] == pytest.approx(other.parts[k], rel=_SAME)
