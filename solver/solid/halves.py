"""Which bodies a static field knows of, and at which planes of symmetry their mesh may stop."""

from __future__ import annotations

from collections.abc import Sequence

from stringflux.geometry.shapes.bodies import SolidBody
from stringflux.geometry.shapes.row import Racetrack
from stringflux.geometry.shapes.standing import standing_poles
from stringflux.geometry.shapes.symmetry import Symmetry, mirror_parity

from ..coil.direct import NO_CURRENTS, DirectCurrents
from ..materials.kinds import BodyMaterial, Materials, body_material, is_magnet


def magnetic(bodies: Sequence[SolidBody], materials: Materials) -> tuple[SolidBody, ...]:
    """The bodies that a static field knows of."""
    return tuple(b for b in bodies if body_material(materials, b.material).magnetic)


def planes_of_symmetry(bodies: Sequence[SolidBody], coils: Sequence[Racetrack]) -> Symmetry:
    """Whether x = 0 and y = 0 halve magnetic bodies and coils, so that the mesh may stop there."""
    def halves(axis: int) -> bool:
        return mirror_parity(bodies, axis) != 0 and all(c.is_its_image(axis) for c in coils)

    return Symmetry(x=halves(0), y=halves(1))


def halving(own: Sequence[SolidBody], coils: Sequence[Racetrack], materials: Materials, history: str,
            direct: DirectCurrents = NO_CURRENTS) -> Symmetry:
    """The planes at which the mesh of magnetic bodies stops."""
    symmetry = planes_of_symmetry(own, coils)
    if direct:  # a coil's potential is even, so with odd magnets the sum is neither
        symmetry = Symmetry(x=symmetry.x and mirror_parity(own, 0) > 0, y=symmetry.y and mirror_parity(own, 1) > 0)
    if history == "before":  # half a mesh would put a magnet's image beside it, and it was charged without
        substances = [body_material(materials, b.material) for b in own]
        symmetry = Symmetry(x=symmetry.x and lies_across(own, substances, 0),
                            y=symmetry.y and lies_across(own, substances, 1))
    return symmetry


def charged_together(bodies: Sequence[SolidBody], materials: Sequence[BodyMaterial]) -> tuple[tuple[int, ...], ...]:
    """Numbers of the bodies that are in the charger at one time: those of a pole, or one body; all have a magnet."""
    poles = [p.bodies for p in standing_poles(bodies)]
    standing = {i for group in poles for i in group}
    groups = [*poles, *((i,) for i in range(len(bodies)) if i not in standing)]
    return tuple(g for g in groups if any(is_magnet(materials[i]) for i in g))


def lies_across(bodies: Sequence[SolidBody], materials: Sequence[BodyMaterial], axis: int) -> bool:
    """Whether every group lies across the plane x = 0 or y = 0, so that half a mesh does for it alone too."""
    def across(group: tuple[int, ...]) -> bool:
        low, high = (side([bodies[i].form.bounds[k][axis] for i in group]) for k, side in ((0, min), (1, max)))
        return low < 0.0 < high

    return all(across(g) for g in charged_together(bodies, materials))
