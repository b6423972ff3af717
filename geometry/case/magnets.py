"""Keys that a magnet has, whether it is a part of a pole or a body."""

from __future__ import annotations

from typing import Annotated, Literal, Protocol

from pydantic import Field

from ..shapes.magnet_state import MagnetState
from .keys import Number

Polarity = Annotated[
    Literal["north up", "south up"] | None,
    Field(description="Which end of a magnet looks at the strings; only for magnets."),
]
POLARITIES: dict[str | None, int] = {"north up": 1, "south up": -1, None: 0}
Charge = Annotated[float, Number(0, 1), Field(description="How fully a magnet is magnetised; only for magnets.")]
CoercivityScale = Annotated[
    float,
    Number(0.3, 2),
    Field(description="What the coercivity of a magnet's grade is multiplied with; only for magnets."),
]
RemanenceScale = Annotated[
    float,
    Number(0.3, 1.3),
    Field(description="What the remanence of a magnet's grade is multiplied with; only for magnets."),
]


class MagnetKeys(Protocol):
    """A table that has them."""

    @property
    def charge(self) -> float: ...
    @property
    def coercivity_scale(self) -> float: ...
    @property
    def remanence_scale(self) -> float: ...


def magnet_state(table: MagnetKeys) -> MagnetState:
    """What they say, as the solvers see it."""
    return MagnetState(charge=table.charge, coercivity=table.coercivity_scale, remanence=table.remanence_scale)
