"""How far a string can swing over a face, and one table of fields for its slopes at rest and for its swings.

References
----------
Derived here.
"""

from __future__ import annotations

from stringflux.geometry.shapes.row import StringShape
from stringflux.solver.seam import StringField

from .line_fields import Span
from .linkage import CLEARANCE, stencil_reach
from .magnetisation import Layer
from .model import StringModel, laid_level, string_model
from .numerics import SHIPPED, StringNumerics

ABOVE = 0.1e-3
"""How much higher a string can be put in place as well, m, for its slope with the gap."""
SHAKEN = 1.2e-3
"""The swing that a string is shaken with first, m, where it has the room."""
_HEIGHTS = 8
"""Samples of the fields over the heights at the least: with six S on the curve is 1e-5 off, with eight 1e-6."""

_ACROSS = 9
"""And over a way across: six put k_y 1 % off at 0.5 mm over a face and 3 % at 0.2 mm."""


def room_below(shape: StringShape, face: float, moved: float = 0.0) -> float:
    """How far a string can swing down, m, where it has been put `moved` m from its place."""
    low = face + CLEARANCE + shape.outer_radius
    return min(SHAKEN, max(shape.axis_height + moved - low, 0.05e-3))


def swing_model(field: StringField, shape: StringShape, layers: tuple[Layer, ...],
                numerics: StringNumerics = SHIPPED, *, lower: float = 0.0, higher: float = ABOVE) -> StringModel:
    """The string with its fields tabulated for swings up and down and for its slopes at rest; laid level where it
    leans so little that neither minds. `lower` and `higher`: how far it may be put in place as well, m."""
    face = field.places[field.nearest(shape.y)].face
    side, radius = stencil_reach(shape, face), shape.outer_radius
    down, up = lower + room_below(shape, face, -lower), SHAKEN + higher
    span = Span(y=(shape.y - side - radius, shape.y + side + radius), nz=_HEIGHTS,
                z=(shape.axis_height - max(down, side) - radius, shape.axis_height + up + radius))
    return string_model(field, laid_level(field, shape), layers, span, numerics)


def sideways_model(field: StringField, shape: StringShape, layers: tuple[Layer, ...],
                   numerics: StringNumerics = SHIPPED) -> StringModel:
    """The same for swings across."""
    side, radius = SHAKEN + shape.outer_radius, shape.outer_radius
    span = Span(y=(shape.y - side, shape.y + side), z=(shape.axis_height - radius, shape.axis_height + radius),
                ny=_ACROSS)
    return string_model(field, laid_level(field, shape), layers, span, numerics)
