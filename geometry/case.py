"""The case: one frozen record that is both the schema of the file and the program's own geometry, in SI."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import Field, ValidationInfo, model_validator

from . import checks
from .coil import Coil
from .fields import Quantity, Table
from .load import Load
from .own_materials import OwnMaterial, OwnStringSteel
from .poles import Pole, Row, centred
from .scatter import Scatter
from .shapes import PlacedPole, PoleShape, Racetrack, StringShape
from .strings import DENSITIES, PLAIN_STEEL, String, Strings, plain_mass, tension, wound_mass

Probe = Annotated[float, Quantity("length", 0.0, 20e-3)]


class Case(Table):
    """A pickup and the strings over it.

    Quantities are text with units in the file and SI numbers here.
    """

    title: Annotated[str, Field(max_length=200, description="One line that names the case.")] = ""
    note: Annotated[str, Field(max_length=5000, description="Anything worth remembering.")] = ""
    probe_height: Annotated[
        Probe, Field(description="Height over each pole's face at which its field is reported.")
    ] = 0.5e-3
    row: Annotated[Row, Field(description="Where the poles stand.")]
    pole: Annotated[
        tuple[Pole, ...], Field(min_length=1, max_length=12, description="How the poles are made.")
    ]
    coil: Annotated[Coil, Field(description="Window, wire and turns.")]
    strings: Annotated[Strings, Field(description="What the strings have in common.")] = Strings()
    string: Annotated[
        tuple[String, ...],
        Field(min_length=1, max_length=12, description="The strings, in order along the row."),
    ]
    load: Annotated[Load, Field(description="Controls, cable and amplifier.")] = Load()
    scatter: Annotated[Scatter, Field(description="How far parts scatter, for `stringflux tolerance`.")] = Scatter()
    materials: Annotated[
        dict[str, OwnMaterial],
        Field(default_factory=dict, max_length=50, description="Materials of your own."),
    ]

    @model_validator(mode="after")
    def _possible(self, info: ValidationInfo) -> Case:
        checks.every_pole_is_made_once(self)
        checks.materials_are_known(self, (info.context or {}).get("materials"))
        checks.strings_are_complete(self)
        poles, coil = self.placed_poles(), self.racetrack()
        checks.poles_stand_clear(poles)
        checks.coil_clears_poles(poles, coil)
        checks.strings_lie_clear(self, poles, coil)
        return self

    @property
    def history(self) -> Literal["before", "after"]:
        """Whether the magnets were charged "before" or "after" they came into the row."""
        return "before" if self.row.history == "charged before assembly" else "after"

    def pole_numbers(self, entry: int) -> tuple[int, ...]:
        """Numbers (from 1) of the poles made like the `entry`-th (from 0) item of `pole`."""
        at = self.pole[entry].at
        if at is not None:
            return at
        named = {n for pole in self.pole for n in pole.at or ()}
        return tuple(n for n in range(1, len(self.row.places()) + 1) if n not in named)

    def placed_poles(self) -> tuple[PlacedPole, ...]:
        """The poles in their order along the row; equal poles share one shape."""
        shapes: dict[int, PoleShape] = {}
        for entry, pole in enumerate(self.pole):
            shape = pole.pole_shape()
            shapes.update(dict.fromkeys(self.pole_numbers(entry), shape))
        places = zip(self.row.places(), self.row.faces(), strict=True)
        return tuple(
            PlacedPole(y=y, face=face, shape=shapes[n]) for n, (y, face) in enumerate(places, start=1)
        )

    def racetrack(self) -> Racetrack:
        """The winding space."""
        return self.coil.racetrack()

    def string_places(self) -> tuple[float, ...]:
        """Place of each string across the row, m."""
        count = len(self.string)
        if self.strings.spacing is not None:
            common = centred(count, self.strings.spacing)
        elif count == len(self.row.places()):
            common = self.row.places()
        else:
            common = (math.nan,) * count  # then every string has its own, or the case was refused
        return tuple(
            y if s.position is None else s.position for s, y in zip(self.string, common, strict=True)
        )

    def nearest_poles(self) -> tuple[int, ...]:
        """For each string the index (from 0) of the pole it belongs to."""
        places = self.row.places()
        return tuple(min(range(len(places)), key=lambda i: abs(places[i] - y)) for y in self.string_places())

    def undersides(self) -> tuple[float, ...]:
        """Height of each string's underside at rest over the top plate, above x = 0, in m."""
        faces = self.row.faces()
        return tuple(
            self._underside(s, y, faces[p])
            for s, y, p in zip(self.string, self.string_places(), self.nearest_poles(), strict=True)
        )

    def _underside(self, string: String, y: float, face: float) -> float:
        common = self.strings
        rule = string if string.rules() else common
        if rule.gap is not None:
            return face + rule.gap
        if rule.fretted_gap is not None:
            return face + rule.fretted_gap + self.fretting_drop(string)
        height = rule.height or 0.0
        if rule is common and common.fingerboard_radius is not None:
            highest = min(self._sag(place) for place in self.string_places())
            height -= self._sag(y) - highest
        return height

    def _sag(self, y: float) -> float:
        """How far the arc of the fingerboard lies below its crown (y = 0) at `y`, m."""
        radius = self.strings.fingerboard_radius or math.inf
        return y**2 / (radius + math.sqrt(radius**2 - y**2)) if math.isfinite(radius) else 0.0

    def fretting_drop(self, string: String) -> float:
        """How much lower the string lies over the row when it is held down at the last fret, m.

        Open and fretted string are two lines through the bridge; over the last fret they are `action` apart.
        """
        common = self.strings
        scale = string.scale or common.scale or 0.0
        fret_to_bridge = scale * 2 ** (-(common.last_fret or 1) / 12)
        return (common.action or 0.0) * (common.bridge_distance or 0.0) / fret_to_bridge

    def string_shapes(self) -> tuple[StringShape, ...]:
        """The strings at rest, in their order in the file."""
        slope = math.tan(self.strings.plane_angle)
        shapes = []
        for string, y, low in zip(self.string, self.string_places(), self.undersides(), strict=True):
            wound = string.core is not None
            shapes.append(
                StringShape(
                    y=y,
                    # low is measured down from the axis; at these slopes the cosine is 1 within 0.14 %
                    axis_height=low + string.gauge / 2,
                    core_radius=(string.core or string.gauge) / 2,
                    wrap_diameter=string.wrap_diameter,
                    wrap_gap=self._wrap_gap(string) if wound else 0.0,
                    steel=string.steel or self.strings.steel,
                    wrap=(string.wrap or self.strings.wrap) if wound else "",
                    slope=slope,
                )
            )
        return tuple(shapes)

    def _wrap_gap(self, string: String) -> float:
        return self.strings.wrap_gap if string.wrap_gap is None else string.wrap_gap

    def frequencies(self) -> tuple[float, ...]:
        """Pitch of each open string, Hz."""
        return tuple(s.pitch for s in self.string)

    def scales(self) -> tuple[float, ...]:
        """Sounding length of each open string, m."""
        return tuple(s.scale or self.strings.scale or 0.0 for s in self.string)

    def unit_masses(self) -> tuple[float, ...]:
        """Mass per length of each string, kg/m."""
        masses = []
        for string, shape in zip(self.string, self.string_shapes(), strict=True):
            steel = self._density(shape.steel)
            if not shape.wrap:
                masses.append(plain_mass(string.gauge, steel))
                continue
            masses.append(
                wound_mass(
                    2 * shape.core_radius,
                    shape.wrap_diameter,
                    shape.wrap_gap,
                    steel_density=steel,
                    wrap_density=self._density(shape.wrap),
                )
            )
        return tuple(masses)

    def _density(self, name: str) -> float:
        own = self.materials.get(name)
        return own.density if isinstance(own, OwnStringSteel) else DENSITIES.get(name, PLAIN_STEEL)

    def tensions(self) -> tuple[float, ...]:
        """Tension of each string at its pitch, N."""
        return tuple(
            tension(m, l, f)
            for m, l, f in zip(self.unit_masses(), self.scales(), self.frequencies(), strict=True)
        )
