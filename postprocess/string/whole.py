"""The field of a pickup under another: as strings see it that lie in more than it.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence

from stringflux.solver.seam import Answer, Sampled, StringField


class Whole:
    """A pickup's field `of`, its mirror image along the strings told of or not."""

    def __init__(self, of: StringField, *, mirrored: bool) -> None:
        self.of, self.mirrored, self.places, self.spread = of, mirrored, of.places, of.spread
        self.answers: Sequence[Answer] = of.answers

    def nearest(self, y: float, /) -> int:
        return self.of.nearest(y)

    def parts(self, middle: float, /) -> tuple[Sampled, Sampled]:
        return self.of.parts(middle)


def alone(field: StringField) -> StringField:
    """The field of the pickup without any string."""
    return alone(field.of) if isinstance(field, Whole) else field
