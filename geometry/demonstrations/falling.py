"""A magnet that falls, or is moved, through a round coil: the tables of its case file.

The coil's middle is z = 0, its axis is z, up. Heights of the magnet are those of its middle.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, model_validator

from ..case.coil import Overall
from ..case.keys import COUNTER_CLOCKWISE, Number, Printed, Quantity, Table, Way, sense_of
from ..case.wire import Wire, find_wire, most_turns, size_as_text
from ..errors import CaseError
from ..reading.read import read_table
from ..shapes.magnet_state import MagnetState
from ..shapes.row import PartShape, Racetrack
from ..units import ROUNDING, mm
from .uses import require_use

Size = Annotated[float, Quantity("length", 1e-3, 60e-3)]
Long = Annotated[float, Quantity("length", 1e-3, 150e-3)]
Bore = Annotated[float, Quantity("length", 2e-3, 200e-3)]
TubeLength = Annotated[float, Quantity("length", 20e-3, 3.0)]
Height = Annotated[float, Quantity("length", 1e-3, 3.0)]
Level = Annotated[float, Quantity("length", -3.0, 3.0)]
Gap = Annotated[float, Quantity("length", 0.5e-3, 100e-3)]
Speed = Annotated[float, Quantity("speed", 0.01, 20.0)]
Mass = Annotated[float, Quantity("mass", 1e-5, 5.0)]

CLEAR = 0.1e-3
"""Least room between the magnet and what it moves in, m, on each side."""


class DroppedMagnet(Table):
    """The magnet: a round rod along the axis."""

    material: Annotated[str, Field(max_length=60, description="A magnet of `stringflux materials`."), Printed()]
    diameter: Annotated[Size, Field(description="Its diameter.")]
    length: Annotated[Long, Field(description="Its length, along the axis.")]
    down: Annotated[Literal["north", "south"], Field(description="Which end is below.")] = "north"
    charge: Annotated[
        Annotated[float, Number(0.01, 1)], Field(description="How fully it is magnetised.")
    ] = 1.0
    mass: Annotated[Mass | None, Field(description="As weighed; needed for a fall in a tube.")] = None

    def part(self, middle: float) -> PartShape:
        """The magnet with its middle at a height, m."""
        return PartShape(material=self.material, polarity=-1 if self.down == "north" else 1,
                         outline=rectangle(0.0, self.diameter / 2, middle - self.length / 2,
                                           middle + self.length / 2),
                         state=MagnetState(charge=self.charge))


class RoundCoil(Table):
    """The coil, about z = 0."""

    inner_diameter: Annotated[Bore, Field(description="Inside diameter of the winding.")]
    outer_diameter: Annotated[Bore, Field(description="Outside diameter of the winding.")]
    length: Annotated[Long, Field(description="Length of the winding, along the axis.")]
    turns: Annotated[Annotated[float, Number(1, 100000)], Field(description="Number of turns.")]
    wire: Annotated[
        str | None,
        BeforeValidator(size_as_text),
        Field(description="Size of the wire, for the resistance.", examples=["42 AWG", "0.08 mm"]),
    ] = None
    overall_diameter: Annotated[
        Overall | None, Field(description="Over the insulation; needed for sizes that no table here has.")
    ] = None
    winding: Annotated[
        Way, Field(description="Which way the wire goes round from its start to its end, seen from above.")
    ] = COUNTER_CLOCKWISE

    @model_validator(mode="after")
    def _fits(self) -> RoundCoil:
        if self.build < 0.1e-3 - ROUNDING:
            raise ValueError(f"outer_diameter: received {mm(self.outer_diameter)}; write at least 0.2 mm more than "
                             f"inner_diameter, {mm(self.inner_diameter)}")
        wire = self.winding_wire()
        if wire is not None:
            most = most_turns(width=self.build, height=self.length, overall=wire.overall[1])
            if self.turns > most:
                raise ValueError(f"turns: {self.turns:g} of {wire.name} ({mm(wire.overall[1])} over the insulation) "
                                 f"cannot fit a winding of {mm(self.build)} by {mm(self.length)}; write at most "
                                 f"{int(most)} or make the winding larger")
        return self

    @property
    def build(self) -> float:
        """Radial thickness of the winding, m."""
        return round((self.outer_diameter - self.inner_diameter) / 2, 12)

    def winding_wire(self) -> Wire | None:
        """The wire with its diameters, if one is named."""
        if self.wire is None:
            return None
        try:
            return find_wire(self.wire, None, self.overall_diameter)
        except CaseError as error:
            raise ValueError(f"wire: {error}") from None

    def racetrack(self) -> Racetrack:
        """The winding as the solvers see it."""
        return Racetrack(inner_radius=self.inner_diameter / 2, straight=0.0, build=self.build,
                         bottom=-self.length / 2, top=self.length / 2, turns=self.turns,
                         sense=sense_of(self.winding))


class Drop(Table):
    """How the magnet moves: let go from rest, or by hand at a speed."""

    start: Annotated[Height, Field(description="Height of the magnet's middle over the coil's middle at first.")]
    end: Annotated[
        Level | None, Field(description="Height at last, so negative; as far below as it began above if left out.")
    ] = None
    speed: Annotated[
        Speed | None,
        Field(description="By hand: steady through a coil, the greatest of a stroke onto a core. "
                          "Let go, if left out."),
    ] = None
    gap: Annotated[
        Gap | None, Field(description="With a core: how near the magnet's lower end comes to it.")
    ] = None


class Core(Table):
    """A solid steel rod that stands in the coil."""

    material: Annotated[str, Field(max_length=60, description="A steel of `stringflux materials`."), Printed()]
    diameter: Annotated[Size, Field(description="Its diameter.")]
    length: Annotated[Long, Field(description="Its length.")]
    top: Annotated[
        Level | None, Field(description="Height of its upper end over the coil's middle; the coil's if left out.")
    ] = None


class Tube(Table):
    """A tube of metal that the magnet falls in, with the coil round it."""

    material: Annotated[
        str, Field(max_length=60, description="A conductor of `stringflux materials`: copper, aluminium …"), Printed()
    ]
    inner_diameter: Annotated[Bore, Field(description="Inside diameter.")]
    outer_diameter: Annotated[Bore, Field(description="Outside diameter.")]
    length: Annotated[TubeLength, Field(description="Its length.")]
    top: Annotated[
        Level | None,
        Field(description="Height of its upper end over the coil's middle; the coil in its middle if left out."),
    ] = None

    @model_validator(mode="after")
    def _is_a_tube(self) -> Tube:
        if self.outer_diameter - self.inner_diameter < 0.2e-3 - ROUNDING:
            raise ValueError(f"outer_diameter: received {mm(self.outer_diameter)}; write at least 0.2 mm more than "
                             f"inner_diameter, {mm(self.inner_diameter)}")
        return self

    @property
    def upper(self) -> float:
        """Height of its upper end, m."""
        return self.length / 2 if self.top is None else self.top


class FallingMagnet(Table):
    """A magnet, a coil, and how the one moves through the other."""

    title: Annotated[str, Field(max_length=200, description="One line that names the case."), Printed()] = ""
    note: Annotated[str, Field(max_length=5000, description="Anything worth remembering."), Printed(lines=True)] = ""
    magnet: DroppedMagnet
    coil: RoundCoil
    drop: Drop
    core: Annotated[Core | None, Field(description="A steel rod in the coil; the magnet comes to it by hand.")] = None
    tube: Annotated[Tube | None, Field(description="A tube of copper or aluminium that the magnet falls in.")] = None

    @property
    def core_top(self) -> float:
        """Height of the core's upper end, m."""
        core = self.core
        return self.coil.length / 2 if core is None or core.top is None else core.top

    @property
    def nearest(self) -> float:
        """Height of the magnet's middle where it is nearest to the core, m."""
        return self.core_top + (self.drop.gap or 0.0) + self.magnet.length / 2

    @property
    def last(self) -> float:
        """Height of the magnet's middle at the end of its way through the coil, m."""
        return -self.drop.start if self.drop.end is None else self.drop.end

    def core_part(self) -> PartShape:
        """The core as the solvers see it.

        Raises
        ------
        CaseError
            Without a core.
        """
        if self.core is None:
            raise CaseError("core: this case has none; add [core]")
        return PartShape(material=self.core.material,
                         outline=rectangle(0.0, self.core.diameter / 2, self.core_top - self.core.length,
                                           self.core_top))

    @model_validator(mode="after")
    def _goes_together(self) -> FallingMagnet:
        if self.core is not None:
            self._core_fits(self.core)
        elif self.drop.gap is not None:
            raise ValueError("drop, gap: there is no core that it could be the gap to; leave it out or add [core]")
        if self.tube is not None:
            self._tube_fits(self.tube)
        lower, upper = self.drop.start - self.magnet.length / 2, self.coil.length / 2
        if lower < upper - ROUNDING:
            raise ValueError(f"drop, start: at {mm(self.drop.start)} the magnet is in the coil already; write at "
                             f"least {mm(upper + self.magnet.length / 2)}, with which it stands just over it")
        if self.core is None:
            self._passes()
        return self

    def _passes(self) -> None:
        bore, what = self.coil.inner_diameter, "coil, inner_diameter"
        if self.tube is not None:
            bore, what = self.tube.inner_diameter, "tube, inner_diameter"
        if self.magnet.diameter > bore - 2 * CLEAR + ROUNDING:
            raise ValueError(f"magnet, diameter: a magnet of {mm(self.magnet.diameter)} does not pass {what} "
                             f"{mm(bore)}; write at most {mm(bore - 2 * CLEAR)}, or widen the bore")
        through = -(self.coil.length + self.magnet.length) / 2
        if self.last > through + ROUNDING:
            raise ValueError(f"drop, end: at {mm(self.last)} the magnet is still in the coil; write "
                             f"{mm(through)} or lower")

    def _core_fits(self, core: Core) -> None:
        drop, bore = self.drop, self.coil.inner_diameter
        if self.tube is not None:
            raise ValueError("tube: received together with core, which would stop the magnet in it; keep one of them")
        if drop.speed is None:
            raise ValueError("drop, speed: with a core the magnet would strike it; it is moved by hand towards it "
                             'and back, write how fast, such as speed = "0.3 m/s"')
        if drop.gap is None:
            raise ValueError('drop, gap: it is missing; write how near to the core the magnet comes, such as "2 mm"')
        if drop.end is not None:
            raise ValueError("drop, end: with a core the magnet turns over it and comes back; leave end out")
        if core.diameter > bore + ROUNDING:
            raise ValueError(f"core, diameter: received {mm(core.diameter)}, wider than the coil's bore, {mm(bore)}; "
                             "write at most that")
        if self.nearest > drop.start - 1e-3:
            raise ValueError(f"drop, start: received {mm(drop.start)}, but over the core the magnet's middle is at "
                             f"{mm(self.nearest)} already; begin at least 1 mm higher")
        lowest = self.nearest - self.magnet.length / 2
        if lowest < self.coil.length / 2 - ROUNDING and self.magnet.diameter > bore - 2 * CLEAR + ROUNDING:
            raise ValueError(f"magnet, diameter: a magnet of {mm(self.magnet.diameter)} does not go into the coil's "
                             f"bore, {mm(bore)}; raise the core to the coil's upper end, or write a slimmer magnet")

    def _tube_fits(self, tube: Tube) -> None:
        if self.drop.speed is not None:
            raise ValueError("drop, speed: in a tube the magnet finds its own speed; leave speed out")
        if self.magnet.mass is None:
            raise ValueError('magnet, mass: it is missing; weigh the magnet and write it, such as "12 g": its weight '
                             "is what the tube holds against")
        if tube.outer_diameter > self.coil.inner_diameter + ROUNDING:
            raise ValueError(f"tube, outer_diameter: received {mm(tube.outer_diameter)}, wider than the coil's bore, "
                             f"{mm(self.coil.inner_diameter)}; write at most that")


def rectangle(inner: float, outer: float, bottom: float, top: float) -> tuple[tuple[float, float], ...]:
    """Outline (r, z) of a ring, or of a rod from r = 0, m."""
    return tuple((round(r, 12), round(z, 12)) for r, z in
                 ((inner, bottom), (outer, bottom), (outer, top), (inner, top)))


def read_falling(data: Mapping[str, Any], uses: Mapping[str, str]) -> FallingMagnet:
    """Build and check a case.

    Parameters
    ----------
    data : mapping
        Tables and keys as a TOML reader gives them.
    uses : mapping of str to str
        Built-in materials: name → use, "magnet", "soft", "conductor" …

    Raises
    ------
    CaseError
        With the first fault in one sentence.
    """
    case = read_table(FallingMagnet, data)
    require_use(case.magnet.material, "magnet, material", "magnet", "a magnet", uses)
    if case.core is not None:
        require_use(case.core.material, "core, material", "soft", "a steel", uses)
    if case.tube is not None:
        require_use(case.tube.material, "tube, material", "conductor", "a metal that is not magnetic", uses)
    return case
