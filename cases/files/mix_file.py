"""A mix file: which pickups stand under the same strings, where, and how they are wired together."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations
from typing import Annotated, Any, Literal

from pydantic import Field

from stringflux.geometry.case.controls import Capacitor, Control, Load, Setting, Taper
from stringflux.geometry.case.keys import Printed, Quantity, Table, near
from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.read import read_key
from stringflux.geometry.units import shown

LEAST_APART = 25e-3
"""Nearer than this two pickups are one thing to compute, m: their poles and coils answer each other."""
MOST = 5
OWN = ("volume", "volume_setting", "volume_taper", "tone", "tone_setting", "tone_taper", "tone_capacitor")
"""Keys of [load] that a pickup with its own controls may have otherwise."""

Wiring = Literal["master controls", "own volumes", "own volumes, decoupled"]
Place = Annotated[float, Quantity("length", 5e-3, 1.0)]


class MixPickup(Table):
    """One pickup of a mix."""

    name: Annotated[str, Field(max_length=20, description="What to call it."), Printed()]
    case: Annotated[str, Field(max_length=500, description="A shipped case, or a case file from here.")]
    bridge_distance: Annotated[Place, Field(description="From its x = 0 (a single row) to the bridge.")]
    on: Annotated[bool, Field(strict=True, description="Whether it is switched on.")] = True
    reversed: Annotated[bool, Field(strict=True, description="Its leads exchanged.")] = False
    change: Annotated[dict[str, Any], Field(default_factory=dict, description="Values in place of the case's.")]
    volume: Control | None = None
    volume_setting: Setting | None = None
    volume_taper: Taper | None = None
    tone: Control | None = None
    tone_setting: Setting | None = None
    tone_taper: Taper | None = None
    tone_capacitor: Capacitor | None = None

    def own_controls(self) -> dict[str, Any]:
        """What it has otherwise than [load]."""
        return {key: getattr(self, key) for key in OWN if getattr(self, key) is not None}


class Mixing(Table):
    """How the pickups come together."""

    wiring: Annotated[
        Wiring,
        Field(description="All into one volume and tone; or a volume each, its wiper at the output or the pickup."),
    ] = "master controls"


class MixFile(Table):
    """What a mix file says."""

    title: Annotated[str, Field(max_length=200), Printed()] = ""
    note: Annotated[str, Field(max_length=5000), Printed(lines=True)] = ""
    pickup: tuple[MixPickup, ...]
    mix: Mixing = Mixing()
    load: Load = Load()


def read_mix(data: Mapping[str, Any], name: str) -> MixFile:
    keys = MixFile.model_fields
    if "pickup" not in data and {"row", "pole", "body", "coil"} & set(data):
        raise CaseError(f"this is a case of one pickup, not a mix; in a mix file write [[pickup]] tables with "
                        f'case = "{name}.toml", or compute this one by stringflux predict')
    for key in data:
        if key not in keys:
            raise CaseError(f"{shown(key)} is not a key here{near(key, keys)}; the keys are {', '.join(keys)}")
    pickups = data.get("pickup", [])
    if not isinstance(pickups, list):
        raise CaseError(f"pickup: received {shown(pickups)}; list them by double brackets, as in [[pickup]]")
    if not 2 <= len(pickups) <= MOST:
        raise CaseError(f"pickup: received {len(pickups)}; a mix has 2 to {MOST} [[pickup]] tables, and one pickup "
                        "alone is computed by stringflux impedance and signal")
    read = {key: read_key(MixFile, key, value, where=key) for key, value in data.items() if key != "pickup"}
    read["pickup"] = tuple(read_key(MixFile, "pickup", item, where=f"pickup {i}", item=True)
                           for i, item in enumerate(pickups, start=1))
    return MixFile.model_construct(**read)


def check_mix(file: MixFile) -> None:
    """What can be said without the cases."""
    names = [p.name for p in file.pickup]
    for i, p in enumerate(file.pickup, start=1):
        if not p.name.strip() or not p.name.isprintable():
            raise CaseError(f"pickup {i}, name: received {shown(p.name)}; write a word, for example \"bridge\"")
        if names.count(p.name) > 1:
            raise CaseError(f"pickup {i}, name: {shown(p.name)} is there twice; give each its own")
        if file.mix.wiring == "master controls" and p.own_controls():
            raise CaseError(f'pickup {i}, {next(iter(p.own_controls()))}: with wiring = "master controls" no pickup '
                            "has controls of its own; write it under [load], or take another wiring")
    if file.mix.wiring != "master controls" and file.load.controls == "none":
        raise CaseError(f'load, controls: received "none" with wiring = {shown(file.mix.wiring)}, which needs volume '
                        'controls; write "volume" or "volume and tone"')
    if not any(p.on for p in file.pickup):
        raise CaseError("pickup: all are switched off (on = false), so nothing is heard; switch one on")
    for (i, a), (j, b) in combinations(enumerate(file.pickup, start=1), 2):
        apart = abs(a.bridge_distance - b.bridge_distance)
        if apart < LEAST_APART - 1e-9:
            raise CaseError(too_near(i, j, apart))


def too_near(i: int, j: int, apart: float) -> str:
    """The sentence for pickups i and j, from 1, whose rows stand `apart` m from each other."""
    return (f"pickup {j}, bridge_distance: it stands {apart * 1e3:.4g} mm from pickup {i}; nearer than "
            f"{LEAST_APART * 1e3:g} mm two pickups act on each other, which a mix leaves out: move them apart, or "
            "describe them as one case with two coils")
