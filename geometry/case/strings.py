"""Strings of a case: size, steel, tuning and place, and what follows from them: mass and tension.

Unit mass of a plain string ρ π d²/4; of a wound one the core plus a round wrap wire of diameter w in close
turns, ρ_w π w²/4 · √((π(d + w))² + p²)/p with the pitch p = w/(1 − gap). Tension T = μ (2 L f)².
"""

from __future__ import annotations

import math
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, model_validator

from ..notes import note_frequency
from ..shapes.row import WRAP_GAP, SteelState
from ..units import ROUNDING, mm, shown
from .keys import Number, Quantity, Table

Gauge = Annotated[float, Quantity("length", 0.1e-3, 3.6e-3)]
Scale = Annotated[float, Quantity("length", 0.1, 2.5)]
Place = Annotated[float, Quantity("length", -150e-3, 150e-3)]
Spacing = Annotated[float, Quantity("length", 0.3e-3, 100e-3)]
Gap = Annotated[float, Quantity("length", 0.2e-3, 15e-3)]
Height = Annotated[float, Quantity("length", -30e-3, 45e-3)]
Action = Annotated[float, Quantity("length", 0.0, 15e-3)]
Distance = Annotated[float, Quantity("length", 1e-3, 2.5)]
Radius = Annotated[float, Quantity("length", 20e-3, 10.0)]
Slope = Annotated[float, Quantity("angle", math.radians(-3), math.radians(3))]
Frequency = Annotated[float, Quantity("frequency", 15.0, 4000.0)]

THINNEST_WRAP = 0.04e-3

# kg/m³. Plain steel from published unit weights of strings; the others are handbook values of the metals
# (nickel-plated steel with some 10 % nickel).
DENSITIES = {
    "string-steel": 7806.0,
    "string-nickel-steel": 7900.0,
    "string-nickel": 8900.0,
    "string-stainless": 7700.0,
    "string-bronze": 8800.0,
}
PLAIN_STEEL = DENSITIES["string-steel"]

def _read_pitch(value: Any) -> Any:
    """A note name becomes its frequency as text; everything else is left to the frequency's own reader."""
    if isinstance(value, str):
        frequency = note_frequency(value)
        if frequency is not None:
            return f"{frequency!r} Hz"
        if value.strip()[:1].isalpha():
            raise ValueError(
                f'received {shown(value)}; write a note such as "E2" or a frequency such as "82.4 Hz"'
            )
    return value


class GapRule(Table):
    """The ways to say how high a string lies; a string takes exactly one, its own or the common one."""

    gap: Annotated[
        Gap | None, Field(description="Underside of the string at rest to the face of its pole.")
    ] = None
    height: Annotated[
        Height | None, Field(description="Underside of the string at rest over the top plate.")
    ] = None
    fretted_gap: Annotated[
        Gap | None,
        Field(description="Like gap, but held down at the last fret; needs action and bridge_distance."),
    ] = None

    @model_validator(mode="after")
    def _one_rule(self) -> GapRule:
        given = self.rules()
        if len(given) > 1:
            raise ValueError(f"{given[1]}: received together with {given[0]}; keep one of them")
        return self

    def rules(self) -> list[str]:
        """Names of the ways that are given here."""
        return [k for k in ("gap", "height", "fretted_gap") if getattr(self, k) is not None]


class Strings(GapRule):
    """What the strings have in common."""

    scale: Annotated[
        Scale | None, Field(description="Sounding length of the open string.", examples=["25.5 in"])
    ] = None
    spacing: Annotated[Spacing | None, Field(description="From string to string, centre to centre.")] = None
    fingerboard_radius: Annotated[
        Radius | None,
        Field(
            description="The undersides follow this arc; height is then that of the highest string.",
            examples=["12 in"],
        ),
    ] = None
    plane_angle: Annotated[
        Slope,
        Field(description="Angle of the strings to the top plate; positive when they rise to the bridge."),
    ] = 0.0
    bridge_distance: Annotated[
        Distance | None, Field(description="From the row of poles to the bridge, along the strings.")
    ] = None
    last_fret: Annotated[int, Number(1, 48, whole=True)] | None = None
    action: Annotated[
        Action | None, Field(description="Underside of the string at rest over the last fret.")
    ] = None
    steel: Annotated[str, Field(description="Steel of plain strings and cores.")] = "string-steel"
    wrap: Annotated[str, Field(description="Metal of the wraps of wound strings.")] = "string-nickel-steel"
    wrap_gap: Annotated[
        Annotated[float, Number(0, 0.5)],
        Field(description="Clear space between turns of the wrap, as a part of its pitch."),
    ] = WRAP_GAP
    state: Annotated[
        SteelState,
        Field(description="What their steel remembers: shaken by playing, or only put in place; curve: nothing."),
    ] = "played"

    @model_validator(mode="after")
    def _arc(self) -> Strings:
        if self.fingerboard_radius is not None and self.height is None:
            raise ValueError(
                "fingerboard_radius: it goes with height, which is missing; give the highest string's"
            )
        return self


class String(GapRule):
    """One string; what it does not say it takes from [strings]."""

    gauge: Annotated[Gauge, Field(description="Outside diameter.", examples=["0.046 in"])]
    pitch: Annotated[
        Frequency,
        BeforeValidator(_read_pitch),
        Field(description='Note of the open string, "E2", or a frequency, "82.4 Hz".'),
    ]
    core: Annotated[Gauge | None, Field(description="Diameter of the core; makes it a wound string.")] = None
    steel: Annotated[str | None, Field(description="Steel of the string or its core.")] = None
    wrap: Annotated[str | None, Field(description="Metal of the wrap.")] = None
    wrap_gap: Annotated[
        Annotated[float, Number(0, 0.5)] | None,
        Field(description="Space between turns as a part of the pitch."),
    ] = None
    scale: Annotated[Scale | None, Field(description="Sounding length, if not the common one.")] = None
    position: Annotated[
        Place | None, Field(description="Place across the row, if not by the common spacing.")
    ] = None
    pinning_scale: Annotated[
        Annotated[float, Number(0, 5)],
        Field(description="How strongly the walls in its metals are held, over what their materials say."),
    ] = 1.0

    @model_validator(mode="after")
    def _wound(self) -> String:
        if self.core is None and self.wrap is not None:
            raise ValueError(
                "wrap: received without core; give the core's diameter, or drop wrap for a plain string"
            )
        if self.core is None and self.wrap_gap is not None:
            raise ValueError("wrap_gap: received without core; give the core's diameter, or drop it")
        if self.core is not None and self.core > self.gauge - 2 * THINNEST_WRAP + ROUNDING:
            raise ValueError(
                f"core: received {mm(self.core)} in a string of {mm(self.gauge)}; "
                f"write at least {mm(2 * THINNEST_WRAP)} less, or drop core for a plain string"
            )
        return self

    @property
    def wrap_diameter(self) -> float:
        """Diameter of the wrap wire, m; 0 for a plain string."""
        return 0.0 if self.core is None else (self.gauge - self.core) / 2


def plain_mass(diameter: float, density: float = PLAIN_STEEL) -> float:
    """Mass per length of a round wire, kg/m."""
    return density * math.pi / 4 * diameter**2


def wound_mass(
    core: float, wrap: float, gap: float, *, steel_density: float = PLAIN_STEEL, wrap_density: float
) -> float:
    """Mass per length of a core wound once with a round wire, kg/m.

    Parameters
    ----------
    core, wrap : float
        Diameters of the core and of the wrap wire, m.
    gap : float
        Clear space between turns as a part of the pitch.
    """
    pitch = wrap / (1 - gap)
    turn = math.hypot(math.pi * (core + wrap), pitch)
    return plain_mass(core, steel_density) + plain_mass(wrap, wrap_density) * turn / pitch


def tension(unit_mass: float, scale: float, frequency: float) -> float:
    """Tension in newtons of a string of `unit_mass` kg/m, `scale` m long, tuned to `frequency` Hz."""
    return unit_mass * (2 * scale * frequency) ** 2
