"""What the plane across the strings cuts of a pickup, as shapes of a moving picture."""

from __future__ import annotations

from stringflux.geometry.case.model import Case
from stringflux.postprocess.demonstrations.moving import Role, Shape, label
from stringflux.postprocess.pictures.outlines import body_outlines, winding_outlines

_LETTER = 1.3e-3
"""From a magnet's end to the middle of its letter, m, where it has the room."""


def pickup_shapes(case: Case, y: float, only: int | None = None) -> tuple[Shape, ...]:
    """Bodies and windings in the plane at y, m, seen across the strings: x to the right, the eye at negative y, so
    that counter-clockwise turns go away from it on the right; of all coils, or `only` one, from 0."""
    shapes: list[Shape] = []
    for body in case.solid_bodies():
        outlines = body_outlines(body.form, y)
        if not outlines or body.material == "air":
            continue
        outline = outlines[0]
        north = body.magnetisation
        soft: Role = "steel" if case.is_magnetic(body.material) else "quiet"
        shapes += [Shape(role=soft if north is None else "magnet", outline=part) for part in outlines]
        if north is not None and abs(north[2]) > abs(north[0]):
            low, high = float(outline[1].min()), float(outline[1].max())
            middle, inset = float(outline[0].mean()), min(max(0.12 * (high - low), _LETTER), 0.28 * (high - low))
            ends = ("N", "S") if north[2] > 0 else ("S", "N")
            shapes += [label(ends[0], middle, high - inset), label(ends[1], middle, low + inset)]
    for coil in case.racetracks() if only is None else case.racetracks()[only:only + 1]:
        for outline in winding_outlines(coil, y):
            away = (float(outline[0].mean()) > coil.x_centre) == (coil.sense > 0)
            shapes.append(Shape(role="into" if away else "out", outline=outline, label="⊗" if away else "⊙"))
    return tuple(shapes)
