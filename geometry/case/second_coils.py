"""Further coils of one pickup, each with a row of its own or round what is there, and how all are connected."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from .coil import Coil
from .keys import Printed, Table
from .poles import Pole, Row

CONNECTIONS = ("series", "parallel")
Name = Annotated[str, Field(min_length=1, max_length=40)]


class SecondCoil(Table):
    """Another coil of the same pickup."""

    name: Annotated[str, Field(min_length=1, max_length=40, description="What this coil is called."), Printed()]
    row: Annotated[
        Row | None,
        Field(description="Where its own poles stand; without it the coil goes round what stands there already."),
    ] = None
    pole: Annotated[
        tuple[Pole, ...], Field(max_length=12, description="How the poles of its own row are made.")
    ] = ()
    coil: Annotated[Coil, Field(description="Window, wire and turns.")]

    @model_validator(mode="after")
    def _complete(self) -> SecondCoil:
        if self.row is not None and not self.pole:
            raise ValueError("pole: it is missing; say how the poles of this row are made, or drop the row")
        if self.row is None and self.pole:
            raise ValueError("row: it is missing; say where these poles stand, or drop pole")
        if self.coil.name is not None:
            raise ValueError("coil, name: received here; the name stands one level up, in [[second_coil]]")
        return self


class Connection(Table):
    """How the coils are connected."""

    coils: Annotated[
        str, Field(max_length=40, description='"series", "parallel", or the name of the only coil that is connected.')
    ] = "series"
    reversed: Annotated[
        tuple[Name, ...], Field(max_length=4, description="Names of coils with their two ends exchanged.")
    ] = ()
