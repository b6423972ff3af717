"""The coil of a case: a race-track window and its winding."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, model_validator

from ..errors import CaseError
from ..shapes.coil_path import path_coil
from ..shapes.row import Racetrack
from ..units import ROUNDING, mm
from .keys import COUNTER_CLOCKWISE, Number, OneOrMany, Printed, Quantity, Table, Way, sense_of
from .wire import Wire, find_wire, most_turns, size_as_text

Width = Annotated[float, Quantity("length", 0.5e-3, 100e-3)]
Length = Annotated[float, Quantity("length", 0.5e-3, 300e-3)]
Build = Annotated[float, Quantity("length", 0.1e-3, 50e-3)]
Wound = Annotated[float, Quantity("length", 0.01e-3, 50e-3)]
Rise = Annotated[float, Quantity("length", 0.0, 90e-3)]
Level = Annotated[float, Quantity("length", -150e-3, 150e-3)]
Centre = Annotated[float, Quantity("length", -150e-3, 150e-3)]
Corner = Annotated[float, Quantity("length", 0.0, 150e-3)]
Overall = Annotated[float, Quantity("length", 0.01e-3, 2e-3)]
Resistance = Annotated[float, Quantity("resistance", 0.01, 1e6)]
Current = Annotated[float, Quantity("current", -100.0, 100.0)]
Capacitance = Annotated[float, Quantity("capacitance", 0.01e-12, 100e-9)]

THINNEST_WINDOW = 0.3e-3
LEAST_STEP = 0.1e-3
DENSEST = math.pi / (2 * math.sqrt(3))
"""Of circles in a plane."""


class WoundBuild(Table):
    """How thick a winding lies at one height."""

    height: Annotated[Rise, Field(description="Height over the lower edge of the winding.")]
    build: Annotated[Wound, Field(description="Thickness of the winding there, on one side.")]


class Leads(Table):
    """What the two leads of a coil look like, in the winder's own words."""

    start: Annotated[
        Annotated[str, Field(max_length=40), Printed()], Field(description="The lead at the start, inside.")
    ] = ""
    finish: Annotated[
        Annotated[str, Field(max_length=40), Printed()], Field(description="The lead at the finish, outside.")
    ] = ""


class Coil(Table):
    """A race-track coil; without `inner_length` a round one; with `path` on any closed path."""

    inner_width: Annotated[
        Width | None, Field(description="Inside width, along the strings; needed but with path.")
    ] = None
    inner_length: Annotated[
        Length | None,
        Field(description="Inside length over all, across the strings; inner_width if left out."),
    ] = None
    path: Annotated[
        tuple[tuple[Centre, Centre], ...],
        Field(max_length=40, description="In place of inner_width and inner_length: the corners [x, y] of its inside "
              "in order round it, from the coil's middle; it then needs build."),
    ] = ()
    corner: Annotated[
        tuple[Corner, ...],
        OneOrMany(),
        Field(max_length=40, description="Radius of the corners of path on the inside, one for all or one each; "
              "sharp if left out, and turns go round them in arcs."),
    ] = ()
    outer_width: Annotated[Length | None, Field(description="Outside width; or give build.")] = None
    build: Annotated[
        Build | None, Field(description="Thickness of the window, the room for the winding, on one side.")
    ] = None
    bottom: Annotated[
        Level, Field(description="Lower edge of the winding, over the top plate (so negative).")
    ]
    top: Annotated[Level, Field(description="Upper edge of the winding, over the top plate.")]
    turns: Annotated[Annotated[float, Number(1, 100000)], Field(description="Number of turns.")]
    wire: Annotated[
        str, BeforeValidator(size_as_text), Field(description="Size of the wire.", examples=["42 AWG", "0.063 mm"])
    ]
    insulation: Annotated[
        Literal["single", "heavy", "grade 1", "grade 2"] | None,
        Field(
            description="Build of the insulation; single for AWG and grade 1 for metric sizes if left out."
        ),
    ] = None
    overall_diameter: Annotated[
        Overall | None, Field(description="Measured diameter over the insulation; replaces the tables.")
    ] = None
    fill: Annotated[
        Annotated[float, Number(0.2, 0.9069)] | None,
        Field(description="Copper and insulation over the section that the winding takes; it then takes the inner "
              "part of its window. Without it, wound_build and wound_builds it fills the window evenly."),
    ] = None
    wound_build: Annotated[
        Wound | None,
        Field(description="Thickness of the winding on one side as measured, of which build is the room for it."),
    ] = None
    wound_builds: Annotated[
        tuple[WoundBuild, ...],
        Field(max_length=40, description="The same where it changes along the height, tapered, bellied or waisted: "
              "heights and builds from the lower edge up, straight between."),
    ] = ()
    winding: Annotated[
        Way, Field(description="Which way the wire goes round from its start, seen from the strings.")
    ] = COUNTER_CLOCKWISE
    centre: Annotated[Centre, Field(description="Place of the coil's middle across the strings.")] = 0.0
    x: Annotated[
        Centre | None,
        Field(description="Place of the coil's middle along the strings; that of its row if left out."),
    ] = None
    resistance: Annotated[
        Resistance | None, Field(description="DC resistance as measured at 20 °C; replaces the computed one.")
    ] = None
    capacitance: Annotated[
        Capacitance | None,
        Field(description="Capacitance of the winding as measured; replaces the computed one."),
    ] = None
    core: Annotated[
        Literal["air"] | None,
        Field(description="What the coil goes round, if that is nothing magnetic: an air coil, such as a dummy coil "
              "against hum."),
    ] = None
    direct_current: Annotated[
        Current | None,
        Field(description="A steady current through the coil, from its start to its finish; it makes a field as "
              "magnets do. By the 3-D solver."),
    ] = None
    potted: Annotated[
        Literal["wax", "epoxy"] | None,
        Field(description="What fills the winding, if it is potted; it raises the capacitance."),
    ] = None
    grounded_end: Annotated[
        Literal["inner", "outer"],
        Field(description="Which end of its wire lies at ground: where the winding begins, or where it ends."),
    ] = "inner"
    poles: Annotated[
        Literal["floating", "grounded"],
        Field(description="Whether poles and bodies by the coil are grounded; covers are. For the capacitance."),
    ] = "floating"
    leads: Annotated[
        Leads | None, Field(description="Colours of the leads, for the winding sheet; no code is assumed.")
    ] = None
    taps: Annotated[
        tuple[Annotated[float, Number(1, 100000)], ...],
        Field(max_length=10, description="Turns, counted from the inside, at which the coil is tapped."),
    ] = ()
    name: Annotated[
        Annotated[str, Field(min_length=1, max_length=40), Printed()] | None,
        Field(description='What it is called; "coil" if left out.'),
    ] = None

    @model_validator(mode="after")
    def _fits(self) -> Coil:
        if self.path or self.inner_width is None:
            self._has_a_path()
        elif self.corner:
            raise ValueError("corner: received without path, whose corners it rounds; a race-track has half circles "
                             "at its ends")
        if self.inner_length is not None and self.inner_width and self.inner_length < self.inner_width:
            raise ValueError(
                f"inner_length: received {mm(self.inner_length)}, less than inner_width "
                f"{mm(self.inner_width)}; write the longer side here, or leave it out for a round coil"
            )
        if (self.outer_width is None) == (self.build is None):
            what = "it is missing" if self.build is None else "received together with build"
            raise ValueError(f"outer_width: {what}; give either outer_width or build")
        if self.thickness < 0.1e-3:
            raise ValueError(
                f"outer_width: received {mm(self.outer_width or 0.0)}; write at least 0.2 mm more than "
                f"inner_width, {mm(self.inner_width or 0.0)}"
            )
        if self.top - self.bottom < THINNEST_WINDOW - ROUNDING:
            raise ValueError(
                f"top: received {mm(self.top)}, with bottom at {mm(self.bottom)}; write a "
                f"height at least {mm(THINNEST_WINDOW)} above bottom"
            )
        for tap in self.taps:
            if tap >= self.turns:
                raise ValueError(f"taps: received {tap:g}; write less than turns, {self.turns:g}")
        try:
            wire = self.winding_wire()
        except CaseError as error:
            raise ValueError(f"wire: {error}") from None
        most = most_turns(width=self.thickness, height=self.top - self.bottom, overall=wire.overall[1])
        if self.turns > most:
            raise ValueError(
                f"turns: {self.turns:g} of {wire.name} ({mm(wire.overall[1])} over the insulation) cannot "
                f"fit a window of {mm(self.thickness)} by {mm(self.top - self.bottom)}; "
                f"write at most {int(most)} or enlarge the window"
            )
        self._lies(wire)
        if self.path:
            try:
                self.racetrack()
            except CaseError as error:
                raise ValueError(str(error)) from None
        return self

    def _has_a_path(self) -> None:
        """Refuse a path with what belongs to race-tracks, or neither."""
        if not self.path:
            raise ValueError("inner_width: it is missing; write it, with inner_length for a coil that is not round, "
                             "or the corners of its inside as path")
        for key in ("inner_width", "inner_length", "outer_width"):
            if getattr(self, key) is not None:
                raise ValueError(f"{key}: received together with path, which says the inside of the winding; keep "
                                 "one of them, and write build for its thickness")
        if self.build is None:
            raise ValueError("build: it is missing; a coil with a path needs the thickness of its window")
        if self.wound_builds:
            raise ValueError("wound_builds: received together with path, whose winding is as thick everywhere; write "
                             "wound_build")
        if len(self.corner) not in (0, 1, len(self.path)):
            raise ValueError(f"corner: received {len(self.corner)} for the {len(self.path)} corners of path; write "
                             "one for all, or one each")

    def _lies(self, wire: Wire) -> None:
        """Refuse turns that do not lie in what `fill` or `wound_build` say of them."""
        height = self.top - self.bottom
        said = [key for key, value in (("fill", self.fill), ("wound_build", self.wound_build),
                                       ("wound_builds", self.wound_builds or None)) if value is not None]
        if len(said) > 1:
            raise ValueError(f"{said[0]}: received together with {said[1]}, which says as much; leave one of them "
                             "out")
        if self.wound_builds:
            self._lies_along(wire)
        if self.fill is not None and self.wound > self.thickness + ROUNDING:
            most = self.turns * self.thickness / self.wound
            raise ValueError(
                f"turns: {self.turns:g} of {wire.name} at a fill of {self.fill:g} are {mm(round(self.wound, 6))} "
                f"thick, and the window has {mm(self.thickness)}; write at most {int(most)}, a larger fill, or "
                "enlarge the window"
            )
        if self.wound_build is None:
            return
        if self.wound_build > self.thickness + ROUNDING:
            raise ValueError(
                f"wound_build: received {mm(self.wound_build)}, more than the window's {mm(self.thickness)}; write "
                "the winding as measured on one side, or enlarge the window"
            )
        least = max(self.turns * wire.overall[1] ** 2 * math.pi / 4 / DENSEST / height, wire.overall[0])
        if self.wound_build < least - ROUNDING:
            raise ValueError(
                f"wound_build: received {mm(self.wound_build)}, but {self.turns:g} of {wire.name} take at least "
                f"{mm(round(least, 6))} at {mm(height)} of height; measure again, or check turns and wire"
            )

    def _lies_along(self, wire: Wire) -> None:
        """Refuse builds along the height in which the turns do not lie."""
        height, builds = self.top - self.bottom, self.wound_builds
        if len(builds) < 2:
            raise ValueError("wound_builds: received one height; write two or more, or wound_build for the same "
                             "thickness everywhere")
        for i, (below, this) in enumerate(pairwise(builds), start=2):
            if this.height < below.height + LEAST_STEP - ROUNDING:
                raise ValueError(
                    f"wound_builds: item {i} has the height {mm(this.height)}, after {mm(below.height)}; write them "
                    f"from the lower edge up, at least {mm(LEAST_STEP)} from each other")
        for i, this in enumerate(builds, start=1):
            if this.height > height + ROUNDING:
                raise ValueError(f"wound_builds: item {i} has the height {mm(this.height)} over the winding's lower "
                                 f"edge, and the winding is {mm(height)} high; heights count from its lower edge")
            if this.build > self.thickness + ROUNDING:
                raise ValueError(f"wound_builds: item {i} has the build {mm(this.build)}, more than the window's "
                                 f"{mm(self.thickness)}; write the winding as measured on one side, or enlarge the "
                                 "window")
            if this.build < wire.overall[0] - ROUNDING:
                raise ValueError(f"wound_builds: item {i} has the build {mm(this.build)}, less than one wire of "
                                 f"{mm(wire.overall[0])}; end the winding there by bottom or top")
        least = self.turns * wire.overall[1] ** 2 * math.pi / 4 / DENSEST
        if self.wound_area < least * (1 - 1e-9):
            raise ValueError(
                f"wound_builds: these builds are {self.wound_area * 1e6:.4g} mm² of section, but {self.turns:g} of "
                f"{wire.name} take at least {least * 1e6:.4g} mm²; measure again, or check turns and wire")

    @property
    def wound_area(self) -> float:
        """Section of the winding on one side, m²."""
        return self.racetrack().area

    @property
    def wound(self) -> float:
        """Radial thickness that the winding has, from the inside of the window on, m, at least that of one wire; the
        greatest one where it changes along the height."""
        if self.wound_builds:
            return max(b.build for b in self.wound_builds)
        if self.wound_build is not None:
            return self.wound_build
        if self.fill is None:
            return self.thickness
        wire = self.winding_wire().overall[1]
        taken = self.turns * math.pi / 4 * wire**2 / (self.fill * (self.top - self.bottom))
        return round(max(taken, wire), 12)

    @property
    def moves_with_turns(self) -> bool:
        """Whether other turns take another space, so that L is not N² and R not N times that of one."""
        return self.fill is not None or self.wound_build is not None or bool(self.wound_builds)

    def of_turns(self, turns: float) -> Coil:
        """The same coil wound on, or not so far: a measured thickness grows alike, a measured resistance by its wire.

        Whether the turns fit is not looked at.
        """
        wire = self.winding_wire().overall[1]
        build = self.wound_build and max(round(self.wound_build * turns / self.turns, 12), wire)
        taps = tuple(tap for tap in self.taps if tap < turns)
        builds = tuple(b.model_copy(update={"build": max(round(b.build * turns / self.turns, 12), wire)})
                       for b in self.wound_builds)
        made = self.model_copy(update={"turns": float(turns), "taps": taps, "wound_build": build,
                                       "wound_builds": builds})
        if self.resistance is not None:
            more = turns * made.mean_turn / (self.turns * self.mean_turn)
            made = made.model_copy(update={"resistance": self.resistance * more})
        return made

    def inside(self, turns: float) -> Coil:
        """What of the coil lies inside a tap at so many turns, as dense as all of it."""
        known = self.fill is not None or self.wound_builds
        whole = self if known else self.model_copy(update={"wound_build": self.wound})
        return whole.of_turns(turns).model_copy(update={"taps": (), "capacitance": None})

    @property
    def mean_turn(self) -> float:
        """Length of the mean turn, m."""
        track = self.racetrack()
        return 2 * track.straight + 2 * math.pi * track.mean_radius

    @property
    def thickness(self) -> float:
        """Radial thickness of the window, the room for the winding, m."""
        if self.build is not None:
            return self.build
        return round(((self.outer_width or 0.0) - (self.inner_width or 0.0)) / 2, 12)

    def winding_wire(self) -> Wire:
        """The wire with its diameters from the tables."""
        return find_wire(self.wire, self.insulation, self.overall_diameter)

    def racetrack(self, x: float = 0.0) -> Racetrack:
        """What the winding takes as the solver sees it, a :class:`.PathCoil` where it has a path; `x` counts where
        the coil has no place of its own."""
        width = self.inner_width or 0.0
        if self.path:
            radii = self.corner * len(self.path) if len(self.corner) == 1 else self.corner or (0.0,) * len(self.path)
            return path_coil(self.path, radii, build=self.wound, bottom=self.bottom, top=self.top, turns=self.turns,
                             sense=sense_of(self.winding), x=x if self.x is None else self.x, y=self.centre)
        length = width if self.inner_length is None else self.inner_length
        return Racetrack(
            inner_radius=width / 2,
            straight=round(length - width, 12),
            build=self.wound,
            bottom=self.bottom,
            top=self.top,
            builds=self._builds(),
            turns=self.turns,
            sense=sense_of(self.winding),
            y_centre=self.centre,
            x_centre=x if self.x is None else self.x,
        )

    def _builds(self) -> tuple[tuple[float, float], ...]:
        """The thickness from the lower to the upper edge; () where it is the same everywhere."""
        made = [(round(self.bottom + b.height, 12), b.build) for b in self.wound_builds]
        if not made or len({build for _, build in made}) == 1:
            return ()
        made[-1] = (min(made[-1][0], self.top), made[-1][1])  # what rounding put over it
        if made[0][0] > self.bottom + ROUNDING:
            made.insert(0, (self.bottom, made[0][1]))
        if made[-1][0] < self.top - ROUNDING:
            made.append((self.top, made[-1][1]))
        return ((self.bottom, made[0][1]), *made[1:-1], (self.top, made[-1][1]))
