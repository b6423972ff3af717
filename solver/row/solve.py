"""From geometry and materials to the fields of the whole row: the solver's front door.

Stages, each reported to `progress`: mesh and bias cell of every distinct pole, small-signal cell, field
tables, the coil, the coupling of the row. Nothing here depends on a string except the band of heights
that the tables must cover.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.pole import Quality
from stringflux.geometry.shapes.row import PlacedPole, PoleShape, Racetrack

from ..coil import air as coil_air
from ..constants import MU0
from ..materials.kinds import Materials, body_material
from ..materials.signal import of_parts
from ..seam import REACH
from ..section.space import Section, bare
from ..stages import Keep, made_anew
from .coil_on_pole import coil_potentials
from .coupling import Links, RowCharges, RowPole, couple_bias, couple_signal
from .face_field import face_band, own_axial_field
from .field import RowField
from .nearby import Nearby, bias_near
from .numerics import SHIPPED, RowNumerics
from .pole import PoleCells, covering, pole_cells
from .ring_table import PoleField
from .small_signal import SmallSignalCell

Progress = Callable[[str], None]


@dataclass(frozen=True, kw_only=True, eq=False)
class SolvedRow:
    """Fields and circuit figures of a row of poles in its coil.

    Attributes
    ----------
    field : RowField
        B₀ and b at any points above the poles.
    places : tuple of PlacedPole
    cells : dict
        Cells by pole shape.
    bias, signal : RowCharges
        Charges of every pole: bias, and per ampere in a coil of one turn.
    inductance_air, inductance : float
        Of the coil without and with its poles, H.
    drive : tuple of array
        Potentials at every pole of one ampere in a coil of one turn.
    quality : Quality
    numerics : RowNumerics
        Both it was solved with.
    """

    field: RowField
    places: tuple[PlacedPole, ...]
    cells: dict[PoleShape, PoleCells]
    bias: RowCharges
    signal: RowCharges
    inductance_air: float
    inductance: float
    drive: tuple[Array, ...]
    quality: Quality
    numerics: RowNumerics
    face_bands: dict[tuple[PoleShape, float], tuple[float, float]] = dataclasses.field(default_factory=dict)

    def wound(self, turns: float) -> SolvedRow:
        """The same row in a coil of so many turns (negative: wound clockwise): nothing is solved again."""
        square = (turns / self.field.turns) ** 2
        return replace(self, field=replace(self.field, turns=turns), inductance_air=square * self.inductance_air,
                       inductance=square * self.inductance)

    def face_field(self, height: float) -> Array:
        """Axial bias B_z (poles,) in T on each pole's axis, `height` over its face.

        The own pole's part comes from all its unknowns, or from the solution itself (:mod:`.face_field`):
        close to the face the coarse rings of the tables would not do.
        """
        out = np.empty(len(self.places))
        for i, place in enumerate(self.places):
            own = own_axial_field(self.cells[place.shape].section, self.bias.states[i], height)
            point = np.array([[0.0], [place.y], [place.face + height]])
            rest = sum(float(pole(point[0], point[1] - q.y, point[2] - q.face)[0, 2, 0])
                       for j, (q, pole) in enumerate(zip(self.places, self.field.poles, strict=True)) if j != i)
            out[i] = own + MU0 * rest
        return out

    def face_factors(self, height: float) -> dict[PoleShape, tuple[float, float]]:
        """What the doubt about the magnets' μ_⊥ multiplies the face field of each shape with (kept)."""
        for shape, c in self.cells.items():
            key = (shape, height)
            if key not in self.face_bands:
                self.face_bands[key] = face_band(c.bias, c.alone, c.tangent, height)
        return {shape: self.face_bands[shape, height] for shape in self.cells}


def solve_row(places: Sequence[PlacedPole], coil: Racetrack, materials: Materials, *,
              quality: Quality, history: str, band: tuple[float, float],
              floors: Sequence[float] | None = None, progress: Progress = lambda stage: None,
              keep: Keep = made_anew, sections: Mapping[PoleShape, Section] | None = None,
              reach: float = REACH, numerics: RowNumerics = SHIPPED, near: Nearby | None = None) -> SolvedRow:
    """Solve the row.

    Parameters
    ----------
    places : sequence of PlacedPole
    coil : Racetrack
    materials : mapping
        Material object of every name that the shapes use.
    quality : Quality
    history : {"before", "after"}
        Whether the magnets were charged before or after assembly.
    band : (float, float)
        Lowest and highest height over the top plate at which fields will be asked for, m.
    floors : sequence of float, optional
        For each pole the lowest height at which they will be asked for above it; band[0] if left out.
    progress : callable
        Told the name of each stage as it begins.
    keep : Keep
        Asked for the result of every stage before it is computed.
    sections : mapping, optional
        Spaces of some shapes on meshes of the caller's, whose stages are not kept.
    reach : float
        Half the length of the strings along which fields will be asked for, m.
    numerics : RowNumerics
    near : Nearby, optional
        A row of as many poles that differs little: the bias is then estimated by that one's (:mod:`.nearby`).

    Raises
    ------
    SolveError
        When Newton's method or the coupling does not settle.
    MissingLibraryError
        When gmsh cannot be loaded.
    """
    span = max(p.y for p in places) - min(p.y for p in places)
    far = float(np.hypot(reach * 1.1, span + 5e-3))
    cells: dict[PoleShape, PoleCells] = {}
    one_turn = replace(coil, turns=1.0, sense=1)
    distinct = list(dict.fromkeys(p.shape for p in places))
    for n, shape in enumerate(distinct, start=1):
        faces = [p.face for p in places if p.shape == shape]
        own = min(f - p.face for f, p in zip(floors or [band[0]] * len(places), places, strict=True)
                  if p.shape == shape)
        of = f" {n} of {len(distinct)}" if len(distinct) > 1 else ""
        cover = covering(own, band[1] - min(faces), band[0] - max(faces), far)
        given = (sections or {}).get(shape)
        there = near.cells_of(shape, faces) if near is not None else None
        cells[shape] = there or pole_cells(shape, materials, quality, cover, _named(progress, f"of pole{of}"),
                                  made_anew if given else keep, given, numerics)
    progress("coil")
    poles = [RowPole(place=p, bias=c.bias, alone=c.alone, tangent=c.tangent, signal=c.signal, far=c.far)
             for p, c in ((p, cells[p.shape]) for p in places)]
    known = made_anew if sections else keep
    drive = _drive(one_turn, places, cells, quality, numerics, known)
    air = coil_air.inductance(one_turn, numerics.winding_points, numerics.end_angles)
    progress("coupling of the row")
    links = Links(numerics, known, quality)

    def beat() -> None:
        progress("coupling of the row")

    bias = (couple_bias(poles, history, numerics, links, beat) if near is None
            else bias_near(poles, near.places, near.bias, history, numerics, links, beat))
    signal = couple_signal(poles, drive, coil.y_centre, numerics, links)
    fields = []
    for i, p in enumerate(places):
        beat()
        c = cells[p.shape]
        kept = near.field_of(i, p.shape, bias.charges[i], signal.charges[i]) if near is not None else None
        fields.append(kept or PoleField(c.table, np.stack([
            _to_rings(c, bias.charges[i]), _to_rings(c, signal.charges[i])])))
    row = SolvedRow(
        field=RowField(coil=one_turn, turns=1.0, places=tuple(places), poles=fields,
                       answers=[cells[p.shape].answer for p in places], close=numerics.close,
                       angles=numerics.end_angles),
        places=tuple(places), cells=cells, bias=bias, signal=signal, inductance_air=air,
        inductance=air + pole_inductance(signal.charges, drive), drive=tuple(drive), quality=quality,
        numerics=numerics,
    )
    return row.wound(coil.turns * coil.sense)


def with_signals(row: SolvedRow, materials: Materials, keep: Keep = made_anew) -> SolvedRow:
    """The same row with other permeabilities for signals; its bias, and what poles answer to strings, stay.

    Parameters
    ----------
    materials : mapping
        As of :func:`solve_row`; only what a signal meets may differ.
    keep : Keep
        Asked for the cells of the poles.
    """
    turns, coil, signals = row.field.turns, row.field.coil, {}
    for shape, c in row.cells.items():
        mu = of_parts([body_material(materials, p.material) for p in shape.parts], c.alone.b)
        signals[shape] = keep("signal end", (bare(shape), row.quality, mu),
                              partial(SmallSignalCell, section=c.section, mu=mu))
    poles = [RowPole(place=p, bias=c.bias, alone=c.alone, tangent=c.tangent, signal=signals[p.shape], far=c.far)
             for p, c in ((p, row.cells[p.shape]) for p in row.places)]
    drive = row.drive
    signal = couple_signal(poles, drive, coil.y_centre, row.numerics, Links(row.numerics, keep, row.quality))
    fields = [known.but_last(row.cells[p.shape].table, _to_rings(row.cells[p.shape], charges))
              for p, known, charges in zip(row.places, row.field.poles, signal.charges, strict=True)]
    air = row.inductance_air / turns**2
    other = replace(row, signal=signal, inductance_air=air, inductance=air + pole_inductance(signal.charges, drive),
                    field=replace(row.field, turns=1.0, poles=fields))
    return other.wound(turns)


def _named(progress: Progress, what: str) -> Progress:
    return lambda stage: progress(f"{stage} {what}")


def pole_inductance(charges: Sequence[Array], drive: Sequence[Array]) -> float:
    """What the poles add to the inductance, ∫ M·b_air dV per ampere, H.

    b_air = −μ0 ∇φ, so the integral is −μ0 Σ c_m q·v with the azimuthal weights c_0 = 2π, c_m = π.
    """
    total = 0.0
    for q, v in zip(charges, drive, strict=True):
        weights = np.where(np.arange(len(q)) == 0, 2 * np.pi, np.pi)
        total -= MU0 * float(np.sum(weights * np.sum(q * v, axis=1)))
    return total


def _to_rings(cells: PoleCells, charges: Array) -> Array:
    return np.stack([cells.near.spread[m].T @ q for m, q in enumerate(charges)])


def _drive(coil: Racetrack, places: Sequence[PlacedPole], cells: Mapping[PoleShape, PoleCells], quality: Quality,
           numerics: RowNumerics, keep: Keep) -> list[Array]:
    """The coil's potentials at each pole; poles that mirror each other about the coil share them."""
    known: dict[tuple[object, ...], Array] = {}
    out = []
    signs = (-1.0) ** np.arange(numerics.orders)
    for p in places:
        offset = round(p.y - coil.y_centre, 12)
        key, mirror = (p.shape, p.face, offset), (p.shape, p.face, -offset)
        if key not in known and mirror in known:
            known[key] = signs[:, None] * known[mirror]
        if key not in known:
            known[key] = keep("drive", (coil, bare(p.shape), p.y, p.face, quality, numerics), partial(
                coil_potentials, coil, p, cells[p.shape].section, numerics.orders, numerics))
        out.append(known[key])
    return out
