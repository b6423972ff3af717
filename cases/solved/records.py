"""What a solved case tells: records that are the same whichever solver it went to."""

from __future__ import annotations

from dataclasses import dataclass

from stringflux.postprocess.coil.circuit import CoilCircuit
from stringflux.postprocess.coil.connection import CoilNetwork
from stringflux.postprocess.coil.hum import HumArea
from stringflux.postprocess.coil.hum_several import HumResidue
from stringflux.postprocess.plucked.sensed import HeardCoil
from stringflux.postprocess.plucked.signal import Response
from stringflux.postprocess.records.prediction import SectionRecord, SliceRecord
from stringflux.solver.seam import SolvedField


@dataclass(frozen=True, kw_only=True)
class Picture:
    """The field to look at: of a row the section of its first pole, of a build the plane along the strings.

    Attributes
    ----------
    section : SectionRecord, optional
    cut : SliceRecord, optional
    """

    section: SectionRecord | None = None
    cut: SliceRecord | None = None


@dataclass(frozen=True, kw_only=True)
class Settled:
    """How a row's poles settled with each other: their coupling, and the rounds for bias and small signal; 0 where
    the solver has no rounds."""

    coupling: float = 0.0
    rounds: tuple[int, int] = (0, 0)


@dataclass(frozen=True, kw_only=True, eq=False)
class HumAreas:
    """What the coils hear of uniform fields.

    Attributes
    ----------
    areas : tuple of HumArea
        Of every coil as it is wound.
    together : HumArea
        As they are connected.
    residue : HumResidue, optional
        Of several coils, at the first of the mains' frequencies: how well they cancel.
    """

    areas: tuple[HumArea, ...]
    together: HumArea
    residue: HumResidue | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class Terminals:
    """The coils at their terminals over the band, eddy currents of poles, bodies and sheets included.

    Attributes
    ----------
    circuit : CoilCircuit
    ends : (CoilCircuit, CoilCircuit)
        With the least and the greatest capacitance that the winding may have.
    network : CoilNetwork, optional
        Of a build: its coils one by one.
    """

    circuit: CoilCircuit
    ends: tuple[CoilCircuit, CoilCircuit]
    network: CoilNetwork | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class Ends:
    """A pickup at its terminals.

    Attributes
    ----------
    coil : CoilCircuit or CoilNetwork
        What the EMF stands behind.
    ways : tuple of tuple of Response
        For every string what each coil's voltage goes through on its way into that EMF: b(f)/b(0) of the eddy
        currents at the string, and the coil's weight in the connection.
    """

    coil: CoilCircuit | CoilNetwork
    ways: tuple[tuple[Response, ...], ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class UnitFields:
    """The fields over the strings with the turns taken out of b, and without meshes: λ, S and voltages go with
    `turns`, so that turns changed in one ratio cost nothing.

    Attributes
    ----------
    field : SolvedField
        B₀, and b of the coils as they are connected, over `turns`.
    turns : float
        Of the coil, negative where it is wound clockwise; of several coils the largest number, as they are connected.
    magnets, coils : tuple
        What B₀, and what b beside it, depend on: parts of the keys of what is computed with them.
    heard : tuple of HeardCoil
        Of several coils each that is connected, its turns over `turns`.
    """

    field: SolvedField
    turns: float
    magnets: tuple[object, ...]
    coils: tuple[object, ...] = ()
    heard: tuple[HeardCoil, ...] = ()
