"""A toothed wheel that turns past a sensor, a bar magnet with a coil: the tables of its case file.

The sensor's face is z = 0 and its body lies below; the wheel turns above, its axis lies along y. All of it is so long
along y as `length` says.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import pi
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from ..case.keys import COUNTER_CLOCKWISE, Number, Printed, Quantity, Table, Way, sense_of
from ..reading.read import read_table
from ..shapes.section import CoilSides, PlanePart, box
from ..shapes.tooth_wheel import WheelBuild, WheelSensor, WheelShape
from ..units import ROUNDING, mm
from .uses import require_use

Pitch = Annotated[float, Quantity("length", 1e-3, 60e-3)]
Module = Annotated[float, Quantity("length", 0.3e-3, 20e-3)]
Diameter = Annotated[float, Quantity("length", 10e-3, 600e-3)]
Bore = Annotated[float, Quantity("length", 1e-3, 500e-3)]
Side = Annotated[float, Quantity("length", 0.5e-3, 60e-3)]
Long = Annotated[float, Quantity("length", 0.5e-3, 200e-3)]
Gap = Annotated[float, Quantity("length", 0.1e-3, 30e-3)]
Level = Annotated[float, Quantity("length", -200e-3, 0.0)]
Share = Annotated[float, Number(0.05, 0.95)]
Turns = Annotated[float, Number(0.1, 100000)]

TIMES = (0.5, 0.75, 1.0, 1.5, 2.0)
"""The gaps of a case that names none, over its own."""
_LEAST_RIM = 0.5  # of the tooth's height: what is left between floor and bore


class ToothedWheel(Table):
    """The wheel. Widths are shares of the pitch, which is counted along the circle over the teeth."""

    teeth: Annotated[Annotated[int, Number(4, 200, whole=True)], Field(description="Number of teeth.")]
    outer_diameter: Annotated[Diameter | None, Field(description="Over the teeth; or give module or pitch.")] = None
    module: Annotated[
        Module | None, Field(description="As of gears: the wheel is module · (teeth + 2) over the teeth.")
    ] = None
    pitch: Annotated[Pitch | None, Field(description="From tooth to tooth along the outer circle.")] = None
    tooth_height: Annotated[
        Annotated[float, Number(0.05, 1.5)], Field(description="Of a tooth, as a share of the pitch.")
    ]
    tooth_top: Annotated[Share, Field(description="Width of a tooth's top, as a share of the pitch.")]
    floor: Annotated[
        Share, Field(description="Width of the floor between two teeth; what is left goes to the two flanks.")
    ]
    steel: Annotated[str, Field(max_length=60, description="A steel of `stringflux materials`."), Printed()]
    bore: Annotated[Bore | None, Field(description="Diameter of the bore; a full disc if left out.")] = None

    @model_validator(mode="after")
    def _can_be(self) -> ToothedWheel:
        given = [key for key in ("outer_diameter", "module", "pitch") if getattr(self, key) is not None]
        if len(given) != 1:
            what = "it is missing" if not given else f"received together with {given[1]}"
            raise ValueError(f"{given[0] if given else 'outer_diameter'}: {what}; give one of outer_diameter, module "
                             "and pitch")
        if self.tooth_top + self.floor > 1 + 1e-9:
            raise ValueError(f"tooth_top: {self.tooth_top:g} and floor {self.floor:g} are more than the pitch "
                             "together; write shares whose sum is at most 1")
        if not 5e-3 - ROUNDING <= self.radius <= 300e-3 + ROUNDING:
            raise ValueError(f"{given[0]}: with {self.teeth} teeth the wheel would be {mm(2 * self.radius)} over the "
                             "teeth; write what makes it 10 mm to 600 mm")
        height = self.shape().height
        inner = 0.0 if self.bore is None else self.bore / 2
        if self.radius - height - inner < _LEAST_RIM * height - ROUNDING:
            key, other = ("bore", "a smaller bore") if self.bore else ("tooth_height", "less")
            got = mm(self.bore) if self.bore else f"{self.tooth_height:g}"
            raise ValueError(f"{key}: received {got}, which leaves no rim under teeth of {mm(height)} on a wheel of "
                             f"{mm(2 * self.radius)}; write {other}")
        return self

    @property
    def radius(self) -> float:
        """Over the teeth, m."""
        if self.outer_diameter is not None:
            return self.outer_diameter / 2
        if self.module is not None:
            return self.module * (self.teeth + 2) / 2
        return (self.pitch or 0.0) * self.teeth / (2 * pi)

    def shape(self) -> WheelShape:
        """The wheel as the solver sees it."""
        radius = round(self.radius, 12)
        return WheelShape(teeth=self.teeth, radius=radius, height=self.tooth_height * 2 * pi * radius / self.teeth,
                          top=self.tooth_top, floor=self.floor, bore=(self.bore or 0.0) / 2, material=self.steel)


class PolePiece(Table):
    """A soft bar between the magnet and the wheel."""

    steel: Annotated[str, Field(max_length=60, description="A steel of `stringflux materials`."), Printed()]
    width: Annotated[Side, Field(description="Along the wheel's way.")]
    length: Annotated[Long, Field(description="From the magnet to the face.")]


class BarMagnet(Table):
    """The sensor's magnet: a bar that points to the wheel."""

    magnet: Annotated[str, Field(max_length=60, description="A magnet of `stringflux materials`."), Printed()]
    width: Annotated[Side, Field(description="Along the wheel's way.")]
    length: Annotated[Long, Field(description="Along its magnetisation.")]
    towards_wheel: Annotated[Literal["north", "south"], Field(description="Which end points to the wheel.")] = "north"
    pole_piece: Annotated[PolePiece | None, Field(description="A soft bar before it.")] = None

    @property
    def before(self) -> float:
        """From the face to the magnet, m."""
        return 0.0 if self.pole_piece is None else self.pole_piece.length

    def bars(self) -> tuple[PlanePart, ...]:
        """Magnet and pole piece as the solver sees them."""
        up = 1.0 if self.towards_wheel == "north" else -1.0
        top = -self.before
        bars = [PlanePart(material=self.magnet, magnetisation=(0.0, up), outline=_bar(self.width, self.length, top))]
        if self.pole_piece is not None:
            piece = self.pole_piece
            bars.append(PlanePart(material=piece.steel, outline=_bar(piece.width, piece.length, 0.0)))
        return tuple(bars)


class BarCoil(Table):
    """The coil round the pole piece or the magnet."""

    inner_width: Annotated[Side, Field(description="Inside width, along the wheel's way.")]
    build: Annotated[Side, Field(description="Thickness of the winding on one side.")]
    bottom: Annotated[Level, Field(description="Lower edge of the winding, counted from the face (so negative).")]
    top: Annotated[Level, Field(description="Upper edge of the winding, counted from the face.")]
    turns: Annotated[Annotated[float, Number(1, 100000)], Field(description="Number of turns.")]
    winding: Annotated[
        Way, Field(description="Which way the wire goes round from its start to its finish, seen from the wheel.")
    ] = COUNTER_CLOCKWISE

    @model_validator(mode="after")
    def _stands(self) -> BarCoil:
        if self.top - self.bottom < 0.3e-3 - ROUNDING:
            raise ValueError(f"top: received {mm(self.top)}, with bottom at {mm(self.bottom)}; write a height at "
                             "least 0.3 mm above bottom")
        return self

    def sides(self) -> CoilSides:
        """As the solver sees it."""
        return CoilSides(inner=self.inner_width / 2, build=self.build, bottom=self.bottom, top=self.top,
                         turns=sense_of(self.winding) * self.turns)


class Turning(Table):
    """How fast the wheel turns."""

    speeds: Annotated[
        tuple[Turns, ...],
        Field(min_length=1, max_length=6, description="Turns a minute; the first one is shown moving."),
    ]


class ToothWheel(Table):
    """A wheel, a sensor and the gap between them."""

    title: Annotated[str, Field(max_length=200, description="One line that names the case."), Printed()] = ""
    note: Annotated[str, Field(max_length=5000, description="Anything worth remembering."), Printed(lines=True)] = ""
    gap: Annotated[Gap, Field(description="Between a tooth's top and the face.")]
    gaps: Annotated[
        tuple[Gap, ...],
        Field(max_length=6, description="Other gaps to compare; from half the gap to twice if left out."),
    ] = ()
    length: Annotated[Side, Field(description="Of wheel and sensor along the wheel's axis.")]
    wheel: ToothedWheel
    sensor: BarMagnet
    coil: BarCoil
    turning: Turning

    @model_validator(mode="after")
    def _goes_together(self) -> ToothWheel:
        end = -self.sensor.before - self.sensor.length
        if self.coil.bottom < end - ROUNDING:
            raise ValueError(f"coil, bottom: received {mm(self.coil.bottom)}, below the sensor, which ends at "
                             f"{mm(end)}; write at least that")
        coil, clear = self.coil.sides(), 1e-9
        for what, bar in zip(("magnet", "pole piece"), self.sensor.bars(), strict=False):
            (left, low), _, (right, high), _ = bar.outline
            beside = low < coil.top - clear and high > coil.bottom + clear
            if beside and (right - left) / 2 > coil.inner + clear:
                raise ValueError(f"coil, inner_width: received {mm(self.coil.inner_width)}, but the {what} in the "
                                 f"coil is {mm(right - left)} wide; write at least that, or move the coil off it")
        return self

    def build(self) -> WheelBuild:
        """As the solver sees it."""
        return WheelBuild(wheel=self.wheel.shape(), gap=self.gap, sensor=WheelSensor(
            bars=self.sensor.bars(), coil=self.coil.sides(), length=self.length))

    def compared(self) -> tuple[float, ...]:
        """The gaps to compare, m, rising, its own among them."""
        others = self.gaps or tuple(round(k * self.gap, 9) for k in TIMES)
        return tuple(sorted({self.gap, *others}))


def read_wheel(data: Mapping[str, Any], uses: Mapping[str, str]) -> ToothWheel:
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
    case = read_table(ToothWheel, data)
    require_use(case.wheel.steel, "wheel, steel", "soft", "a steel", uses)
    require_use(case.sensor.magnet, "sensor, magnet", "magnet", "a magnet", uses)
    if case.sensor.pole_piece is not None:
        require_use(case.sensor.pole_piece.steel, "sensor, pole_piece, steel", "soft", "a steel", uses)
    return case


def _bar(width: float, length: float, top: float) -> tuple[tuple[float, float], ...]:
    half, bottom = round(width / 2, 12), round(top - length, 12)
    return box(-half, half, bottom, round(top, 12))
