"""A case held against a full 3-D solution with one string in its mesh.

The fast chain and the 3-D solution meet nowhere but in the materials and in the coil's field in air: the chain
superposes poles and gets λ by reciprocity, the other meshes poles and string together and takes the change of the
coil's linkage (:mod:`stringflux.solver.solid.string_in_mesh`). The meshes are refined until their own error is known.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.errors import CaseError
from stringflux.geometry.mesh.solid import SolidMesh, solid_mesh
from stringflux.geometry.mesh.solid_sizes import places_under
from stringflux.geometry.mesh.string_rod import StringRod
from stringflux.geometry.shapes.bodies import SolidBody
from stringflux.geometry.shapes.row import StringShape
from stringflux.geometry.shapes.symmetry import Symmetry
from stringflux.postprocess.records.verification import Figures
from stringflux.postprocess.results.verification import Verification
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.linkage import rest_model, rest_slopes
from stringflux.postprocess.string.magnetisation import Layer
from stringflux.postprocess.string.model import around, string_model
from stringflux.postprocess.string.numerics import SHIPPED as STRING
from stringflux.postprocess.string.numerics import StringNumerics
from stringflux.solver.materials import Materials, string_metal
from stringflux.solver.seam import Solved
from stringflux.solver.solid.halves import magnetic
from stringflux.solver.solid.string_in_mesh import SolidWithString, fields_at_string

from ..solved.choice import choose
from ..solved.direct_current import refuse_direct_current
from ..solved.materials import case_materials
from ..solved.numerics import SHIPPED, Numerics
from ..solved.solve import solved_case
from ..solved.solve_row import one_thread
from ..solved.unmagnetised import refuse_unmagnetised
from .verify_coils import coils_in_air, symmetry
from .verify_meshes import SHIPPED as MESHES
from .verify_meshes import VerifyNumerics, level_quality
from .verify_needs import needs_for, refuse_beyond, said_memory

Report = Callable[[str, float], None]

OTHER = {"row": {"draft": "normal", "normal": "fine", "fine": "normal"},
         "solid": {"draft": "normal", "normal": "draft", "fine": "normal"}}  # fine takes minutes there
"""What the chain's own error is judged by, for either solver."""
_MIDDLE = 1e-3  # m: fields are means over the string's metal within so much of the row's line
_CURVE = 25


@dataclass(frozen=True, kw_only=True)
class Subject:
    """What is verified: one string over all bodies.

    Attributes
    ----------
    number : int
        From 1.
    shape : StringShape
        Without a wrap, and level, as high as it is at `x` in the case.
    gap : float
        Of that shape, m: of a wound string its core's.
    core_only : bool
        Whether the string is wound, and only its core is looked at.
    slope : float
        dz/dx that the string has in the case.
    x : float
        Place along the strings of what its gap counts from, m.
    below : str
        What that is called.
    bodies : tuple of SolidBody
        The magnetic ones.
    numerics : StringNumerics
        Of the string both ways: it is as long in 3-D as in the chain.
    """

    number: int
    shape: StringShape
    gap: float
    core_only: bool
    slope: float
    x: float
    below: str
    bodies: tuple[SolidBody, ...]
    numerics: StringNumerics = STRING

    @property
    def rod(self) -> StringRod:
        return StringRod(y=self.shape.y, z=self.shape.axis_height, radius=self.shape.core_radius,
                         half_length=self.numerics.reach,
                         fine=places_under(self.bodies, self.shape.y, self.shape.axis_height))


def verify(case: Case, *, string: int | None = None, quality: str = "normal", within: float = 5e-3,
           memory: float | None = None, progress: Report = lambda stage, share: None,
           say: Callable[[str], None] = lambda words: None, numerics: Numerics = SHIPPED,
           meshes: VerifyNumerics = MESHES) -> Verification:
    """Compute one string both ways.

    Parameters
    ----------
    case : Case
    string : int, optional
        Number from 1; the first plain string if left out, or the first.
    quality : {"draft", "normal", "fine"}
        Of the chain and of the 3-D meshes.
    within : float
        Finer meshes until the 3-D error of everything is below this share, as long as there are any.
    memory : float, optional
        Bytes that may be used; what the machine has free if left out.
    progress, say : callable
        `say` is told what will be needed before anything is computed.
    numerics : Numerics
        Of the chain.
    meshes : VerifyNumerics

    Raises
    ------
    CaseError
        For a string that is not there, or meshes that do not fit into the memory.
    """
    begin = time.perf_counter()
    refuse_direct_current(case, "verify")
    refuse_unmagnetised(case, "so nothing is there to hold against 3-D but the inductance")
    materials = case_materials(case)
    subject = _subject(case, string, materials, numerics.string)
    layers, metal = layers_of(subject.shape, materials), string_metal(materials, subject.shape.steel)
    solver = choose(case).solver
    shift = min(meshes.shift, 0.3 * subject.gap)
    with one_thread():
        progress("3-D meshes", 0.0)
        halves, odd = symmetry(subject.bodies, subject.shape.y, coils_in_air(case))
        factors = meshes.levels_of(quality)
        made = [_mesh(subject, f, halves) for f in factors[:meshes.sure]]
        refuse_beyond(needs_for(made[-1]).memory, memory, subject.number)
        progress("quick model", 0.02)
        # the other one goes by its name alone: with a mesh of the settings it would be the same chain once more
        first = solved_case(case, quality, history="after", numerics=numerics)
        other = solved_case(case, OTHER[solver][quality], history="after",
                            numerics=replace(numerics, mesh=None, solid=None))
        chains = [first.solution(), other.solution()]
        if not rest_slopes(rest_model(chains[0].field, subject.shape, layers, numerics.string)).heard:
            raise CaseError(f"string {subject.number}: its coil does not hear it move up and down, so there is only "
                            "noise to hold against 3-D; name another one by --string")
        coils = first.coils_in_series()
        unknowns = [needs_for(m) for m in made]
        refuse_beyond(unknowns[-1].memory, memory, subject.number)  # again: the chain of a build stays in memory
        say(f"String {subject.number} in 3-D: {len(made)} meshes of up to {unknowns[-1].unknowns} unknowns, about "
            f"{said_memory(unknowns[-1].memory)} and {said_time(sum(n.seconds for n in unknowns))}")
        levels: list[Figures] = []
        points = weights = np.zeros(0)
        notes = list(_notes(case, subject, first.among(chains[0].field).known))
        clock = _Shares(progress, [n.seconds for n in unknowns])
        for i, factor in enumerate(factors):
            mesh = made[i] if i < len(made) else _mesh(subject, factor, halves)
            if i >= meshes.sure:
                if max(error_of(levels).values()) <= within:
                    break
                needs = needs_for(mesh)
                if not needs.fits(memory) or needs.seconds > meshes.most_seconds:
                    notes.append(f"a finer mesh would take {said_memory(needs.memory)} and "
                                 f"{said_time(needs.seconds)}; it was left out")
                    break
                say(f"So far 3-D is known to {100 * max(error_of(levels).values()):.1f} %: one mesh more, "
                    f"{needs.unknowns} unknowns, about {said_memory(needs.memory)} and {said_time(needs.seconds)}")
                clock.more(needs.seconds)
            build = SolidWithString(mesh=mesh, bodies=subject.bodies, materials=materials, string=metal,
                                    rod=subject.rod, coils=coils, odd=odd)
            level, points, weights = _solid(build, subject.x, shift, chains[0].inductance_air, clock.stage(i))
            levels.append(level)
        progress("quick model at the string", 0.98)
        figures = [_chain_figures(chain, subject, layers, shift, points, weights) for chain in chains]
        heights, curve, slope = _curve(chains[0], subject, layers, shift)
    progress("", 1.0)
    return Verification(
        title=case.title, string=subject.number, core_only=subject.core_only, quality=quality, shift=shift,
        axis_height=subject.shape.axis_height, x=subject.x, below=subject.below, gap=subject.gap,
        radius=subject.shape.core_radius, chain=figures[0], chain_other=figures[1], levels=tuple(levels),
        slope_at_rest=slope, heights=heights, curve=curve, symmetry=halves, notes=tuple(notes),
        seconds=time.perf_counter() - begin)


def error_of(levels: Sequence[Figures]) -> dict[str, float]:
    """Share by which each figure of the last mesh may be off."""
    return {name: Verification.solid_share(levels, name) for name in Figures.NAMES}


def _subject(case: Case, string: int | None, materials: Materials, numerics: StringNumerics = STRING) -> Subject:
    strings = placed_strings(case)
    if string is not None and not 1 <= string <= len(strings):
        raise CaseError(f"--string: received {string}, but this case has strings 1 to {len(strings)}")
    plain = [s.number for s in strings if not s.shape.wrap_diameter]
    placed = strings[(string or (plain[0] if plain else 1)) - 1]
    shape, face = placed.shape, placed.face
    bodies = magnetic(case.solid_bodies(), materials)
    if not bodies:
        raise CaseError("no body of this case is magnetic; there is nothing to verify")
    level = replace(shape, wrap_diameter=0.0, wrap="", wrap_gap=0.0, slope=0.0,
                    axis_height=shape.axis_height + face.x * shape.slope)
    return Subject(number=placed.number, shape=level, gap=placed.gap + shape.wrap_diameter,
                   core_only=shape.wrap_diameter > 0, slope=shape.slope, x=face.x, below=face.name, bodies=bodies,
                   numerics=numerics)


def _notes(case: Case, subject: Subject, counted: bool) -> tuple[str, ...]:
    """`counted`: whether predictions of this case count what the other strings do."""
    notes = []
    if counted:
        notes.append(f"string {subject.number} lies alone over the pickup here, both ways; `stringflux predict` "
                     "counts what the strings beside it do")
    if subject.core_only:
        notes.append(f"string {subject.number} is wound: here it is its core alone, both ways, at the same height of "
                     "its axis")
    if subject.slope:
        notes.append(f"the string slopes by {np.degrees(np.arctan(subject.slope)):.1f}° in the case; here it is "
                     "level, both ways")
    if case.history == "before":
        notes.append("the case's magnets were charged before assembly; here they are charged after it, both ways")
    return tuple(notes)


def _mesh(subject: Subject, factor: float, halves: Symmetry) -> SolidMesh:
    return solid_mesh(subject.bodies, level_quality(factor), strings=(subject.rod,), symmetry=halves)


def _solid(build: SolidWithString, x: float, shift: float, air: float,
           progress: Callable[[str], None]) -> tuple[Figures, Array, Array]:
    """The figures of one mesh, and the points of the string that its fields are the means over."""
    begin = time.perf_counter()
    (rest, low, high), off = build.at((0.0, -shift, shift), progress)
    progress("3-D field of the coil")
    fields = fields_at_string(build, off)
    metal = off.space.bodies[-1]
    middle = np.abs(metal.points[0] - x) < _MIDDLE
    points, weights = metal.points[:, middle], metal.weight[middle] / metal.weight[middle].sum()
    b0, b = fields.at(points)
    found = Figures(bias=float(b0[2] @ weights), reciprocal=float(b[2] @ weights),
                    inductance=air + fields.inductance_added, linkage=rest.linkage, linkage_low=low.linkage,
                    linkage_high=high.linkage, sensitivity=abs(high.linkage - low.linkage) / (2 * shift),
                    unknowns=off.space.unknowns, seconds=time.perf_counter() - begin)
    return found, points, weights


def _chain_figures(chain: Solved, subject: Subject, layers: tuple[Layer, ...], shift: float, points: Array,
                   weights: Array) -> Figures:
    begin, shape = time.perf_counter(), subject.shape
    model = string_model(chain.field, shape, layers, around(shape, 1.2 * shift), subject.numerics)
    heights = shape.axis_height + shift * np.array([-1.0, 0.0, 1.0])
    low, rest, high = (float(v) for v in model.at(np.full(3, shape.y), heights).linkage)
    return Figures(bias=float(chain.field.bias(points)[2] @ weights),
                   reciprocal=float(chain.field.reciprocal(points)[2] @ weights), inductance=abs(chain.inductance),
                   linkage=rest, linkage_low=low, linkage_high=high, sensitivity=abs(high - low) / (2 * shift),
                   unknowns=0, seconds=time.perf_counter() - begin)


def _curve(chain: Solved, subject: Subject, layers: tuple[Layer, ...], shift: float) -> tuple[Array, Array, float]:
    """λ of the chain over heights, for the figure, and S at rest."""
    shape = subject.shape
    heights = shape.axis_height + np.linspace(-1.3, 1.3, _CURVE) * shift
    model = string_model(chain.field, shape, layers, around(shape, 1.3 * shift), subject.numerics)
    curve = model.at(np.full(_CURVE, shape.y), heights).linkage
    return heights, curve, abs(rest_slopes(rest_model(chain.field, shape, layers, subject.numerics)).z)


def said_time(seconds: float) -> str:
    from ..terminal.progress import said_time

    return said_time(seconds)


class _Shares:
    """How far a verification is: the share of the work done, by what the meshes are expected to take."""

    _STAGES = 7  # of every mesh

    def __init__(self, progress: Report, seconds: Sequence[float]) -> None:
        self._progress, self._seconds = progress, list(seconds)

    def more(self, seconds: float) -> None:
        self._seconds.append(seconds)

    def stage(self, level: int) -> Callable[[str], None]:
        done = sum(self._seconds[:level])
        each = self._seconds[level] / self._STAGES
        count = [0]

        def told(stage: str) -> None:
            share = (done + each * min(count[0], self._STAGES)) / sum(self._seconds)
            count[0] += 1
            self._progress(f"mesh {level + 1}: {stage}", 0.04 + 0.94 * share)

        return told
