"""Poles of a case: stacks of parts with tip profiles, and their places in the row."""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from typing import Annotated, Any, Literal

from pydantic import Discriminator, Field, Tag, ValidationError, model_validator

from ..shapes import profiles
from ..shapes.row import FormedShape, PartShape, PoleShape
from ..units import ROUNDING, mm
from .bodies.of_a_pole import (
    BoxPart,
    CylinderPart,
    FilePart,
    FormedPart,
    PlatePart,
    PrismPart,
    RevolvedPart,
    ScrewPart,
    WedgePart,
)
from .keys import ROUND, Number, OneOrMany, Quantity, Table
from .magnets import POLARITIES, Charge, CoercivityScale, Polarity, RemanenceScale, magnet_state
from .threads import Screw, Threaded

PartSize = Annotated[float, Quantity("length", 0.3e-3, 60e-3)]
TipSize = Annotated[float, Quantity("length", 0.02e-3, 30e-3)]
TipRadius = Annotated[float, Quantity("length", 0.0, 30e-3)]
TipHeight = Annotated[float, Quantity("length", -30e-3, 30e-3)]
Spacing = Annotated[float, Quantity("length", 0.3e-3, 100e-3)]
Place = Annotated[float, Quantity("length", -150e-3, 150e-3)]
Height = Annotated[float, Quantity("length", -30e-3, 30e-3)]
PoleNumber = Annotated[int, Number(1, 12, whole=True)]

LONGEST_POLE = 200e-3
SHORTEST_SEGMENT = 20e-6  # below this a tip would drive the mesh to needless smallness


class FlatTip(Table):
    """A plane face."""

    shape: Literal["flat"]

    def edge(self, radius: float) -> profiles.Edge:
        return profiles.flat(radius)


class BevelledTip(Table):
    """A plane face with its edge cut off."""

    shape: Literal["bevelled"]
    depth: Annotated[TipSize, Field(description="How far down the side the bevel reaches.")]
    width: Annotated[TipSize, Field(description="How far in from the edge the bevel reaches.")]

    def edge(self, radius: float) -> profiles.Edge:
        widest = radius - SHORTEST_SEGMENT
        if self.width > widest + ROUNDING:
            raise ValueError(
                f"width: received {mm(self.width)}, but the part's radius is {mm(radius)}; write at most {mm(widest)}"
            )
        return profiles.bevelled(radius, depth=self.depth, width=self.width)


class DomedTip(Table):
    """A spherical cap; the face height is that of its highest point."""

    shape: Literal["domed"]
    rise: Annotated[TipSize, Field(description="Height of the middle over the rim.")]

    def edge(self, radius: float) -> profiles.Edge:
        _no_deeper_than_hemisphere("rise", self.rise, radius)
        return profiles.domed(radius, rise=self.rise)


class CuppedTip(Table):
    """A spherical hollow; the face height is that of its rim."""

    shape: Literal["cupped"]
    depth: Annotated[TipSize, Field(description="Depth of the middle below the rim.")]

    def edge(self, radius: float) -> profiles.Edge:
        _no_deeper_than_hemisphere("depth", self.depth, radius)
        return profiles.cupped(radius, depth=self.depth)


class PolylineTip(Table):
    """An upper surface of one's own, from the axis to the rim."""

    shape: Literal["polyline"]
    points: Annotated[
        tuple[tuple[TipRadius, TipHeight], ...],
        Field(
            min_length=2,
            max_length=100,
            description='Pairs [r, z] such as ["0 mm", "0.3 mm"], r from 0 to half the diameter.',
        ),
    ]

    def edge(self, radius: float) -> profiles.Edge:
        points = self.points
        if points[0][0] != 0:
            raise ValueError(f"points: the first one has r = {mm(points[0][0])}; start on the axis, r = 0")
        if abs(points[-1][0] - radius) > 1e-6:
            raise ValueError(
                f"points: the last one has r = {mm(points[-1][0])}; end on the rim, half the "
                f"diameter, {mm(radius)}"
            )
        for number, ((r0, z0), (r1, z1)) in enumerate(pairwise(points), start=2):
            if r1 < r0:
                raise ValueError(f"points: number {number} turns back towards the axis; r may not decrease")
            if abs(r1 - r0) + abs(z1 - z0) < SHORTEST_SEGMENT - ROUNDING:
                raise ValueError(
                    f"points: number {number} is closer to the one before than "
                    f"{mm(SHORTEST_SEGMENT)}; leave one out"
                )
            if number > 2 and points[number - 3][0] == r0 == r1:
                raise ValueError(f"points: number {number} is the third with one r; two make a step")
        if points[1][0] == 0:
            raise ValueError("points: number 2 lies on the axis too; only the first one may")
        return profiles.polyline((*points[:-1], (radius, points[-1][1])))


Tip = Annotated[FlatTip | BevelledTip | DomedTip | CuppedTip | PolylineTip, Field(discriminator="shape")]


def _no_deeper_than_hemisphere(key: str, size: float, radius: float) -> None:
    if size > radius + ROUNDING:
        raise ValueError(f"{key}: received {mm(size)}; write at most the part's radius, {mm(radius)}")


class Part(Threaded):
    """One body of revolution: a rod magnet, a slug, a screw, a disc."""

    material: Annotated[str, Field(description="Name in the table of materials or under [materials].")]
    diameter: Annotated[PartSize, Field(description="Outside diameter.")]
    length: Annotated[PartSize, Field(description="From the highest point to the bottom.")]
    polarity: Polarity = None
    charge: Charge = 1.0
    coercivity_scale: CoercivityScale = 1.0
    remanence_scale: RemanenceScale = 1.0
    tip: Annotated[Tip, Field(description="Profile of the upper face.")] = FlatTip(shape="flat")

    @model_validator(mode="after")
    def _tip_fits(self) -> Part:
        try:
            edge = self.tip.edge(self.diameter / 2)
        except ValueError as error:
            raise ValueError(f"tip, {error}") from None
        deep = -min(z for _, z in edge)
        deepest = self.length - SHORTEST_SEGMENT
        if deep > deepest + ROUNDING:
            raise ValueError(
                f"tip: it reaches {mm(deep)} down, but the part is only "
                f"{mm(self.length)} long; make the tip shallower, {mm(deepest)} at most"
            )
        return self

    def part_shape(self, top: float) -> PartShape:
        """The part with its highest point at `top`."""
        edge = self.tip.edge(self.diameter / 2)
        return PartShape(
            material=self.material,
            outline=profiles.outline(edge, length=self.length, top=top),
            polarity=POLARITIES[self.polarity],
            state=magnet_state(self),
        )

    @property
    def tall(self) -> float:
        """Size upwards, m."""
        return self.length

    @property
    def tall_key(self) -> str:
        """The key that says that."""
        return "length"


def part_kind(part: Any) -> str:
    """Which form a part has: what its `shape` says, or that it is round."""
    if isinstance(part, dict):
        return str(part.get("shape", "file" if "file" in part else ROUND))
    return getattr(part, "shape", ROUND)


AnyPart = Annotated[
    Annotated[Part, Tag(ROUND)]
    | Annotated[BoxPart, Tag("box")]
    | Annotated[CylinderPart, Tag("cylinder")]
    | Annotated[PrismPart, Tag("prism")]
    | Annotated[RevolvedPart, Tag("revolved")]
    | Annotated[WedgePart, Tag("wedge")]
    | Annotated[PlatePart, Tag("plate")]
    | Annotated[ScrewPart, Tag("screw")]
    | Annotated[FilePart, Tag("file")],
    Discriminator(part_kind),
]
"""A round part, which needs no `shape`, or one of any form."""


@lru_cache(maxsize=256)
def as_round(part: FormedPart) -> tuple[Part, ...]:
    """The round parts that a part of any form is the same as, from the top down; () where there are none."""
    own = part.model_dump(include={"material", "polarity", "charge", "coercivity_scale", "remanence_scale"})
    try:
        return tuple(Part.model_validate({**own, **made}, context={"si": True}) for made in part.stack())
    except ValidationError:  # none that the row's mesh is made for
        return ()


class Pole(Table):
    """A stack of parts, listed from the top down."""

    at: Annotated[
        tuple[PoleNumber, ...] | None,
        Field(
            min_length=1,
            max_length=12,
            description="Numbers of the poles made like this; all others if left out.",
        ),
    ] = None
    part: Annotated[
        tuple[AnyPart, ...], Field(min_length=1, max_length=8, description="Parts from the top down.")
    ]

    @model_validator(mode="after")
    def _stackable(self) -> Pole:
        total = sum(part.tall for part in self.part)
        if total > LONGEST_POLE + ROUNDING:
            raise ValueError(f"part: the stack is {mm(total)} long; make it at most {mm(LONGEST_POLE)}")
        for number, part in enumerate(self.part[1:], start=2):
            # a dome or a cup under another part leaves a gap that closes to nothing
            if isinstance(part, Part) and part.tip.shape not in ("flat", "bevelled"):
                raise ValueError(
                    f'part {number}, tip: received "{part.tip.shape}" under another part; write "flat" or '
                    '"bevelled" there, only the top part can have another tip'
                )
        return self

    @model_validator(mode="after")
    def _one_thread(self) -> Pole:
        threads = [number for number, part in enumerate(self.part, start=1) if part.thread_pitch is not None]
        if len(threads) > 1:
            raise ValueError(f"part {threads[1]}, thread: part {threads[0]} has one too, and a pole is turned as a "
                             "whole; keep one of them")
        return self

    @property
    def screw(self) -> Screw | None:
        """What sets its height, if a part has a thread: a right-hand one, which goes down clockwise."""
        pitches = [part.thread_pitch for part in self.part if part.thread_pitch is not None]
        return Screw(pitch=pitches[0]) if pitches else None

    @property
    def is_round(self) -> bool:
        """Whether it is a stack of bodies of revolution on the pole's axis, which a row's solver takes."""
        return all(isinstance(part, Part) or as_round(part) for part in self.part)

    @property
    def round_parts(self) -> tuple[Part, ...]:
        """Its parts that are written as round ones: all of them, where a command changes diameters and tips."""
        return tuple(part for part in self.part if isinstance(part, Part))

    def shapes(self) -> tuple[tuple[PartShape, ...], ...]:
        """What each part is as solvers see it, with the face at z = 0; a screw, say, is its head and its shank."""
        found, top = [], 0.0
        for part in self.part:
            found.append(_shapes(part, top))
            top -= part.tall
        return tuple(found)

    def pole_shape(self) -> PoleShape:
        """The stack with its face at z = 0."""
        return PoleShape(parts=tuple(shape for own in self.shapes() for shape in own))


def _shapes(part: Part | FormedPart, top: float) -> tuple[PartShape, ...]:
    """A part with its highest point at `top`."""
    stack = (part,) if isinstance(part, Part) else as_round(part)
    if isinstance(part, FormedPart) and not stack:
        return (FormedShape.of(part.under(top), material=part.material, polarity=POLARITIES[part.polarity],
                               state=magnet_state(part)),)
    found = []
    for each in stack:
        found.append(each.part_shape(top))
        top -= each.length
    return tuple(found)


class Row(Table):
    """Where the poles stand."""

    count: Annotated[PoleNumber | None, Field(description="How many poles; with spacing.")] = None
    spacing: Annotated[Spacing | None, Field(description="From pole to pole, centre to centre.")] = None
    positions: Annotated[
        tuple[Place, ...] | None,
        Field(
            min_length=1, max_length=12, description="Or the place of each pole's centre across the strings."
        ),
    ] = None
    face: Annotated[
        tuple[Height, ...],
        Field(min_length=1, max_length=12),
        OneOrMany(),
        Field(description="Height of the highest point over the top plate, one for all or a list."),
    ]
    charged: Annotated[
        Literal["after assembly", "before assembly"],
        Field(description="Whether the magnets were charged in the row or one by one before."),
    ] = "after assembly"
    x: Annotated[Place, Field(description="Place of the row along the strings, towards the bridge.")] = 0.0

    @model_validator(mode="after")
    def _complete(self) -> Row:
        if self.positions is not None and (self.count is not None or self.spacing is not None):
            raise ValueError("positions: received together with count or spacing; keep one or the other")
        if self.positions is None and self.count is None:
            raise ValueError("count: it is missing; write the number of poles, or positions instead")
        if self.positions is None and self.spacing is None and self.count != 1:
            raise ValueError(
                'spacing: it is missing; write the distance from pole to pole, such as "10.4 mm"'
            )
        places = self.places()
        if max(map(abs, places)) > 150e-3:
            raise ValueError(
                f"spacing: {self.count} poles so far apart make a row over 300 mm; bring them closer"
            )
        if len(self.face) not in (1, len(places)):
            raise ValueError(
                f"face: received {len(self.face)} heights for {len(places)} poles; "
                "write one for all or one for each"
            )
        return self

    def places(self) -> tuple[float, ...]:
        """y of each pole's axis, m; a row given by spacing is centred on y = 0."""
        if self.positions is not None:
            return self.positions
        return centred(self.count or 1, self.spacing or 0.0)

    def faces(self) -> tuple[float, ...]:
        """Face height of each pole over the top plate, m."""
        return self.face if len(self.face) > 1 else self.face * len(self.places())


NO_ROW = Row.model_construct(count=None, spacing=None, positions=(), face=(), charged="after assembly", x=0.0)
NO_ROW.model_fields_set.clear()


def centred(count: int, spacing: float) -> tuple[float, ...]:
    """`count` places `spacing` apart, symmetric about 0."""
    return tuple(round((i - (count - 1) / 2) * spacing, 12) for i in range(count))
