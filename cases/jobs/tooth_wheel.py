"""What a wheel links over half a tooth, at its own gap and at others."""

from __future__ import annotations

from stringflux.geometry.demonstrations.wheel import ToothWheel
from stringflux.geometry.mesh.wheel import SlidingQuality
from stringflux.postprocess.wheel.turning import ToothLinkage
from stringflux.solver.materials.kinds import Materials
from stringflux.solver.materials.lookup import find_material
from stringflux.solver.wheel.solve import SolvedWheel, solve_wheel

from ..solved.solve_row import one_thread

OTHER_GAPS = SlidingQuality(positions=12, layers=1.05, corner=2.0, growth=0.9, divisions=1.5)
"""For the gaps beside the case's own: swing and largest e within 1.5 % (tests/cases/jobs/test_tooth_wheel.py)."""


def solved_gap(case: ToothWheel, gap: float, quality: SlidingQuality) -> SolvedWheel:
    """The fields over half a tooth at a gap, m."""
    with one_thread():
        return solve_wheel(case.build().at(gap), wheel_materials(case), quality=quality)


def other_gaps(case: ToothWheel, gaps: tuple[float, ...]) -> list[ToothLinkage]:
    """λ at gaps, m, on a coarser mesh."""
    return [tooth_linkage(solved_gap(case, g, OTHER_GAPS)) for g in gaps]


def tooth_linkage(solved: SolvedWheel) -> ToothLinkage:
    """λ over half a tooth, without its fields."""
    return ToothLinkage(gap=solved.build.gap, teeth=solved.build.wheel.teeth, angles=solved.angles,
                        linkage=solved.linkage)


def wheel_materials(case: ToothWheel) -> Materials:
    """Of all its parts, by name."""
    return {part.material: find_material(part.material) for part in case.build().shape.parts}
