"""How far the parts of a pickup scatter: the optional table [scatter] of a case, read by `stringflux tolerance`.

Every key is a limit to either side that all parts keep. What is left out has a default with a reason, which the
command prints; 0 switches a cause off.
"""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from pydantic import Field

from .keys import Number, Quantity, Table

Share = Annotated[float, Number(0, 0.25)]
HalfShare = Annotated[float, Number(0, 0.5)]
Reach = Annotated[float, Quantity("length", 0.0, 3e-3)]

ScatterName: TypeAlias = Literal[
    "remanence", "remanence_each", "coercivity", "coercivity_each", "charge", "charge_each", "height", "gap",
    "gap_each", "position", "position_each", "turns", "wire", "pinning", "pinning_each",
]


class Scatter(Table):
    """Limits of what scatters: shares such as 0.05 for ± 5 %, lengths for ± that length."""

    remanence: Annotated[
        Share | None, Field(description="Remanence from batch to batch: all magnets of one material alike.")
    ] = None
    remanence_each: Annotated[
        Share | None, Field(description="Remanence from magnet to magnet within a batch.")
    ] = None
    coercivity: Annotated[
        Share | None, Field(description="Coercivity from batch to batch: all magnets of one material alike.")
    ] = None
    coercivity_each: Annotated[
        Share | None, Field(description="Coercivity from magnet to magnet within a batch.")
    ] = None
    correlation: Annotated[
        Annotated[float, Number(-1, 1)],
        Field(description="Correlation of remanence and coercivity, in a batch and in a magnet."),
    ] = 0.0
    charge: Annotated[
        Share | None, Field(description="How much less than the charge of the case, all magnets alike.")
    ] = None
    charge_each: Annotated[
        Share | None, Field(description="How much less than the charge of the case, magnet by magnet.")
    ] = None
    height: Annotated[
        Reach | None, Field(description="Height of each pole; its string stays where it is.")
    ] = None
    gap: Annotated[Reach | None, Field(description="Gap of all strings together: how the pickup is set.")] = None
    gap_each: Annotated[Reach | None, Field(description="Gap of each string by itself.")] = None
    position: Annotated[Reach | None, Field(description="Place across the row of all strings together.")] = None
    position_each: Annotated[Reach | None, Field(description="Place across the row of each string.")] = None
    turns: Annotated[Share | None, Field(description="Number of turns, of each coil by itself.")] = None
    wire: Annotated[Share | None, Field(description="Diameter of the wire's copper, of each coil by itself.")] = None
    pinning: Annotated[
        HalfShare | None,
        Field(description="How strongly the walls in the strings' steel are held, all strings alike."),
    ] = None
    pinning_each: Annotated[
        Share | None, Field(description="How strongly the walls in the steel of each string are held.")
    ] = None
    even: Annotated[
        tuple[ScatterName, ...],
        Field(
            max_length=15,
            description="What is spread evenly between its limits; all else is normal with the limits at three "
            "standard deviations, where it is cut off.",
        ),
    ] = ()
