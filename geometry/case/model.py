"""The case: one frozen record that is both the schema of the file and the program's own geometry, in SI."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, SerializerFunctionWrapHandler, model_serializer

from ..shapes.bodies import SolidBody
from ..shapes.row import PlacedPole, Racetrack
from .bodies import NON_MAGNETIC, Body, with_shapes
from .coil import Coil
from .conditions import Conditions
from .controls import Lead, Load
from .keys import Printed, Quantity, Table
from .materials import ConstantPermeability, OwnMaterial
from .poles import NO_ROW, Pole, Row
from .rows import PoleRow
from .scatter import Scatter
from .second_coils import Connection, SecondCoil
from .strings import String, Strings
from .threads import HeightScrews

Probe = Annotated[float, Quantity("length", 0.0, 20e-3)]


class Case(Table):
    """A pickup and the strings over it.

    Quantities are text with units in the file and SI numbers here. What its parts are to each other is checked by
    :func:`~stringflux.geometry.read_case`, which is the way to one.
    """

    title: Annotated[str, Field(max_length=200, description="One line that names the case."), Printed()] = ""
    note: Annotated[str, Field(max_length=5000, description="Anything worth remembering."), Printed(lines=True)] = ""
    probe_height: Annotated[
        Probe, Field(description="Height over each pole's face at which its field is reported.")
    ] = 0.5e-3
    row: Annotated[Row, Field(description="Where the poles stand; together with pole.")] = NO_ROW
    pole: Annotated[
        tuple[Pole, ...],
        Field(min_length=1, max_length=12, description="How the poles are made; together with row."),
    ] = ()
    body: Annotated[
        tuple[Body, ...],
        BeforeValidator(with_shapes),
        Field(max_length=40, description="Bodies besides the poles: bars, plates, blades, covers, spacers."),
    ] = ()
    coil: Annotated[Coil, Field(description="Window, wire and turns.")]
    second_coil: Annotated[
        tuple[SecondCoil, ...], Field(max_length=3, description="Further coils of the same pickup.")
    ] = ()
    connection: Annotated[Connection, Field(description="How the coils are connected.")] = Connection()
    strings: Annotated[Strings, Field(description="What the strings have in common.")] = Strings()
    string: Annotated[
        tuple[String, ...],
        Field(max_length=12, description="The strings, in order along the row; without any, force and flux alone are "
              "asked for."),
    ] = ()
    lead: Annotated[Lead, Field(description="The pickup's own lead, up to the controls.")] = Lead()
    load: Annotated[Load, Field(description="Controls, cable and amplifier.")] = Load()
    height_screws: Annotated[
        HeightScrews | None, Field(description="The screws that set the height of the whole pickup.")
    ] = None
    conditions: Annotated[Conditions, Field(description="What surrounds the pickup.")] = Conditions()
    scatter: Annotated[Scatter, Field(description="How far parts scatter, for `stringflux tolerance`.")] = Scatter()
    materials: Annotated[
        dict[Annotated[str, Printed()], OwnMaterial],
        Field(default_factory=dict, max_length=50, description="Materials of your own."),
    ]

    @model_serializer(mode="wrap")
    def _without_an_empty_row(self, handler: SerializerFunctionWrapHandler) -> dict[str, Any]:
        data: dict[str, Any] = handler(self)
        if not self.row.places():
            data = {key: value for key, value in data.items() if key not in ("row", "pole")}
        return data

    @property
    def history(self) -> Literal["before", "after"]:
        """Whether the magnets were charged "before" or "after" they came into the row."""
        rows = self.rows()
        return "before" if rows and rows[0].row.charged == "before assembly" else "after"

    @property
    def is_magnetised(self) -> bool:
        """Whether there is a magnet with a charge or a direct current in a coil; if not, no coil hears a string."""
        return self.has_direct_current or any(b.polarity and b.state.charge > 0 for b in self.solid_bodies())

    @property
    def has_direct_current(self) -> bool:
        """Whether a coil carries one."""
        return any(coil.direct_current for coil in self.coils())

    @property
    def is_plain_row(self) -> bool:
        """Whether this is one row of round poles at x = 0 in one coil about x = 0, and nothing else."""
        return (
            bool(self.row.places())
            and all(pole.is_round for pole in self.pole)
            and not self.body
            and not self.second_coil
            and not self.coil.path
            and not self.has_direct_current
            and self.row.x == self.racetrack().x_centre == 0.0
        )

    def rows(self) -> tuple[PoleRow, ...]:
        """All rows of poles, the first row first."""
        found: list[PoleRow] = []
        others = [(p.row, p.pole, f"second_coil {i}, ") for i, p in enumerate(self.second_coil, start=1)]
        for row, pole, where in ((self.row, self.pole, ""), *others):
            if row is not None and row.places():
                before = sum(len(r.row.places()) for r in found)
                found.append(PoleRow(row=row, pole=pole, where=where, before=before))
        return tuple(found)

    def pole_numbers(self, entry: int) -> tuple[int, ...]:
        """Numbers (from 1) of the poles made like the `entry`-th (from 0) item of `pole`."""
        return PoleRow(row=self.row, pole=self.pole).numbers(entry)

    def placed_poles(self) -> tuple[PlacedPole, ...]:
        """The poles of [row] in their order; equal poles share one shape. Other rows: `solid_bodies`."""
        return PoleRow(row=self.row, pole=self.pole).placed()

    def own_bodies(self) -> tuple[SolidBody, ...]:
        """The bodies of [[body]]."""
        return tuple(body.solid_body(body.name or f"body {i}") for i, body in enumerate(self.body, start=1))

    def solid_bodies(self) -> tuple[SolidBody, ...]:
        """Everything but coils and strings: the poles of all rows part by part, then the bodies of [[body]]."""
        return (*(body for row in self.rows() for body in row.bodies()), *self.own_bodies())

    def magnetic_bodies(self) -> tuple[SolidBody, ...]:
        """The bodies that a static field knows of."""
        return tuple(b for b in self.solid_bodies() if self.is_magnetic(b.material))

    def is_magnetic(self, material: str) -> bool:
        """Whether a material of that name is a magnet or magnetic steel."""
        own = self.materials.get(material)
        if isinstance(own, ConstantPermeability):
            return own.permeability > 1
        return own is not None or material not in NON_MAGNETIC

    def coils(self) -> tuple[Coil, ...]:
        """The first coil and those of [[second_coil]]."""
        return (self.coil, *(other.coil for other in self.second_coil))

    def coil_names(self) -> tuple[str, ...]:
        """What the coils are called, in the order of `coils`."""
        return (self.coil.name or "coil", *(other.name for other in self.second_coil))

    def racetracks(self) -> tuple[Racetrack, ...]:
        """The winding space of each coil; without a place of its own it is about its row."""
        rows = (self.row, *(other.row or self.row for other in self.second_coil))
        return tuple(coil.racetrack(row.x) for coil, row in zip(self.coils(), rows, strict=True))

    def racetrack(self) -> Racetrack:
        """The winding space of the first coil."""
        return self.coil.racetrack(self.row.x)
