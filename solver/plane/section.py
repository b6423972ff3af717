"""From bars and coil sides to the fields of a section: the front door of the planar solver.

Bias by Newton's method on the whole curves, then the answer to each coil at one ampere on the differential
permeabilities, both on one mesh; half of it where section and coils are their own mirror image. All results are
per metre of length across the strings: what a bar has far from its ends.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError
from stringflux.geometry.mesh.bars import plane_mesh
from stringflux.geometry.mesh.pole import Quality
from stringflux.geometry.shapes.section import CoilSides, PlaneShape

from ..coil import sides as plane_coil
from ..materials.kinds import Materials, body_material, is_magnet
from ..materials.signal import reluctivity
from ..section.bias import BiasCell, BiasState
from ..section.forms import PLANAR, PLANAR_ODD
from ..section.space import Section, section_from_mesh
from .line_charges import LineCharges
from .small_signal import PlaneAnswer, PlaneSignalCell


@dataclass(frozen=True, kw_only=True, eq=False)
class SolvedPlane:
    """Fields of a section.

    Attributes
    ----------
    shape : PlaneShape
    coils : tuple of CoilSides
    half : bool
        Whether only x ≥ 0 was solved.
    section : Section
        Of the bias.
    bias_state : BiasState
    signal : PlaneSignalCell
    answers : tuple of PlaneAnswer
        To each coil at one ampere.
    inductance : array (coils, coils)
        Self and mutual, H/m, of the coils with the bars.
    """

    shape: PlaneShape
    coils: tuple[CoilSides, ...]
    half: bool
    section: Section
    bias_state: BiasState
    signal: PlaneSignalCell
    answers: tuple[PlaneAnswer, ...]
    inductance: Array

    def magnets(self) -> LineCharges:
        """The bars' magnetisation at rest."""
        pole = self.section.pole
        return LineCharges(nodes=self.section.nodes[:, pole], charges=self.bias_state.charges[pole],
                           mirror=-self.shape.parity if self.half else 0)

    def response(self, coil: int = 0) -> LineCharges:
        """The bars' magnetisation by one ampere in a coil."""
        return self.charged(self.answers[coil])

    def charged(self, answer: PlaneAnswer) -> LineCharges:
        """The line charges of an answer of the small-signal cell."""
        pole = self.section.pole
        return LineCharges(nodes=self.section.nodes[:, pole], charges=answer.charges[pole], mirror=int(self.half))

    def bias(self, points: Array) -> Array:
        """B₀ (2, ...) in T at points (2, ...) outside the bars."""
        return self.magnets().field(points)

    def reciprocal(self, points: Array, coil: int = 0) -> Array:
        """b (2, ...) in T per ampere in the wire at points (2, ...) outside the bars."""
        return self.response(coil).field(points) + plane_coil.field(self.coils[coil], points)

    def wound(self, turns: Sequence[float]) -> SolvedPlane:
        """The same section with so many turns on its coils: nothing is solved again."""
        factors = np.array(turns) / np.array([c.turns for c in self.coils])
        return replace(self, coils=tuple(replace(c, turns=n) for c, n in zip(self.coils, turns, strict=True)),
                       answers=tuple(_scaled(a, f) for a, f in zip(self.answers, factors, strict=True)),
                       inductance=self.inductance * np.outer(factors, factors))


def solve_plane(shape: PlaneShape, coils: Sequence[CoilSides], materials: Materials, *, quality: Quality,
                progress: Callable[[str], None] = lambda stage: None) -> SolvedPlane:
    """Solve a section.

    Parameters
    ----------
    shape : PlaneShape
    coils : sequence of CoilSides
    materials : mapping
        From the names in `shape` to magnets and soft materials.
    quality : Quality
    progress : callable, optional
        Told the name of each stage.

    Raises
    ------
    CaseError
        When a magnet has no direction of magnetisation, or bars cut each other.
    SolveError
        When Newton's method does not settle.
    """
    for part in shape.parts:
        if is_magnet(materials[part.material]) and part.magnetisation is None:
            raise CaseError(f"bar of {part.material!r}: a magnet needs a direction of magnetisation; "
                            "write for example (0, 1) for up or (1, 0) for along the strings")
    half = shape.parity != 0 and all(c.centre == 0.0 for c in coils)
    solved = shape.right_side if half else shape
    own = tuple(body_material(materials, p.material) for p in solved.parts)
    progress("mesh")
    still, moving = _sections(solved, quality, half, half and shape.parity == 1)
    progress("magnet field")
    state = BiasCell(section=still, materials=own).solve()
    progress("signal field")
    signal = PlaneSignalCell(section=moving, reluctivity=tuple(
        reluctivity(m, p.axis, b) for m, p, b in zip(own, solved.parts, state.b, strict=True)))
    fields = [_field_of(coil) for coil in coils]
    answers = tuple(signal.answer(f) for f in fields)
    sides = 2.0 if half else 1.0
    inductance = np.array([[plane_coil.inductance(c, d) + sides * signal.linked(answers[j].magnetisation, fields[i])
                            for j, d in enumerate(coils)] for i, c in enumerate(coils)])
    return SolvedPlane(shape=shape, coils=tuple(coils), half=half, section=still, bias_state=state, signal=signal,
                       answers=answers, inductance=inductance)


@lru_cache(maxsize=16)
def _sections(shape: PlaneShape, quality: Quality, half: bool, even: bool) -> tuple[Section, Section]:
    """The space of the bias and that of the signal; they differ where A of the magnets is even (kept)."""
    mesh = plane_mesh(shape, quality, half)
    signal = section_from_mesh(shape, mesh, PLANAR_ODD if half else PLANAR)
    if even:
        return replace(signal, formulation=PLANAR), signal
    return signal, signal


def forget_planes() -> None:
    """Drop the kept spaces."""
    _sections.cache_clear()


def _field_of(coil: CoilSides) -> Callable[[Array], Array]:
    return lambda points: plane_coil.field(coil, points)


def _scaled(answer: PlaneAnswer, k: float) -> PlaneAnswer:
    return PlaneAnswer(u=k * answer.u, magnetisation=tuple(k * m for m in answer.magnetisation),
                       charges=k * answer.charges)
