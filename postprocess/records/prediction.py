"""What a prediction holds: frozen records, SI, with every array's shape; the whole is :mod:`..results.prediction`."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array

FIELD_ERROR = 0.01
"""What B₀ and b over poles and at strings are off, in parts of their moduli (tests/outside/test_reference3d.py)."""


@dataclass(frozen=True, kw_only=True)
class PoleRecord:
    """One pole of the row.

    Attributes
    ----------
    number : int
        From 1, along the row, one row after the other.
    x, y, face : float
        Place along and across the strings and height of the face over the top plate, m.
    field : float
        Axial bias field on the pole's axis at the probe height over its face, T; positive is north up.
    field_band : (float, float)
        The same for the ends of what is known of the magnets' transverse permeability, T.
    """

    number: int
    x: float = 0.0
    y: float
    face: float
    field: float
    field_band: tuple[float, float]

    @property
    def band_counts(self) -> bool:
        """Whether the band is wider than what the computation is off; a narrower one would read as no doubt."""
        return max(self.field_band) - min(self.field_band) > 2 * FIELD_ERROR * abs(self.field)


@dataclass(frozen=True, kw_only=True, eq=False)
class PlaceRecord:
    """The fields at a string's axis over one of several places along it.

    Attributes
    ----------
    name : str
        Of the coil there.
    x : float
        Of its middle, towards the bridge, m.
    gap : float
        Underside of the string to the nearest pole of the row there, m; nan where no row stands there.
    bias, reciprocal : arrays (3,)
        B₀ in T, and b of all coils as they are connected in T/A; x y z.
    """

    name: str
    x: float
    gap: float
    bias: Array
    reciprocal: Array


@dataclass(frozen=True, kw_only=True, eq=False)
class StringRecord:
    """One string over the row.

    Attributes
    ----------
    number : int
        From 1, in the file's order.
    pole : int
        Number of the nearest pole; 0 over a blade or a bar.
    wound : bool
    y, height, gap, diameter : float
        Place across, height of the axis over the top plate at x = 0, underside to the face of its pole or to what
        lies below it, there, and outside diameter, m.
    pitch, tension, unit_mass : float
        Hz, N, kg/m.
    bias : array (3,)
        B₀ at the string's axis above the row (the first of several, or the first coil), x y z, T.
    reciprocal : array (3,)
        Field of the coil at one ampere there, poles in place, T/A.
    over : tuple of PlaceRecord
        Both over every coil that has a place of its own; empty where all is at x = 0.
    linkage : float
        Flux linked with all turns that is the string's own part, Wb.
    sensitivity, sensitivity_across : float
        |∂λ/∂z| and |∂λ/∂y| at rest for a light swing, V·s/m (V per m/s; :mod:`.string.loop`). 0 where the coil hears
        nothing: where it is less than what the model leaves open (:mod:`.string.linkage`).
    sensitivity_curve, sensitivity_reversible : float
        |∂λ/∂z| of a steel without memory, on its curve and on its nominal reversible slope.
    sensitivity_band : (float, float)
        Smallest and largest S over what is known of the steel's memory (and, for a wound string, over the wrap's turn
        gap).
    gap_slope : float
        Change of S with the gap, dB/m (negative: weaker further away); nan where S is 0.
    peak_flux_density : float
        Largest axial B in the (core) steel, T.
    balance, balance_force, balance_displacement : float
        dB against the loudest string: by S; at equal pluck force; at equal pluck displacement. nan where S is 0.
    balance_band : (float, float)
        Range of `balance` over the string-steel models, dB.
    offset, sensitivity_offset : arrays (k,)
        Displacements of the string across from its pole, m, and S there.
    map_y, map_z : arrays (ny,), (nz,)
        Axis positions of the linkage map, m, as displacements from rest.
    map_linkage : array (ny, nz)
        λ, Wb.
    x, line_bias, line_reciprocal : arrays (n,), (3, n), (3, n)
        Along the string at rest: B₀ in T and b in T/A (along, across, normal), averaged round its surface.
    line_flux_density : array (n,)
        Axial flux density in the core steel, T.
    line_moment, line_moment_across : arrays (n,), (2, n)
        Magnetic moment per length of all its metal, along and across (y and normal), A·m.
    """

    number: int
    pole: int
    wound: bool
    y: float
    height: float
    gap: float
    diameter: float
    pitch: float
    tension: float
    unit_mass: float
    bias: Array
    reciprocal: Array
    linkage: float
    sensitivity: float
    sensitivity_across: float
    sensitivity_curve: float
    sensitivity_reversible: float
    sensitivity_band: tuple[float, float]
    gap_slope: float
    peak_flux_density: float
    balance: float = 0.0
    balance_force: float = 0.0
    balance_displacement: float = 0.0
    balance_band: tuple[float, float] = (0.0, 0.0)
    offset: Array
    sensitivity_offset: Array
    map_y: Array
    map_z: Array
    map_linkage: Array
    x: Array
    line_bias: Array
    line_reciprocal: Array
    line_flux_density: Array
    line_moment: Array
    line_moment_across: Array
    over: tuple[PlaceRecord, ...] = ()

    def with_turns(self, turns: float) -> StringRecord:
        """The same over a coil of `turns` times as many turns, wound clockwise where they are negative; `over` as it
        is."""
        size, (low, high) = abs(turns), self.sensitivity_band
        return replace(
            self, reciprocal=turns * self.reciprocal, linkage=turns * self.linkage,
            map_linkage=turns * self.map_linkage,
            line_reciprocal=turns * self.line_reciprocal, sensitivity=size * self.sensitivity,
            sensitivity_across=size * self.sensitivity_across, sensitivity_curve=size * self.sensitivity_curve,
            sensitivity_reversible=size * self.sensitivity_reversible, sensitivity_band=(size * low, size * high),
            sensitivity_offset=size * self.sensitivity_offset)

    @property
    def heard(self) -> bool:
        """Whether the coil hears it move up and down."""
        return self.sensitivity > 0


@dataclass(frozen=True, kw_only=True)
class CoilRecord:
    """A coil, or all coils as they are connected: turns, and inductance in H without and with what it goes round."""

    name: str = ""
    turns: float
    inductance_air: float
    inductance: float


@dataclass(frozen=True, kw_only=True)
class PairRecord:
    """Two coils: their names, mutual inductance in H (both ends as they are wound) and coupling M/√(L₁L₂)."""

    first: str
    second: str
    mutual: float
    coupling: float


@dataclass(frozen=True, kw_only=True, eq=False)
class SectionRecord:
    """The first pole's section with its own bias field, for pictures and other programs.

    Attributes
    ----------
    points : array (2, n)
        r, z (z over the face), m.
    triangles : int array (3, m)
    region : int array (m,)
        Part index, −1 air.
    parts : tuple of str
        Material of each part.
    flux : array (n,)
        2π r A_φ, the flux through the circle of radius r, Wb: its contours are field lines.
    b : array (2, m)
        B_r, B_z at the triangles' middles, T.
    """

    points: Array
    triangles: npt.NDArray[np.int64]
    region: npt.NDArray[np.int64]
    flux: Array
    b: Array
    parts: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, eq=False)
class SliceOutline:
    """What a plane cuts of one body or of one side of a coil.

    Attributes
    ----------
    name, material : str
        Material "" for a coil.
    kind : str
        "magnet", "soft", "not magnetic" or "winding".
    polygon : array (2, n)
        Closed outline, x and z over the top plate, m.
    """

    name: str
    material: str
    kind: str
    polygon: Array


@dataclass(frozen=True, kw_only=True, eq=False)
class SliceRecord:
    """The static field of everything in a plane along the strings, y = const.

    Attributes
    ----------
    y : float
        Where the plane is, m.
    x, z : arrays (nx,), (nz,)
        Points along the strings and over the top plate, m.
    b : array (3, nz, nx)
        B x, y, z, inside bodies too, T.
    region : int array (nz, nx)
        Index into `outlines`, −1 in air, in a coil or in what is not magnetic.
    outlines : tuple of SliceOutline
    string : int
        Number of the string nearest to the plane.
    string_line : array (2, 2)
        x and z of two points of its axis, m.
    endless : bool
        Whether it is the section of endless bars, from the planar solver.
    """

    y: float
    x: Array
    z: Array
    b: Array
    region: npt.NDArray[np.int64]
    outlines: tuple[SliceOutline, ...]
    string: int
    string_line: Array
    endless: bool = False
