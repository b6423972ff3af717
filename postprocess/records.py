"""What a prediction holds: frozen records, SI, with every array's shape."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array

SCHEMA = 1
"""Number of the layout of `prediction.json`; goes up when a key changes its meaning."""


@dataclass(frozen=True, kw_only=True)
class PoleRecord:
    """One pole of the row.

    Attributes
    ----------
    number : int
        From 1, along the row.
    y, face : float
        Place across the strings and height of the face over the top plate, m.
    field : float
        Axial bias field on the pole's axis at the probe height over its face, T; positive is north up.
    field_band : (float, float)
        The same for the ends of what is known of the magnets' transverse permeability, T.
    """

    number: int
    y: float
    face: float
    field: float
    field_band: tuple[float, float]


@dataclass(frozen=True, kw_only=True, eq=False)
class StringRecord:
    """One string over the row.

    Attributes
    ----------
    number : int
        From 1, in the file's order.
    pole : int
        Number of the nearest pole.
    wound : bool
    y, height, gap : float
        Place across, height of the axis over the top plate, and underside to the face of its pole, m.
    pitch, tension, unit_mass : float
        Hz, N, kg/m.
    bias : array (3,)
        B₀ at the string's axis above the row, x y z, T.
    reciprocal : array (3,)
        Field of the coil at one ampere there, poles in place, T/A.
    linkage : float
        Flux linked with all turns that is the string's own part, Wb.
    sensitivity, sensitivity_across : float
        |∂λ/∂z| and |∂λ/∂y| at rest on the static curve, V·s/m (V per m/s).
    sensitivity_reversible : float
        |∂λ/∂z| with the nominal reversible slope.
    sensitivity_band : (float, float)
        Smallest and largest of the static one and the reversible ones over the steel's range (and, for a
        wound string, over the wrap's turn gap).
    gap_slope : float
        Change of S with the gap, dB/m (negative: weaker further away).
    peak_flux_density : float
        Largest axial B in the (core) steel, T.
    balance, balance_force, balance_displacement : float
        dB against the loudest string: by S; at equal pluck force; at equal pluck displacement.
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
    """

    number: int
    pole: int
    wound: bool
    y: float
    height: float
    gap: float
    pitch: float
    tension: float
    unit_mass: float
    bias: Array
    reciprocal: Array
    linkage: float
    sensitivity: float
    sensitivity_across: float
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


@dataclass(frozen=True, kw_only=True)
class CoilRecord:
    """The coil: turns, and inductance in H without and with its poles."""

    turns: float
    inductance_air: float
    inductance: float


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
class Prediction:
    """All that is computed from a case.

    Attributes
    ----------
    title, quality : str
    probe_height : float
        Height over the faces at which the poles' field is given, m.
    poles, strings : tuples of records
    coil : CoilRecord
    section : SectionRecord
    coupling : float
        Largest relative change of a pole's magnetisation by its neighbours.
    rounds : (int, int)
        Rounds of the row's coupling, bias and signal.
    timings : dict of str to float
        Seconds by stage.
    notes : tuple of str
        What the reader should know about this prediction.
    """

    title: str
    quality: str
    probe_height: float
    poles: tuple[PoleRecord, ...]
    strings: tuple[StringRecord, ...]
    coil: CoilRecord
    section: SectionRecord
    coupling: float
    rounds: tuple[int, int]
    timings: dict[str, float] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
