"""The static flux in a pickup through a disc or a rectangle, or within a body's section, from the field in 3-D."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from stringflux.geometry.errors import CaseError, InputError
from stringflux.geometry.units import mm, shown
from stringflux.solver.solid.doubt.flux import doubt_through, doubt_within
from stringflux.solver.solid.flux import Rim, flux_of_currents, flux_through, flux_within, round_rim, square_rim
from stringflux.solver.solid.solve import SolvedMagnets

from ..solved.abstract import SolvedCase, Stage, quiet
from ..solved.solid_inputs import solid_inputs
from ..solved.solve_build import solve_magnet_inputs
from ..solved.solve_row import one_thread
from ..solved.unmagnetised import UNMAGNETISED
from .force import chosen_bodies, told

_AXES = ("x", "y", "z")


@dataclass(frozen=True, kw_only=True)
class FluxArea:
    """A disc of a `radius`, or a rectangle of a `size` along the two other axes in the order x, y, z; all in m.

    Attributes
    ----------
    centre : (float, float, float)
        x along the strings, y across, z up from the bobbin's top plate.
    across : {"x", "y", "z"}
        The axis that it stands across; flux that way counts as positive.
    radius : float, optional
    size : (float, float), optional

    Raises
    ------
    InputError
        For a centre, axis or size that cannot be.
    """

    centre: Sequence[float]
    across: str = "z"
    radius: float | None = None
    size: Sequence[float] | None = None

    def __post_init__(self) -> None:
        if np.shape(self.centre) != (3,) or not np.all(np.isfinite(self.centre)):
            raise InputError(f"centre: received {shown(self.centre)}; write x, y and z in metres")
        if self.across not in _AXES:
            raise InputError(f"across: received {shown(self.across)}; write x, y or z")
        if (self.radius is None) == (self.size is None):
            raise InputError("radius: write it for a disc, or size for a rectangle; one of them and not both")
        sizes = [self.radius] if self.size is None else list(self.size)
        if len(sizes) != (1 if self.size is None else 2) or not all(s and 0 < s < 1 for s in sizes):
            raise InputError(f"{'radius' if self.size is None else 'size'}: received "
                             f"{shown(self.radius if self.size is None else self.size)}; write "
                             f"{'a length' if self.size is None else 'two lengths'} above 0 and below 1, in metres")

    @property
    def area(self) -> float:
        """m²."""
        if self.radius is not None:
            return float(np.pi * self.radius**2)
        return float(np.prod(self.size or (0.0,)))

    def rim(self) -> Rim:
        """What goes round it."""
        centre, axis = np.array(self.centre, dtype=float), _AXES.index(self.across)
        if self.radius is not None:
            return round_rim(centre, np.eye(3)[axis], self.radius)
        one, other = self.size or (0.0, 0.0)
        return square_rim(centre, axis, (one, other))


@dataclass(frozen=True, kw_only=True, eq=False)
class SectionFlux:
    """The magnets' flux through a section.

    Attributes
    ----------
    section : FluxArea
    flux : float
        Wb.
    error : float
        How far it may be off because of the mesh, Wb.
    """

    section: FluxArea
    flux: float
    error: float

    @property
    def mean(self) -> float:
        """Mean field through the section, T."""
        return self.flux / self.area

    @property
    def area(self) -> float:
        """Of the section, m²."""
        return self.section.area


@dataclass(frozen=True, kw_only=True, eq=False)
class BodyFlux:
    """The flux within the section of some bodies, as a search coil wound close round them tells it.

    Attributes
    ----------
    bodies : tuple of str
        In which together.
    across : {"x", "y", "z"}
        The axis that the section stands across; flux that way counts as positive.
    at : float
        Its place on that axis, m.
    flux : float
        Wb.
    error : float
        How far it may be off because of the mesh, Wb.
    area : float
        Of the section, m².
    """

    bodies: tuple[str, ...]
    across: str
    at: float
    flux: float
    error: float
    area: float

    @property
    def mean(self) -> float:
        """Mean B along that axis, T."""
        return self.flux / self.area


def flux_of(solved: SolvedCase, section: FluxArea, stage: Stage = quiet) -> SectionFlux:
    """The flux through a section; its rim has to lie in air, about an element off every magnetic body.

    Raises
    ------
    InputError
        Where the rim runs through a body or too close to one.
    CaseError
        Where nothing is magnetic.
    SolveError
        Where the field does not settle.
    """
    rim = section.rim()
    if solved.case.has_direct_current and not solved.case.magnetic_bodies():
        currents = solid_inputs(solved.case, solved.quality, solved.materials, solved.numerics).direct
        return SectionFlux(section=section, flux=flux_of_currents(currents, rim), error=0.0)
    magnets = _solved(solved, stage)
    with one_thread():
        found = flux_through(magnets, rim)
        if not found.keeps_off:
            raise InputError("section: its rim runs through a magnetic body or too close to one; what lies inside "
                             "may be anything, but the rim itself has to keep some two millimetres off, or less at "
                             "a finer quality")
        stage("error")
        return SectionFlux(section=section, flux=found.flux, error=doubt_through(magnets, found))


def flux_in(solved: SolvedCase, names: Sequence[str], across: str = "z", at: float | None = None,
            stage: Stage = quiet) -> BodyFlux:
    """The flux within bodies of these names together, across an axis at a place on it, m; half way if left out.

    Raises
    ------
    CaseError
        Where there is no such magnetic body, or the section lies beside it.
    InputError
        For another axis.
    SolveError
        Where the field does not settle.
    """
    if across not in _AXES:
        raise InputError(f"across: received {shown(across)}; write x, y or z")
    axis, bodies = _AXES.index(across), solved.case.magnetic_bodies()
    chosen = chosen_bodies(solved.case, bodies, names, unpulled="and carries no more flux than air")
    group = [b for b in bodies if b.name in chosen]
    low, high = min(b.form.bounds[0][axis] for b in group), max(b.form.bounds[1][axis] for b in group)
    place = (low + high) / 2 if at is None else at
    if not low < place < high:
        raise CaseError(f"--at: received {mm(place)}, and {' and '.join(told(group))} reaches from {mm(low)} to "
                        f"{mm(high)} along {across}; write a place between")
    magnets = _solved(solved, stage)
    with one_thread():
        members = [i for i, b in enumerate(magnets.bodies) if b.name in chosen]
        flux, area = flux_within(magnets, members, axis, place)
        if not area:
            raise CaseError(f"--at: there is no section at {mm(place)} along {across}; write another place")
        stage("error")
        error = doubt_within(magnets, members, axis, place)
    return BodyFlux(bodies=told(group), across=across, at=place, flux=flux, error=error, area=area)


def _solved(solved: SolvedCase, stage: Stage) -> SolvedMagnets:
    """The static field; no magnet is refused."""
    if not solved.case.is_magnetised:
        raise CaseError(f"flux: {UNMAGNETISED}, so there is no flux; give a part or a body a magnet's material and a "
                        "direction, or a coil a direct_current")
    inputs = solid_inputs(solved.case, solved.quality, solved.materials, solved.numerics)
    return solve_magnet_inputs(replace(inputs, history=solved.history), stage, solved.keep)
