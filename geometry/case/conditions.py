"""What surrounds a pickup: the optional table [conditions] of a case."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from .keys import Quantity, Table

COLDEST, HOTTEST = -50.0, 150.0
"""°C; beyond, the straight line of copper's resistance and its enamel end."""
USUAL = 20.0
"""°C, at which the tables of materials hold."""


class Conditions(Table):
    """What surrounds the pickup."""

    temperature: Annotated[
        Annotated[float, Quantity("temperature", COLDEST, HOTTEST)],
        Field(description="Of the whole pickup; warm copper has more resistance, a warm magnet less remanence."),
    ] = USUAL
