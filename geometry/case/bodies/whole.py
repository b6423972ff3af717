"""Forms made of pieces: what they are by themselves, joined to others, with others cut away, turned.

What is joined or cut has its x and y from the body's `centre` as the form has, its heights from the upper side of the
form. A body is turned as a whole, about the middle of the box round its form; then it stands on its `bottom` or hangs
from its `top`. A box or cylinder with none of that stays a plain form, which the kernel is not needed for.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import TYPE_CHECKING, Annotated, Any, Self

from pydantic import Field, SerializerFunctionWrapHandler, model_serializer, model_validator

from ...shapes.bodies import Form
from ...shapes.pieces import Shaped
from .made import FormTable, Made, Pieces, Rotations, measured, refused, turned
from .pieces import OfABody
from .table import BodyTable

if TYPE_CHECKING:
    from ...kernel.measure import Measures

_LISTS = ("rotated", "join", "cut")
Several = Annotated[tuple[OfABody, ...], Field(max_length=24)]


class WholeForm(FormTable):
    """A form that can be turned, joined to others and cut."""

    rotated: Rotations = ()
    join: Annotated[Several, Field(description="Forms that are one body with it.")] = ()
    cut: Annotated[Several, Field(description="Forms that are taken away from it, after all joins.")] = ()

    @model_serializer(mode="wrap")
    def _without_empty_lists(self, handler: SerializerFunctionWrapHandler) -> dict[str, Any]:
        data: dict[str, Any] = handler(self)
        return {key: value for key, value in data.items() if (key not in _LISTS or value)
                and not (key.startswith("chamfer") and data["chamfer"] is None)}

    def model_copy(self, *, update: Mapping[str, Any] | None = None, deep: bool = False) -> Self:
        """A copy works out its form anew: what is remembered is that of other sizes."""
        copied = super().model_copy(update=update, deep=deep)
        for remembered in ("_form", "_whole"):
            copied.__dict__.pop(remembered, None)
        return copied

    @property
    def is_by_itself(self) -> bool:
        """Whether nothing is turned, joined or cut."""
        return not (self.rotated or self.join or self.cut)

    @property
    def made_tall(self) -> float:
        """Size upwards of what is made of pieces, m."""
        *_, now = self._whole
        return now.high[2] - now.low[2]

    def shaped(self, x: float, y: float, low: float) -> Shaped:
        """What is made of pieces, its own centre over (x, y) and its lowest place at `low`, m."""
        joined, cut, made, now = self._whole
        shaped = Shaped(kind=made.kind, joined=joined, cut=cut, bounds=(now.low, now.high), volume=now.volume,
                        thickness=made.thickness, bar=made.bar)
        return shaped.moved(x, y, low - now.low[2])

    @cached_property
    def _whole(self) -> tuple[Pieces, Pieces, Made, Measures]:
        """What is joined and cut, turned, over the form's centre at any height; its own form; its measures."""
        made = self.made()
        joined, cut = made.joined, made.cut
        if self.join or self.cut:
            upper = measured(made.joined, made.cut).high[2]
            joined += tuple(p for piece in self.join for p in piece.pieces(upper))
            cut += tuple(p for piece in self.cut for p in piece.pieces(upper))
        joined, cut = turned(joined, cut, self.rotated, made)
        return joined, cut, made, measured(joined, cut, len(made.cut))


class MadeBody(WholeForm, BodyTable):
    """A body that can be turned, joined to others and cut."""

    @model_validator(mode="after")
    def _has_a_form(self) -> MadeBody:
        refused(self.form)
        return self

    def plain(self) -> Form | None:
        """The form by itself as a plain one; None where it is none."""
        return None

    def _plain(self) -> Form | None:
        return self.plain() if self.is_by_itself else None

    @property
    def tall(self) -> float:
        if (plain := self._plain()) is not None:
            return round(plain.bounds[1][2] - plain.bounds[0][2], 12)
        return self.made_tall

    def form(self) -> Form:
        return self._form

    @cached_property
    def _form(self) -> Form:
        return self._plain() or self.shaped(*self.centre, self.levels()[0])
