"""From bodies and coils anywhere to their fields: the 3-D solver's front door.

Stages, each told to `progress`: mesh, bias (nonlinear), the coils' field at the bodies, small-signal answer to every
coil, the answers of poles to strings. Nothing here depends on a string but the heights at which fields are asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from dataclasses import field as attribute
from functools import lru_cache
from typing import Any

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError
from stringflux.geometry.mesh.pole import Quality
from stringflux.geometry.mesh.solid import solid_mesh
from stringflux.geometry.mesh.solid_quality import SolidQuality
from stringflux.geometry.shapes.bodies import SolidBody
from stringflux.geometry.shapes.row import Racetrack
from stringflux.geometry.shapes.standing import PoleFace, pole_faces
from stringflux.geometry.shapes.symmetry import Symmetry, mirror_parity

from ..aside import aside
from ..coil import air as coil_air
from ..coil.air import mean_area
from ..coil.direct import NO_CURRENTS, DirectCurrents
from ..coil.several import CoilsTogether, inductance_matrix_air
from ..constants import MU0
from ..materials.kinds import Materials, body_material
from ..materials.signal import permeability
from ..row.numerics import SHIPPED, RowNumerics
from ..seam import Over
from .bias import Law, SolidState, bias_charges, charges, solve_static, sources_in
from .charged_before import laws_of
from .charges import Charges, unfolded
from .face_field import continued, least_height, transverse_ends
from .field import SolidField
from .halves import halving, magnetic
from .small_signal import SignalState, solve_signal
from .space import SolidSpace, solid_space
from .under_strings import answers_under

Progress = Callable[[str], None]
Under = Callable[[SolidSpace, tuple[SolidBody, ...], SolidState, dict[object, Any]], object]
"""What finds the answers to strings in a space of bodies at their bias, and leaves them in the last."""

_NEARLY = 1e-6  # of the residual, where only a range is asked for


@dataclass(frozen=True, kw_only=True, eq=False)
class SolvedMagnets:
    """The static field alone: what a build is before anything is wound round it, or with direct currents there.

    Attributes
    ----------
    bodies : tuple of SolidBody
        The magnetic ones, in the order of the space's.
    space : SolidSpace
    bias : SolidState
    odd : tuple of int
        Planes of symmetry about which the potential is odd.
    direct : DirectCurrents
        In coils beside the bodies.
    laws : tuple of callable
        B and ∂B/∂H of every body at H, with what its magnets went through.
    """

    bodies: tuple[SolidBody, ...]
    space: SolidSpace
    bias: SolidState
    odd: tuple[int, ...]
    direct: DirectCurrents = NO_CURRENTS
    laws: tuple[Law, ...] = ()


@dataclass(frozen=True, kw_only=True, eq=False)
class SolvedSolid(CoilsTogether):
    """Fields and circuit figures of a build.

    Attributes
    ----------
    field : SolidField
        B₀ and b at any points above the bodies, the coils connected by their weights.
    bodies : tuple of SolidBody
        The magnetic ones, in the order of the space's.
    coils : tuple of Racetrack
        Of one turn, counter-clockwise.
    space : SolidSpace
    bias : SolidState
    signal : SignalState
    matrix_air, matrix : arrays (coils, coils)
        Inductances without and with the bodies, H per turn².
    moments : array (coils, 3)
        Area of a turn plus ∫ M dV per ampere, m².
    odd : tuple of int
        Planes of symmetry about which the bias potential is odd.
    history : {"before", "after"}
        Whether the magnets were charged before or after assembly.
    sources : tuple of arrays (coils, 3, e, q)
        H of one turn of each coil in air in every body, A/m per ampere.
    near : float
        Height over a face, m, from which its field is summed and not continued.
    kept : dict
        What was solved beyond that when it was asked for; the same build with other turns or strings shares it.
    """

    field: SolidField
    bodies: tuple[SolidBody, ...]
    coils: tuple[Racetrack, ...]
    space: SolidSpace
    bias: SolidState
    signal: SignalState
    matrix_air: Array
    matrix: Array
    moments: Array
    odd: tuple[int, ...]
    history: str
    near: float
    sources: tuple[Array, ...]
    kept: dict[object, Any] = attribute(default_factory=dict)

    def over(self, strings: Sequence[Over], materials: Materials, quality: Quality,
             reach: float, numerics: RowNumerics = SHIPPED, *, apart: bool = False) -> SolvedSolid:
        """The same under these strings: the answers of what lies below each; the field is not solved again, nor are
        answers of long bodies to heights that were asked for before. `numerics` are of poles under strings; `apart`:
        every string has an answer of its own."""
        places, answers = answers_under(self.space, self.bodies, materials, self.bias, strings, quality, reach,
                                        self.kept, numerics, apart=apart)
        return replace(self, field=self.field.over(places, answers))

    @property
    def poles(self) -> tuple[PoleFace, ...]:
        """The faces of all poles, row by row."""
        return pole_faces(self.bodies)

    def face_field(self, height: float) -> Array:
        """B_z (poles,) in T on each pole's axis, `height` over its face."""
        summed = self._over(self.field.bias)
        if height >= self.near:
            return summed(height)
        if "close" not in self.kept:
            self.kept["close"] = continued(summed, self.near)
        return np.asarray(self.kept["close"](height))

    def _over(self, bias: Callable[[Array], Array]) -> Callable[[float], Array]:
        """B_z over the poles as a function of height, from B at points."""
        places = np.array([[p.x, p.y, p.face] for p in self.poles]).T.reshape(3, -1)
        return lambda height: np.asarray(bias(places + np.array([[0.0], [0.0], [height]]))[2])

    def magnet_ends(self, materials: Materials) -> tuple[Charges, ...]:
        """Charges with every magnet's μ_⊥ at its lowest and at its highest, A·m; () where nothing is in doubt."""
        if "ends" not in self.kept:
            self.kept["ends"] = transverse_ends(self.space, self.bodies, materials, self.bias, self.odd,
                                                self.history, self.field.direct)
        found: tuple[Charges, ...] = self.kept["ends"]
        return found

    def face_factors(self, height: float, materials: Materials) -> Array:
        """What the doubt about the magnets' μ_⊥ multiplies that with, lowest and highest: (poles, 2)."""
        ends = self.magnet_ends(materials)
        height = max(height, self.near)
        direct = self.field.direct
        fields = [self._over(lambda points, q=q: MU0 * q.field(points)[0] + direct.field(points))(  # type: ignore
            height) for q in ends]
        if not fields:
            return np.ones((len(self.poles), 2))
        field = self.face_field(height)
        factors = np.divide(fields, field, out=np.ones((len(fields), len(field))), where=field != 0)
        return np.stack([factors.min(axis=0), factors.max(axis=0)], axis=1)


def with_signals(solved: SolvedSolid, materials: Materials) -> SolvedSolid:
    """The same build with other permeabilities for signals; its bias, and what poles answer to strings, are kept.

    Parameters
    ----------
    materials : mapping
        As of :func:`solve_solid`; only what a signal meets may differ.
    """
    mu = [permeability(body_material(materials, b.material), b.axis, state)
          for b, state in zip(solved.bodies, solved.bias.b, strict=True)]
    signal = solve_signal(solved.space, mu, solved.sources, start=solved.signal, tolerance=_NEARLY)
    values = [charges(solved.space, [m[k] for m in signal.magnetisation]) for k in range(len(solved.coils))]
    everything = unfolded(solved.space, np.stack([bias_charges(solved.space, solved.bias), *values]),
                          (solved.odd, *((),) * len(solved.coils)))
    return replace(solved, signal=signal, matrix=solved.matrix_air + signal.inductance, kept={},
                   moments=solved.moments - solved.signal.moment + signal.moment,
                   field=replace(solved.field, charges=everything))


@lru_cache(maxsize=2)
def _space(bodies: tuple[SolidBody, ...], quality: SolidQuality, symmetry: Symmetry) -> SolidSpace:
    """Of bare bodies: other magnets in the same places mesh nothing and put nothing together anew."""
    return solid_space(solid_mesh(bodies, quality, symmetry=symmetry))


def solve_solid(bodies: Sequence[SolidBody], coils: Sequence[Racetrack], materials: Materials, *,
                quality: SolidQuality, history: str = "after", progress: Progress = lambda stage: None,
                space: SolidSpace | None = None, direct: DirectCurrents = NO_CURRENTS,
                under: Under | None = None) -> SolvedSolid:
    """Solve a build.

    Parameters
    ----------
    bodies : sequence of SolidBody
    coils : sequence of Racetrack
        With the turns and the sense they have; they are taken in series.
    materials : mapping
        Material object of every name.
    quality : SolidQuality
    history : {"before", "after"}
        Whether the magnets were charged one by one before assembly, or in the build.
    space : SolidSpace, optional
        On a mesh of the magnetic bodies that is there already; its planes are those that halve them.
    direct : DirectCurrents
        In some of the coils.
    under : callable, optional
        What :meth:`SolvedSolid.over` is going to find: found here, while another core solves for the coils.

    Raises
    ------
    CaseError
        If nothing is magnetic, or bodies intersect.
    SolveError
        When a field does not settle.
    MissingLibraryError
        When gmsh cannot be loaded.
    """
    own, symmetry, space, odd = _placed(bodies, coils, materials, quality, history, progress, space, direct)
    one_turn = tuple(replace(c, turns=1.0, sense=1) for c in coils)
    in_air = aside(lambda: tuple(np.stack([coil_air.field(c, e.points) / MU0 for c in one_turn])
                                 for e in space.bodies))
    bias, _ = _biased(own, materials, space, odd, history, progress, direct)
    parity_x = mirror_parity(own, 0)
    substances = [body_material(materials, b.material) for b in own]
    progress("coil")
    sources = in_air()
    progress("signal field")
    mu = [permeability(m, b.axis, state) for m, b, state in zip(substances, own, bias.b, strict=True)]
    kept: dict[object, Any] = {}
    if under is None:
        signal = solve_signal(space, mu, sources)
    else:
        coils_alone = aside(lambda: solve_signal(space, mu, sources))
        under(space, own, bias, kept)
        signal = coils_alone()
    coil_charges = [charges(space, [m[k] for m in signal.magnetisation]) for k in range(len(coils))]
    everything = unfolded(space, np.stack([bias_charges(space, bias), *coil_charges]), (odd, *((),) * len(coils)))
    air = inductance_matrix_air(one_turn)
    field = SolidField(coils=one_turn, weights=np.array([c.turns * c.sense for c in coils]), charges=everything,
                       places=(), answers=(), mirrored=symmetry.x and parity_x > 0, direct=direct)
    areas = np.array([[0.0, 0.0, mean_area(c)] for c in one_turn])
    return SolvedSolid(field=field, bodies=own, coils=one_turn, space=space, bias=bias, signal=signal,
                       matrix_air=air, matrix=air + signal.inductance, moments=areas + signal.moment, odd=odd,
                       history=history, near=least_height(quality), sources=sources, kept=kept)


def solve_magnets(bodies: Sequence[SolidBody], materials: Materials, *, quality: SolidQuality, history: str = "after",
                  progress: Progress = lambda stage: None, direct: DirectCurrents = NO_CURRENTS) -> SolvedMagnets:
    """Solve the static field of a build alone; arguments and errors as of :func:`solve_solid`."""
    own, _, space, odd = _placed(bodies, direct.coils, materials, quality, history, progress, None, direct)
    bias, laws = _biased(own, materials, space, odd, history, progress, direct)
    return SolvedMagnets(bodies=own, space=space, bias=bias, odd=odd, direct=direct, laws=laws)


def _placed(bodies: Sequence[SolidBody], coils: Sequence[Racetrack], materials: Materials, quality: SolidQuality,
            history: str, progress: Progress, given: SolidSpace | None, direct: DirectCurrents) -> tuple[
                tuple[SolidBody, ...], Symmetry, SolidSpace, tuple[int, ...]]:
    """The magnetic bodies, the planes that halve them and the coils, their space and its odd planes."""
    own = magnetic(bodies, materials)
    if not own:
        raise CaseError("body: none is a magnet or of steel; a pickup needs at least one magnet")
    symmetry = given.mesh.symmetry if given else halving(own, coils, materials, history, direct)
    odd = tuple(axis for axis in symmetry.axes if mirror_parity(own, axis) < 0)
    progress("3-D mesh")
    return own, symmetry, given or _space(tuple(b.bare for b in own), quality, symmetry), odd


def _biased(own: Sequence[SolidBody], materials: Materials, space: SolidSpace, odd: tuple[int, ...], history: str,
            progress: Progress, direct: DirectCurrents) -> tuple[SolidState, tuple[Law, ...]]:
    """The static field of magnetic bodies on their space, and the laws that they go by."""
    progress("magnet field")
    substances = [body_material(materials, b.material) for b in own]
    laws = laws_of(space, own, substances, history, odd, progress=progress)
    return solve_static(space, laws, odd=odd, sources=sources_in(space, direct)), tuple(laws)
