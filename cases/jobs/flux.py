"""The magnets' flux through a disc or a rectangle in a pickup, from the static field in 3-D."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from stringflux.geometry.errors import InputError
from stringflux.geometry.units import shown
from stringflux.solver.solid.flux import Rim, flux_through, round_rim, square_rim

from ..solved.abstract import SolvedCase, Stage, quiet
from ..solved.solve_build import solid_inputs, solve_magnet_inputs
from ..solved.solve_row import one_thread
from .force import coarser

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
        How far it lies from that on the next coarser mesh, Wb.
    """

    section: FluxArea
    flux: float
    error: float

    @property
    def mean(self) -> float:
        """Mean field through the section, T."""
        return self.flux / self.section.area


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
    inputs = replace(solid_inputs(solved.case, solved.quality, solved.materials, solved.numerics),
                     history=solved.history)
    rim = section.rim()
    found = []
    for quality in (coarser(solved), inputs.quality):
        magnets = solve_magnet_inputs(replace(inputs, quality=quality), stage, solved.keep)
        with one_thread():
            found.append(flux_through(magnets, rim))
    if not all(f.keeps_off for f in found):
        raise InputError("section: its rim runs through a magnetic body or too close to one; what lies inside may be "
                         "anything, but the rim itself has to keep some two millimetres off, or less at a finer "
                         "quality")
    before, after = (f.flux for f in found)
    return SectionFlux(section=section, flux=after, error=abs(after - before))
