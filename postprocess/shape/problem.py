"""A pickup whose pole changes its shape: figures as functions of the shape's parameters, with their gradients.

One mesh, moved (:mod:`stringflux.solver.shape.morph`), rings fixed in space, one row, some strings. A value is
the chain of the main job on these; a gradient goes the chain back once for each figure, whatever the number of
parameters. Both are functions of the parameters alone: every solution begins at the starting shape's.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError
from stringflux.geometry.mesh.pole import Quality
from stringflux.geometry.reading.check_strings import LEAST_GAP
from stringflux.geometry.shapes.row import PlacedPole, PoleShape, Racetrack, StringShape
from stringflux.solver.coil import air as coil_air
from stringflux.solver.materials import Materials, body_material
from stringflux.solver.row.numerics import SHIPPED as ROW
from stringflux.solver.row.numerics import RowNumerics
from stringflux.solver.row.string_answer import StringAnswer
from stringflux.solver.section.bias import BiasState
from stringflux.solver.section.space import section, section_from_mesh
from stringflux.solver.shape.adjoint import RowWeights, bias_adjoints, inductance_of, node_derivative
from stringflux.solver.shape.cell import ShapeCell, on_mesh
from stringflux.solver.shape.derivative import part_volume
from stringflux.solver.shape.grid import ShapeDrive, shape_drive, shape_grid
from stringflux.solver.shape.morph import Morph
from stringflux.solver.shape.pole_sum import DriveOnPole
from stringflux.solver.shape.row import ROW_ORDERS, RowLinks, RowState, bent, couple, row_links, solve_alone

from ..string.grid import string_grid
from ..string.layers import charge_radius
from ..string.linkage import STEP
from ..string.magnetisation import Layer
from ..string.numerics import SHIPPED as STRING
from ..string.numerics import StringNumerics
from .answer import PoleAnswer, by_order, pole_answer
from .figures import ShapeFigures, of_each_string
from .passes import PASSES
from .string import Linkages, ShapeString

ROOM = 0.5e-3
"""How far above its starting face the changing pole may reach unless said otherwise, m."""
_FIRST = np.array([1.0, -8.0, 0.0, 8.0, -1.0]) / (12 * STEP)
_SIDEWAYS = 0.3e-3


@dataclass(frozen=True, kw_only=True, eq=False)
class ShapeSolution:
    """Everything that belongs to one design.

    Attributes
    ----------
    p : array (k,)
    row : RowState
    drives : tuple of DriveOnPole
        Of the changing poles.
    answers : tuple of StringAnswer
        By string.
    strings : tuple of Linkages
    values : mapping of str to float
    """

    p: Array
    row: RowState
    drives: tuple[DriveOnPole, ...]
    answers: tuple[StringAnswer, ...]
    strings: tuple[Linkages, ...]
    values: dict[str, float]


@dataclass(frozen=True, kw_only=True, eq=False)
class ShapeProblem(ShapeFigures[ShapeSolution]):
    """Build it with :func:`shape_problem`.

    Attributes
    ----------
    morph : Morph
    changing : tuple of int
        The poles that change.
    """

    morph: Morph
    changing: tuple[int, ...]
    coil: Racetrack
    links: RowLinks
    cells: tuple[ShapeCell, ...]
    alone: tuple[BiasState, ...]
    start: RowState
    drive: ShapeDrive
    drive_values: tuple[Array, ...]
    answers: Mapping[PoleShape, PoleAnswer]
    fixed: Mapping[PoleShape, tuple[Array, ...]]
    strings: tuple[ShapeString, ...]
    inductance_air: float
    ceiling: float

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the figures."""
        return ("sensitivity", "inductance", "volume", *of_each_string(len(self.strings)))

    def solve(self, at: Array) -> ShapeSolution:
        """The design at parameters (k,), to go on from.

        `S_1` … |dλ/dz| of string 1 in V·s/m, `linkage_1` λ in Wb, `bias_1` B₀ upwards on its axis in T;
        `sensitivity` the mean of all S; `inductance` in H; `volume` of the changing part in m³.

        Raises
        ------
        CaseError
            When the shape cannot be reached from the starting one, or reaches higher than was allowed for.
        SolveError
        """
        p = np.asarray(at, dtype=float)
        mesh = self.morph.mesh(p)
        highest = float(np.max(mesh.points[1, self.morph.upper]))
        if highest > self.ceiling + 1e-12:
            raise CaseError(
                f"profile: it reaches {1e3 * highest:.3g} mm over the starting face; {1e3 * self.ceiling:.3g} mm is "
                "the most that was allowed for"
            )
        shape = self.morph.shape
        moved = on_mesh(section_from_mesh(shape, mesh), self.cells[self.changing[0]])
        cells = [moved if i in self.changing else c for i, c in enumerate(self.cells)]
        for c in dict.fromkeys(cells):
            c.forget()
        needed = len(cells) == 1 or self.links.history == "before"
        own = solve_alone(moved, self.alone[self.changing[0]], needed)
        alone = [own if i in self.changing else a for i, a in enumerate(self.alone)]
        between = self.drive.at(moved.nodes)
        drives = tuple(DriveOnPole(between=between, values=v) for v in self.drive_values)
        drive = list(self.start.drive)
        for i, d in zip(self.changing, drives, strict=True):
            drive[i] = np.stack([between.values(m, d.values[m][:, None])[:, 0] for m in range(ROW_ORDERS)])
        row = couple(self.links, cells, alone, drive, self.start)
        return self._finish(p, row, drives, self.answers[shape].responses(moved) if shape in self.answers else ())

    def _finish(self, p: Array, row: RowState, drives: tuple[DriveOnPole, ...],
                response: tuple[Array, ...]) -> ShapeSolution:
        answers, strings = [], []
        for s in self.strings:
            shape = self.links.places[s.pole].shape
            mine = response if shape == self.morph.shape else self.fixed[shape]
            answers.append(StringAnswer(modes=self.answers[shape].answer.modes, response=mine))
            strings.append(s.solve(row.bias, row.signal, answers[-1].matrix(s.grid.mirrored)))
        square = self.coil.turns**2
        values = {
            "inductance": self.inductance_air + square * inductance_of(row),
            "volume": part_volume(row.cells[self.changing[0]].section.mesh, self.morph.part)[0],
        }
        for i, found in enumerate(strings):
            values |= {f"S_{i + 1}": abs(float(_FIRST @ found.linkage)), f"linkage_{i + 1}": float(found.linkage[2]),
                       f"bias_{i + 1}": found.bias}
        values["sensitivity"] = float(np.mean([values[f"S_{i + 1}"] for i in range(len(strings))]))
        return ShapeSolution(p=p, row=row, drives=drives, answers=tuple(answers), strings=tuple(strings),
                             values=values)

    def back(self, found: ShapeSolution, weights: Mapping[str, float]) -> Array:
        n = len(self.strings)
        bias = [np.zeros_like(g) for g in found.row.bias]
        signal = [np.zeros_like(g) for g in found.row.signal]
        shape = self.morph.shape
        bases = self.answers[shape].bases if shape in self.answers else ()
        response = [np.zeros((U.shape[1],) * 2) for U in bases]
        for i, (s, linkages, answer) in enumerate(zip(self.strings, found.strings, found.answers, strict=True)):
            slope = float(_FIRST @ linkages.linkage)
            share = weights.get(f"S_{i + 1}", 0.0) + weights.get("sensitivity", 0.0) / n
            by_linkage = share * np.sign(slope) * _FIRST
            by_linkage[2] += weights.get(f"linkage_{i + 1}", 0.0)
            by_bias = weights.get(f"bias_{i + 1}", 0.0)
            if not (np.any(by_linkage) or by_bias):
                continue
            back = s.back(linkages, by_linkage, by_bias, answer.matrix(s.grid.mirrored))
            for j in range(len(bias)):
                bias[j] += back.bias[j]
                signal[j] += back.signal[j]
            if self.links.places[s.pole].shape == shape:
                for m, block in enumerate(by_order(back.response, answer, s.grid.mirrored)):
                    response[m] += block
        inductance = weights.get("inductance", 0.0) * self.coil.turns**2
        nodes = np.zeros((2, self.morph.start.points.shape[1]))
        if inductance or any(np.any(g) for g in (*bias, *signal)):
            nodes += node_derivative(
                self.links, found.row,
                RowWeights(bias=tuple(bias), signal=tuple(signal), inductance=inductance, response=tuple(response),
                           bases=tuple(bases)),
                self.changing, found.drives)
        if weights.get("volume", 0.0):
            nodes += weights["volume"] * part_volume(found.row.cells[self.changing[0]].section.mesh,
                                                     self.morph.part)[1]
        return np.asarray(np.tensordot(self.morph.fields, nodes, 2))


def can_follow(row: RowNumerics, string: StringNumerics) -> bool:
    """Whether a problem has these settings: its orders of the row and its passes along the string are fixed."""
    return (row.orders, string.passes) == (ROW_ORDERS, PASSES)


def shape_problem(places: Sequence[PlacedPole], coil: Racetrack, materials: Materials,
                  strings: Sequence[StringShape], layers: Sequence[tuple[Layer, ...]], *, morph: Morph,
                  history: str, quality: Quality, room: float | None = None, row_numerics: RowNumerics = ROW,
                  string_numerics: StringNumerics = STRING) -> ShapeProblem:
    """Set up a problem; all poles of the morph's shape change together.

    Parameters
    ----------
    places, coil, materials, history
        As :func:`stringflux.solver.row.solve.solve_row` takes them; the coil with its turns and sense.
    strings, layers
        The strings whose figures are wanted, and what they are made of.
    morph : Morph
    quality : Quality
        For the meshes of other pole shapes.
    room : float, optional
        How far over the starting face the shape may reach, m; at most `ROOM` if left out, less under low strings.
    row_numerics, string_numerics
        Of these the orders of the answers, the tables, the string's grid and its length; :func:`can_follow`.

    Raises
    ------
    CaseError, SolveError, MissingLibraryError
    """
    places = tuple(places)
    changing = tuple(i for i, p in enumerate(places) if p.shape == morph.shape)
    if not changing:
        raise CaseError("shape: no pole of the row has the starting shape")
    nearest = [int(np.argmin([abs(p.y - s.y) for p in places])) for s in strings]
    clear = [s.axis_height - s.outer_radius - places[i].face for s, i in zip(strings, nearest, strict=True)]
    least = min((c for c, i in zip(clear, nearest, strict=True) if i in changing), default=3 * ROOM)
    up = min(ROOM, least / 3) if room is None else room
    if up > least - 0.3e-3:
        raise CaseError(f"room: received {1e3 * up:.3g} mm, but the lowest string over such a pole is only "
                        f"{1e3 * least:.3g} mm away; leave 0.3 mm")
    made = {}
    for shape in dict.fromkeys(p.shape for p in places):
        moves = shape == morph.shape
        s = section_from_mesh(shape, morph.start) if moves else section(shape, quality)
        made[shape] = ShapeCell(s, tuple(body_material(materials, p.material) for p in shape.parts),
                                shape_grid(s, up if moves else 0.0, _SIDEWAYS if moves else 0.0),
                                row_numerics.answer_orders)
    alone = {shape: solve_alone(c, None, True) for shape, c in made.items()}
    cells = tuple(made[p.shape] for p in places)
    one_turn = Racetrack(**{**vars(coil), "turns": 1.0, "sense": 1})
    grids = {shape: shape_drive(c.section, up if shape == morph.shape else 0.0,
                                _SIDEWAYS if shape == morph.shape else 0.0) for shape, c in made.items()}
    values = [grids[p.shape].values(one_turn, p, ROW_ORDERS) for p in places]
    between = {shape: grids[shape].at(c.nodes) for shape, c in made.items()}
    drive = [np.stack([between[p.shape].values(m, v[m][:, None])[:, 0] for m in range(ROW_ORDERS)])
             for p, v in zip(places, values, strict=True)]
    links = row_links(places, cells, history, coil.y_centre)
    links = replace(links, bent=bent(links, cells, [alone[p.shape] for p in places]))
    start = couple(links, cells, [alone[p.shape] for p in places], drive, None)
    for i, adjoint in enumerate(bias_adjoints(links, start)):
        if i not in changing:
            cells[i].references[i] = adjoint
    answers = {}
    for shape in {places[i].shape for i in nearest}:
        over = [(s, places[i]) for s, i in zip(strings, nearest, strict=True) if places[i].shape == shape]
        answers[shape] = pole_answer(made[shape], over, up if shape == morph.shape else 0.0, row_numerics,
                                     string_numerics.reach)
    rings = [c.grid.rings() for c in cells]
    built = []
    for string, made_of, i, gap in zip(strings, layers, nearest, clear, strict=True):
        grid = string_grid(max(gap, LEAST_GAP), string_numerics.reach, mirrored=string.slope == 0.0,
                           refine=string_numerics.refine, edge=places[i].radius)
        radius = charge_radius(string, tuple(made_of))
        built.append(ShapeString(string, tuple(made_of), grid, radius, STEP, places, rings, coil,
                                 answers[places[i].shape].answer, i))
    return ShapeProblem(
        morph=morph, changing=changing, coil=coil, links=links, cells=cells,
        alone=tuple(alone[p.shape] for p in places), start=start, drive=grids[morph.shape],
        drive_values=tuple(values[i] for i in changing), answers=answers,
        fixed={shape: a.responses(made[shape]) for shape, a in answers.items() if shape != morph.shape},
        strings=tuple(built), inductance_air=abs(coil_air.inductance(coil)), ceiling=morph.shape.top + up,
    )
