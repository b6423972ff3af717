"""What hangs on a pickup: its lead, volume and tone controls, cable, amplifier.

A control's setting is its rotation, 0 … 1. The share of the resistance under the wiper is that setting for
a linear taper, and (81^setting − 1)/80, a tenth at half way, for an audio taper.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from .keys import Number, Quantity, Table

Control = Annotated[float, Quantity("resistance", 1e3, 100e6)]
Setting = Annotated[float, Number(0, 1)]
Taper = Literal["audio", "linear"]
Capacitor = Annotated[float, Quantity("capacitance", 1e-12, 10e-6)]
Stray = Annotated[float, Quantity("capacitance", 0.0, 100e-9)]
Length = Annotated[float, Quantity("length", 0.0, 100.0)]
LeadLength = Annotated[float, Quantity("length", 0.0, 10.0)]
PerLength = Annotated[float, Quantity("capacitance of cable", 0.0, 10e-9)]
Input = Annotated[float, Quantity("resistance", 1e3, 1e9)]


class Lead(Table):
    """The pickup's own lead, from its coils to the controls or the switch; a meter at its end sees it as well."""

    length: Annotated[
        LeadLength, Field(description="Length of the lead, up to where it is measured or soldered.")
    ] = 0.0
    capacitance: Annotated[
        PerLength, Field(description="Of its hot conductor to ground or screen, per length, as its maker gives it.")
    ] = 0.0

    @model_validator(mode="after")
    def _whole(self) -> Lead:
        for key, other in (("length", "capacitance"), ("capacitance", "length")):
            if other in self.model_fields_set and key not in self.model_fields_set:
                raise ValueError(f"{key}: it is missing beside {other}; write both, such as length = \"0.3 m\" and "
                                 "capacitance = \"150 pF/m\"")
        return self

    @property
    def farads(self) -> float:
        """What it has at the pickup's terminals, F."""
        return self.length * self.capacitance


class Load(Table):
    """Controls, cable and amplifier; what is left out has a common value."""

    controls: Annotated[
        Literal["volume and tone", "volume", "none"], Field(description="Which controls there are.")
    ] = "volume and tone"
    volume: Annotated[Control, Field(description="Resistance of the volume control.")] = 250e3
    volume_setting: Annotated[Setting, Field(description="Rotation of the volume control, 0 to 1.")] = 1.0
    volume_taper: Annotated[Taper, Field(description="Taper of the volume control.")] = "audio"
    tone: Annotated[Control, Field(description="Resistance of the tone control.")] = 250e3
    tone_setting: Annotated[Setting, Field(description="Rotation of the tone control; 1 is bright.")] = 1.0
    tone_taper: Annotated[Taper, Field(description="Taper of the tone control.")] = "audio"
    tone_capacitor: Annotated[
        Capacitor, Field(description="In series with the tone control, at the pickup's side of the volume.")
    ] = 22e-9
    cable_length: Annotated[Length, Field(description="Length of the cable to the amplifier.")] = 4.5
    cable_capacitance: Annotated[PerLength, Field(description="Capacitance of the cable per length.")] = 100e-12
    input_resistance: Annotated[Input, Field(description="Input resistance of the amplifier.")] = 1e6
    input_capacitance: Annotated[Stray, Field(description="Input capacitance of the amplifier.")] = 20e-12

    def volume_share(self) -> float:
        """Share of the volume control's resistance under its wiper."""
        return taper_share(self.volume_setting, self.volume_taper)

    def tone_share(self) -> float:
        """Share of the tone control's resistance that is in series with its capacitor."""
        return taper_share(self.tone_setting, self.tone_taper)


def taper_share(setting: float, taper: Taper) -> float:
    """Share of a control's resistance under its wiper at a rotation 0 … 1.

    Examples
    --------
    >>> taper_share(0.5, "audio"), taper_share(0.5, "linear")
    (0.1, 0.5)
    """
    return setting if taper == "linear" else (81.0**setting - 1) / 80
