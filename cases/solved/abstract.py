"""A case and its solution as one thing: what every figure of a pickup is made of, whichever solver it goes to.

Nothing is solved before it is asked for, and nothing twice: solutions are asked of the `keep` that a case is given.
Cases that share one share all that they have in common.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence
from functools import cached_property

import numpy as np

from stringflux.geometry.arrays import Array, ComplexArray
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import PlacedString, needed_strings
from stringflux.geometry.errors import CaseError, InputError
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.geometry.shapes.row import Racetrack
from stringflux.geometry.units import mm, shown
from stringflux.postprocess.coil.circuit import CoilCircuit
from stringflux.postprocess.coil.hum import HumArea
from stringflux.postprocess.coil.shares import static_weights
from stringflux.postprocess.coil.winding import Winding
from stringflux.postprocess.pictures.plane import PlaneField
from stringflux.postprocess.pictures.whole import WholeField
from stringflux.postprocess.plucked.sensed import HeardCoil
from stringflux.postprocess.plucked.signal import Response
from stringflux.postprocess.records.prediction import CoilRecord, PairRecord, PlaceRecord, PoleRecord
from stringflux.postprocess.string.neighbours import StringsTogether
from stringflux.solver.materials import Materials
from stringflux.solver.seam import Solved, SolvedField, StringField
from stringflux.solver.stages import Keep

from .choice import Choice
from .materials import case_materials
from .numerics import SHIPPED, Numerics
from .records import Ends, HumAreas, Picture, Settled, Terminals, UnitFields
from .windings import coil_windings

Stage = Callable[[str], None]


def quiet(stage: str) -> None:
    """Tell nobody how far the work is."""


class SolvedCase(ABC):
    """A case with its solution by one solver; made by :func:`.solved_case`.

    Parameters
    ----------
    case : Case
    choice : Choice
        The solver, and why it.
    quality : {"draft", "normal", "fine"}
    keep : Keep
        Asked for every solution before it is computed.
    history : {"before", "after"}, optional
        Whether the magnets were charged before or after assembly, in place of what the case says.
    numerics : Numerics

    Raises
    ------
    CaseError
        For another quality.
    """

    def __init__(self, case: Case, choice: Choice, quality: str, keep: Keep, history: str = "",
                 numerics: Numerics = SHIPPED) -> None:
        if quality not in QUALITIES:
            raise CaseError(f"quality: received {shown(quality)}; write {', '.join(QUALITIES)}")
        self.case, self.choice, self.quality, self.keep = case, choice, quality, keep
        self.history, self.numerics = history or case.history, numerics

    @cached_property
    def materials(self) -> Materials:
        """The material objects that the case uses, by name."""
        return case_materials(self.case)

    @cached_property
    def strings(self) -> tuple[PlacedString, ...]:
        """The strings at rest."""
        return needed_strings(self.case)

    @cached_property
    def windings(self) -> tuple[Winding, ...]:
        """What to wind for every coil; nothing is solved for it."""
        return coil_windings(self.case)

    @cached_property
    def signed_turns(self) -> Array:
        """Turns of every coil (coils,), negative where it is wound clockwise."""
        return np.array([c.turns * c.sense for c in self.case.racetracks()])

    @abstractmethod
    def solution(self, above: float = 0.0, stage: Stage = quiet) -> Solved:
        """Fields and inductances, the coils as they are wound and connected.

        Parameters
        ----------
        above : float
            How much higher than maps of ± 2 mm the fields over the strings are tabulated, m.

        Raises
        ------
        SolveError
            Where it does not settle.
        """

    def among(self, field: StringField) -> StringsTogether:
        """The strings as they see each other in a field of this case: of all coils, of one, or for one turn."""
        if id(field) not in self._among:
            self._among[id(field)] = field, StringsTogether(field, [s.shape for s in self.strings], self.materials,
                                                    self.numerics.string)
        return self._among[id(field)][1]

    @cached_property
    def _among(self) -> dict[int, tuple[StringField, StringsTogether]]:
        return {}

    def near(self, before: SolvedCase, stage: Stage = quiet) -> Solved:
        """An estimate of :meth:`solution` by that of a case that differs little: other heights, places, magnets.

        Raises
        ------
        InputError
            Where there is none.
        """
        raise InputError("estimate: only a row of poles is estimated by another; ask for the prediction")

    @abstractmethod
    def coils_in_series(self) -> tuple[Racetrack, ...]:
        """The coils in series, with the turns and senses that b is made of as they are connected."""

    @abstractmethod
    def poles(self) -> tuple[PoleRecord, ...]:
        """Every pole with its field at the probe's height and what the doubt about μ_⊥ makes of it."""

    @abstractmethod
    def coils(self) -> tuple[tuple[CoilRecord, ...], tuple[PairRecord, ...]]:
        """Every coil alone, and how each two are coupled."""

    @abstractmethod
    def over_coils(self, string: PlacedString) -> tuple[PlaceRecord, ...]:
        """The fields at a string over the middle of every coil; () where all are at x = 0."""

    @abstractmethod
    def field_over(self, points: Array) -> SolvedField:
        """The fields, which hold at points (3, n), m.

        Raises
        ------
        InputError
            Where they do not: under or close to faces, or out of what is computed.
        """

    @abstractmethod
    def picture(self, stage: Stage = quiet, *, cut: bool = True) -> Picture:
        """The field as pictures show it; planes through a build only where `cut` is wanted, for they cost a solve."""

    @abstractmethod
    def plane(self, plane: str, string: PlacedString) -> PlaneField:
        """The magnets' field in the plane "along", through the row, or "side", along the strings by a string's pole.

        Raises
        ------
        InputError
            Where the solver has no such plane.
        """

    def whole(self) -> WholeField | None:
        """The static field in all of a mesh of the bodies, no strings; None where the solver has a section alone."""
        return None

    def turn_flux(self) -> float | None:
        """The magnets' flux through a turn, the mean over the winding, Wb, positive upwards; None where the solver
        does not tell it."""
        return None

    def ahead(self, stage: Stage = quiet) -> None:  # noqa: B027 - nothing to do is a way to do it
        """Begin on another core, where there is one, what a prediction asks for at its end."""

    @abstractmethod
    def settled(self) -> Settled:
        """How the poles settled with each other."""

    def signal_ends(self) -> tuple[Solved, ...]:
        """The solution with all that a signal meets at its least and at its largest; () where nothing is in doubt, or
        where the solver has no range."""
        return ()

    def signal_inductances(self) -> tuple[float, ...]:
        """L of each of :meth:`signal_ends`, H."""
        return tuple(abs(end.inductance) for end in self.signal_ends())

    @abstractmethod
    def remarks(self) -> tuple[str, ...]:
        """What is to be said of the way that the case was solved."""

    @abstractmethod
    def heard_coils(self, *, every: bool) -> tuple[HeardCoil, ...]:
        """Name, share in the voltage and field of every coil of several, those with open ends only for `every`; ()
        for one coil."""

    @abstractmethod
    def at_ends(self, stage: Callable[[str, float], None]) -> Ends:
        """What the strings' voltages go through up to the terminals."""

    @abstractmethod
    def terminals(self, frequency: Array, stage: Callable[[str, float], None]) -> Terminals:
        """The coils over frequencies (f,), Hz."""

    @abstractmethod
    def hum_areas(self) -> HumAreas:
        """What the coils hear of uniform fields."""

    @abstractmethod
    def area(self) -> float:
        """Of all turns and what they go round, as they are connected, for a uniform field upwards, m²."""

    # What follows is asked of `keep` without its meshes, for studies of many cases.

    @abstractmethod
    def unit_fields(self) -> UnitFields:
        """The fields over the strings, for one turn."""

    @abstractmethod
    def face_field(self) -> Array:
        """B_z over every pole's face at the probe's height (poles,), T."""

    @abstractmethod
    def hum_area(self) -> HumArea:
        """Of all coils together for uniform fields."""

    @abstractmethod
    def inductance(self) -> float:
        """Of the coils with poles and bodies, as they are connected, H."""

    @abstractmethod
    def resistance(self) -> float:
        """At the terminals, Ω; nothing is solved for it."""

    @abstractmethod
    def capacitance(self) -> float:
        """At the terminals, F."""

    @abstractmethod
    def circuit(self) -> CoilCircuit:
        """The coils over the band, eddy currents included."""

    @abstractmethod
    def per_turn(self, stage: Stage = quiet) -> Array:
        """Inductances of one turn of each coil, H (coils, coils)."""

    def shares(self) -> dict[str, float]:
        """What share of its voltage each coil, by name, has in that of the terminals; 0 with open ends."""
        found = self._shares(self.per_turn())
        return {name: float(share) for name, share in zip(self.case.coil_names(), found, strict=True)}

    def _shares(self, per_turn: Array) -> Array:
        """The same (coils,) from inductances of one turn of each coil, H (coils, coils)."""
        how, turns = self.case.connection, self.signed_turns
        return static_weights(how.coils, how.reversed, self.case.coil_names(), per_turn * np.outer(turns, turns))

    @abstractmethod
    def unknowns(self) -> tuple[int, int]:
        """Of the 3-D mesh, and how many times what is meshed makes up the whole; 0 where there is none."""


def pole_record(number: int, place: tuple[float, float, float], field: float,
                factors: Sequence[float]) -> PoleRecord:
    """A pole at x, y with its face, m, and the field over it, T, which `factors` take to the ends of its doubt."""
    low, high = sorted(field * f for f in factors) if field else (0.0, 0.0)
    return PoleRecord(number=number, x=place[0], y=place[1], face=place[2], field=field, field_band=(low, high))


def refuse_low(points: Array, lowest: Array) -> None:
    """Refuse points (3, n) of which one lies under the height (n,) or (), m, from which on fields hold there."""
    low = np.flatnonzero(points[2] < lowest - 1e-9)
    if low.size:
        i = int(low[0])
        raise InputError(f"points: received {shown_point(points[:, i])}; the fields hold over the faces, there from "
                         f"z = {mm(float(np.broadcast_to(lowest, points[2].shape)[i]))} on")


def shown_point(point: Array) -> str:
    """A point in words."""
    return f"({', '.join(f'{1e3 * c:.4g}' for c in point)}) mm"


def held(grid: Array, ratio: ComplexArray) -> Response:
    """b(f)/b(0) from its values (f,) over a grid in Hz: 1 at 0 Hz, kept at its last value above the grid."""
    f, values = np.append(0.0, grid), np.append(1.0 + 0j, ratio)
    return lambda at: np.interp(at, f, values)
