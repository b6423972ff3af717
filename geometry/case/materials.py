"""Materials that a case file defines itself: parameters only, in SI; the solver makes curves of them."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Annotated, Any, Literal, Self

from pydantic import Field, model_validator

from ..units import parse
from .curve_file import curve_of
from .keys import Number, Quantity, Table

MU_0 = 4e-7 * math.pi
NEARLY = 0.8  # of the saturation: what a table has to reach to tell it

Remanence = Annotated[float, Quantity("flux density", 0.01, 2.0)]
Saturation = Annotated[float, Quantity("flux density", 0.05, 2.6)]
Resistivity = Annotated[float, Quantity("resistivity", 1e-9, 1e6)]
Density = Annotated[float, Quantity("density", 500.0, 25000.0)]
Recoil = Annotated[float, Number(1, 20)]
Permeability = Annotated[float, Number(1, 100000)]
Pinning = Annotated[float, Quantity("field", 0.0, 1e5)]
Susceptibility = Annotated[float, Number(0, 100000)]
Plain = Annotated[float, Number(-1e7, 1e7)]
FieldUnit = Annotated[
    Literal["A/m", "kA/m", "Oe", "kOe"], Field(description="Unit of the first number of each point.")
]
FluxUnit = Annotated[
    Literal["T", "mT", "G", "kG"], Field(description="Unit of the second number of each point.")
]
Points = Annotated[
    tuple[tuple[Plain, Plain], ...], Field(min_length=3, max_length=500, description="Pairs [H, B].")
]
PerKelvin = Annotated[
    Annotated[float, Number(-0.01, 0.01)] | None,
    Field(description="Change of the remanence per kelvin as a share of it: −0.2 %/K is -0.002. Needed off 20 °C."),
]
SIGNALS = Field(description="Answer to a small signal, relative; recoil_permeability if left out.")
RESISTIVITY = Field(description="Electrical resistivity, for eddy currents.")


class LinearMagnet(Table):
    """B = remanence + μ₀ μrec H along the axis, μ₀ μ⊥ H across."""

    kind: Literal["linear magnet"]
    remanence: Remanence
    recoil_permeability: Recoil
    transverse_permeability: Recoil | None = None
    reversible_permeability: Annotated[Recoil | None, SIGNALS] = None
    resistivity: Annotated[Resistivity | None, RESISTIVITY] = None
    remanence_per_kelvin: PerKelvin = None


class CurveTable(Table):
    """A material by points of a curve, written out or in a file."""

    curve_file: Annotated[
        str | None,
        Field(max_length=1000, description="CSV with the points in place of points, field_unit and flux_unit: two "
              "columns whose heads are H and B with their units, as in H (kA/m), B (T). A path counts from the "
              "folder of the case file."),
    ] = None

    @model_validator(mode="before")
    @classmethod
    def _from_file(cls, data: Any) -> Any:
        if not isinstance(data, dict) or not isinstance(data.get("curve_file"), str):
            return data
        for key in ("points", "field_unit", "flux_unit"):
            if key in data:
                raise ValueError(f"{key}: received together with curve_file, which has it; keep one of them")
        return {key: value for key, value in data.items() if key != "curve_file"} | curve_of(data["curve_file"])


class DemagnetisationCurve(CurveTable):
    """A measured second quadrant, from the remanence (H = 0) to the coercivity (B = 0).

    H may be written as negative or as the size of the demagnetising field.
    """

    kind: Literal["demagnetisation curve"]
    field_unit: FieldUnit
    flux_unit: FluxUnit
    points: Points
    recoil_permeability: Recoil
    transverse_permeability: Recoil | None = None
    reversible_permeability: Annotated[Recoil | None, SIGNALS] = None
    resistivity: Annotated[Resistivity | None, RESISTIVITY] = None
    remanence_per_kelvin: PerKelvin = None

    @model_validator(mode="after")
    def _falls(self) -> DemagnetisationCurve:
        fields = [h for h, _ in self.points]
        if min(fields) < 0 < max(fields):
            raise ValueError("points: H has both signs; write the second quadrant only, with one sign")
        points = self.curve()
        if points[0][0] != 0:
            raise ValueError("points: none has H = 0; give the remanence too")
        if points[-1][1] > 0.02 * points[0][1]:
            raise ValueError("points: the curve does not come down to B = 0; give the coercivity too")
        if points[-1][1] < -0.02 * points[0][1]:
            raise ValueError("points: the curve goes below B = 0; end it at the coercivity")
        for (h0, b0), (h1, b1) in pairwise(points):
            where = f"points: between H = {self._as_written(h0)} and {self._as_written(h1)} {self.field_unit}"
            if h1 == h0 or b1 >= b0:
                raise ValueError(f"{where} B does not fall; a magnet curve is monotone, mend or drop a point")
            if (b1 - b0) > MU_0 * (h1 - h0) * (1 - 0.01):
                raise ValueError(
                    f"{where} B falls less steeply than in air; no magnet does, mend or drop a point"
                )
        if not 0.01 <= points[0][1] <= 2.0:
            raise ValueError(f"points: a remanence of {points[0][1]:g} T; write one from 0.01 to 2 T")
        return self

    def _as_written(self, h: float) -> str:
        return f"{h / parse(f'1 {self.field_unit}', 'field'):.6g}"

    def curve(self) -> tuple[tuple[float, float], ...]:
        """Points (H ≤ 0 in A/m, B in T), from the remanence on."""
        return tuple(sorted(((-abs(h), b) for h, b in _si(self)), reverse=True))


class FirstQuadrant(CurveTable):
    """A soft material by points of its first quadrant."""

    field_unit: FieldUnit
    flux_unit: FluxUnit
    points: Points

    @model_validator(mode="after")
    def _rises(self) -> Self:
        points = self.curve()
        if points[0][0] < 0 or points[0][1] < 0:
            raise ValueError("points: a negative value; write the first quadrant only")
        for (h0, b0), (h1, b1) in pairwise(points):
            if h1 <= h0 or b1 <= b0:
                raise ValueError(
                    f"points: B does not rise with H after B = {b0:g} T; a table is monotone, "
                    "mend or drop a point"
                )
            if b1 - b0 < MU_0 * (h1 - h0) * (1 - 0.01):
                raise ValueError(
                    f"points: B rises less than in air after B = {b0:g} T; check field_unit and flux_unit"
                )
        if not 0.01 <= points[-1][1] <= 3.0:
            raise ValueError(
                f"points: the last B is {points[-1][1]:g} T; write a table that ends from 0.01 to 3 T"
            )
        return self

    def curve(self) -> tuple[tuple[float, float], ...]:
        """Points (H in A/m, B in T), from low to high, beginning with (0, 0)."""
        points = tuple(sorted(_si(self)))
        return points if points[0] == (0.0, 0.0) else ((0.0, 0.0), *points) if points[0][0] > 0 else points


class BHTable(FirstQuadrant):
    """A soft material by its curve of first magnetisation."""

    kind: Literal["BH table"]
    reversible_permeability: Annotated[
        Permeability | None, Field(description="Answer to a small alternating field, relative.")
    ] = None
    resistivity: Annotated[Resistivity | None, RESISTIVITY] = None


class ConstantPermeability(Table):
    """A soft material with B = μ₀ μr H."""

    kind: Literal["constant permeability"]
    permeability: Permeability
    resistivity: Annotated[Resistivity | None, RESISTIVITY] = None


class StringMetal(Table):
    """What a metal of strings has beside its static curve."""

    reversible_susceptibility: Annotated[
        Susceptibility, Field(description="Answer to a small motion; 50 to 150 for steel.")
    ]
    pinning: Annotated[
        Pinning | None,
        Field(description="How strongly its walls are held; about its coercivity. 600 to 2500 A/m for steel."),
    ] = None
    density: Density = 7806.0


class OwnStringSteel(StringMetal):
    """Steel of a string, or metal of its wrap."""

    kind: Literal["string steel"]
    saturation: Annotated[Saturation, Field(description="Saturation polarisation Js.")]
    initial_susceptibility: Annotated[
        Susceptibility, Field(description="Of the static (anhysteretic) curve; several hundred for steel.")
    ]
    law: Annotated[Literal["langevin", "frohlich"], Field(description="Shape of the static curve.")] = (
        "langevin"
    )

    @model_validator(mode="after")
    def _ordered(self) -> OwnStringSteel:
        if self.reversible_susceptibility > self.initial_susceptibility:
            raise ValueError(
                f"reversible_susceptibility: received {self.reversible_susceptibility:g}; write at most "
                f"initial_susceptibility, {self.initial_susceptibility:g}"
            )
        return self


class StringTable(FirstQuadrant, StringMetal):
    """Steel of a string, or metal of its wrap, by points of its static (anhysteretic) curve, H inside the wire.

    From the last point on 1/χ = H/M rises straight with H, to the saturation (A. E. Kennelly, *Trans. AIEE* 8 (1891)
    485, memory); without `saturation` at the slope that the last two points have.
    """

    kind: Literal["string BH table"]
    saturation: Annotated[
        Saturation | None,
        Field(description="Saturation polarisation Js; as the last two points tell it if left out."),
    ] = None

    @model_validator(mode="after")
    def _saturates(self) -> Self:
        if self.curve()[0] != (0.0, 0.0):
            raise ValueError("points: B is not 0 at H = 0; write the static curve, which begins at the origin, and "
                             "no branch of a loop")
        for (h0, m0), (h1, m1) in pairwise(self.magnetisations()):
            if m1 <= m0:
                raise ValueError(f"points: B − μ0 H does not rise between H = {h0:.6g} and {h1:.6g} A/m; end the "
                                 "table there, or mend a point; saturation says what follows")
        last = MU_0 * self.magnetisations()[-1][1]
        if self.saturation is not None:
            if self.saturation <= last:
                raise ValueError(f"saturation: received {self.saturation:g} T; the last point has B − μ0 H = "
                                 f"{last:.4g} T already, write more")
            return self
        if last < NEARLY * self.polarisation():
            raise ValueError(f"points: the last one has B − μ0 H = {last:.4g} T, too far from saturation to tell it; "
                             "write saturation, the polarisation Js")
        return self

    def magnetisations(self) -> tuple[tuple[float, float], ...]:
        """Points (H, M) in A/m, without the origin."""
        return tuple((h, b / MU_0 - h) for h, b in self.curve()[1:])

    def polarisation(self) -> float:
        """Js, T: what is said, else of the straight line through the last two points' 1/χ; infinite if it falls."""
        if self.saturation is not None:
            return self.saturation
        (h0, m0), (h1, m1) = self.magnetisations()[-2:]
        rise = (h1 / m1 - h0 / m0) / (h1 - h0)
        return MU_0 / rise if rise > 0 else math.inf


OwnMaterial = Annotated[
    LinearMagnet | DemagnetisationCurve | BHTable | ConstantPermeability | OwnStringSteel | StringTable,
    Field(discriminator="kind"),
]

# What a material can be used for; the loader is told the same words for the built-in names.
USES = {
    "linear magnet": "magnet",
    "demagnetisation curve": "magnet",
    "BH table": "soft",
    "constant permeability": "soft",
    "string steel": "string",
    "string BH table": "string",
}


def _si(table: DemagnetisationCurve | FirstQuadrant) -> list[tuple[float, float]]:
    per_h = parse(f"1 {table.field_unit}", "field")
    per_b = parse(f"1 {table.flux_unit}", "flux density")
    return [(h * per_h, b * per_b) for h, b in table.points]
