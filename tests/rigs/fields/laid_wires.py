"""Wire laid turn by turn between two flanges, and the electric energy of such a section by finite elements.

Diameters of the insulated wire are the unit of length. Turn k is fed to and fro between the flanges, wanders by a
little, and sinks inwards till it touches. There it stays with the probability `stays`, as wires do that cross over
others somewhere along the turn; else it rolls down till it lies on two, or on one beside a flange. Turn k has the
voltage k; in units of the turns that a depth of one diameter takes, the mean field is 1.

    κ = ∫ ε |∇V|² dA/(A g),   so that C = κ g h ℓ/b of a winding h high and b thick, with turns of length ℓ

and g a pair's capacitance in the square lattice (stringflux/solver/capacitance/cell.py).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse.linalg import spsolve
from scipy.spatial import cKDTree
from skfem import Basis, BilinearForm, ElementTriP0, ElementTriP2, Functional, MeshTri
from skfem.helpers import dot, grad

from stringflux.geometry.arrays import Array
from stringflux.geometry.kernel.session import gmsh_model
from stringflux.solver.capacitance.cell import EPSILON_0, wire_cell

_ROLLS = 60  # at most, from wire to wire
_SKIN = 5.0  # of diameters at the floor and at the loose top that say nothing of the inside
HAIR = 1e-3  # gap between wires that touch, for the mesh


@dataclass(frozen=True, kw_only=True)
class Feed:
    """How the wire is led.

    Attributes
    ----------
    step : float
        By how far it moves along in a turn, diameters.
    wander : float
        Standard deviation of the place about that, and of the step as a part of it.
    stays : float
        Probability that a turn stays where it first touches.
    """

    step: float
    wander: float = 0.3
    stays: float = 0.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Laid:
    """A section: places of the turns (n,), in their order, along the coil's axis and outwards."""

    along: Array
    out: Array
    width: float

    def inside(self) -> tuple[float, float]:
        """Lowest and highest radius of what is neither floor nor loose top."""
        return _SKIN, float(np.percentile(self.out, 95)) - _SKIN

    def per_diameter(self) -> float:
        """Turns that a depth of one diameter takes: one over the slope of the radius over the turns."""
        low, high = self.inside()
        turn = np.flatnonzero((self.out > low) & (self.out < high))
        return float(1 / np.polyfit(turn, self.out[turn], 1)[0])

    def fill(self) -> float:
        """Share of the section that the wires take."""
        return self.per_diameter() * np.pi / 4 / self.width


def neat(layers: int, per_layer: int) -> Laid:
    """Hexagonal layers to and fro, every other one half a turn further along."""
    along, out = [], []
    for i in range(layers):
        places = 0.5 + np.arange(per_layer) + 0.5 * (i % 2)
        along.append(places[::1 if i % 2 == 0 else -1])
        out.append(np.full(per_layer, 0.5 + i * np.sqrt(3) / 2))
    return Laid(along=np.concatenate(along), out=np.concatenate(out), width=per_layer + 0.5)


def laid(turns: int, width: float, feed: Feed, seed: int = 0) -> Laid:
    """Lay so many turns between flanges `width` diameters apart."""
    rng = np.random.default_rng(seed)
    x, y = np.zeros(turns), np.zeros(turns)
    columns: list[list[int]] = [[] for _ in range(int(width) + 2)]
    low, high, place, way = 0.5, width - 0.5, 0.5, 1.0

    def near(at: float, reach: float) -> np.ndarray:
        a, b = max(int(at - reach), 0), min(int(at + reach), len(columns) - 1)
        return np.array([k for column in columns[a:b + 1] for k in column[-60:]], dtype=int)

    def sunk(at: float, under: float, but: int = -1) -> tuple[float, int]:
        """Where a wire let down at `at` from `under` first touches, and what: −1 for the floor."""
        others = near(at, 1.0)
        others = others[others != but]
        dx = at - x[others]
        others, dx = others[np.abs(dx) < 1 - 1e-9], dx[np.abs(dx) < 1 - 1e-9]
        height = y[others] + np.sqrt(1 - dx**2)
        height[height > under + 1e-9] = -1.0
        best = int(np.argmax(height)) if others.size else -1
        return (float(height[best]), int(others[best])) if others.size and height[best] > 0.5 else (0.5, -1)

    for k in range(turns):
        place += way * feed.step * (1 + feed.wander * rng.standard_normal())
        while not low <= place <= high:
            place, way = (2 * high - place, -1.0) if place > high else (2 * low - place, 1.0)
        at = float(np.clip(place + feed.wander * rng.standard_normal(), low, high))
        depth, on = sunk(at, np.inf)
        for _ in range(_ROLLS if rng.random() >= feed.stays else 0):
            if on < 0:
                break
            side = 1.0 if at > x[on] or (at == x[on] and rng.random() < 0.5) else -1.0
            turned = np.arcsin(np.clip(side * (at - x[on]), -1, 1))  # from straight above it
            stop, by = np.pi / 2, -1
            others = near(x[on] + side, 1.6)
            others = others[others != on]
            dx, dy = side * (x[others] - x[on]), y[others] - y[on]
            apart = np.hypot(dx, dy)
            met = np.arctan2(dx, dy) - np.arccos(np.clip(apart / 2, 0, 1))
            met[(apart >= 2) | (met < turned - 1e-9)] = np.inf
            if others.size and met.min() < stop:
                stop, by = float(met.min()), int(others[np.argmin(met)])
            flange = (high - x[on]) if side > 0 else x[on] - low
            floor = np.arccos(np.clip(0.5 - y[on], -1, 1)) if y[on] < 1.5 else np.inf
            wall = np.arcsin(flange) if flange < 1 else np.inf
            if min(wall, floor) < stop:
                stop, by = float(min(wall, floor)), -2
            at, depth = float(x[on] + side * np.sin(stop)), float(y[on] + np.cos(stop))
            if by == -2 or (by >= 0 and side * (x[by] - at) >= 0):
                break
            if by >= 0:  # over the next one, further down
                on = by
            else:
                depth, on = sunk(at, y[on], on)
            if rng.random() < feed.stays:
                break
        x[k], y[k] = at, depth
        columns[int(at)].append(k)
    return Laid(along=x, out=y, width=width)


def contact_sum(section: Laid) -> float:
    """Σ ΔV² over touching pairs per area: κ if each pair had g and nothing else counted."""
    low, high = section.inside()
    p = np.stack([section.along, section.out], axis=1)
    pairs = cKDTree(p).query_pairs(1 + 1e-6, output_type="ndarray")
    middle = p[pairs, 1].mean(axis=1)
    pairs = pairs[(middle > low) & (middle < high)]
    step = (pairs[:, 0] - pairs[:, 1]) / section.per_diameter()
    return float(np.sum(step**2) / (section.width * (high - low)))


def kappa(section: Laid, *, bare: float, enamel: float, between: float = 1.0, depth: float = 8.0,
          size: float = 0.04) -> float:
    """κ of a section by finite elements.

    Parameters
    ----------
    bare : float
        Diameter of the copper over that with its insulation.
    enamel : float
        Its relative permittivity.
    between : float
        That of what lies between the wires, in the section and in the pair that it is counted in.
    depth : float
        Of what is averaged, diameters; two more on either side are meshed.
    size : float
        Of the elements on the wires.
    """
    low = section.inside()[0] + 3
    keep = np.flatnonzero((section.out > low - 1.4) & (section.out < low + depth + 1.4))
    place = np.stack([section.along[keep], section.out[keep]])
    volt = keep / section.per_diameter()
    points, triangles, coated = _mesh(place, (0.0, section.width, low - 2, low + depth + 2), bare, size)
    mesh = MeshTri(points, triangles)
    basis = Basis(mesh, ElementTriP2(), intorder=2)
    epsilon = basis.with_element(ElementTriP0()).interpolate(np.where(coated, enamel, between))
    form = BilinearForm(lambda u, v, w: w["epsilon"] * dot(grad(u), grad(v)))
    matrix = form.assemble(basis, epsilon=epsilon)
    apart, nearest = cKDTree(place.T).query(basis.doflocs.T)
    copper = apart < bare / 2 * (1 + 1e-6)
    v = np.where(copper, volt[nearest], 0.0)
    free = np.flatnonzero(~copper)
    v[free] = spsolve(matrix[free][:, free].tocsc(), -(matrix @ v)[free])
    middle = mesh.p[1, mesh.t].mean(axis=0)
    part = np.flatnonzero((middle > low) & (middle < low + depth))
    inner = Basis(mesh, ElementTriP2(), intorder=2, elements=part)
    energy = Functional(lambda w: w["epsilon"] * dot(grad(w["volt"]), grad(w["volt"]))).assemble(
        inner, epsilon=inner.with_element(ElementTriP0()).interpolate(np.where(coated, enamel, between)),
        volt=inner.interpolate(v))
    pair = wire_cell(bare=bare, overall=1.0, enamel=enamel, between=between, lattice="square").pair / EPSILON_0
    return float(energy / (section.width * depth * pair))


def _mesh(place: Array, box: tuple[float, float, float, float], bare: float,
          size: float) -> tuple[Array, np.ndarray, np.ndarray]:
    """Points, triangles and which are enamel; the copper is left out."""
    with gmsh_model("laid wires") as gmsh:
        geo = gmsh.model.geo

        def circle(x: float, y: float, radius: float) -> int:
            centre = geo.addPoint(x, y, 0)
            p = [geo.addPoint(x + radius * np.cos(t), y + radius * np.sin(t), 0, size)
                 for t in np.arange(6) * np.pi / 3]
            return int(geo.addCurveLoop([geo.addCircleArc(p[i], centre, p[(i + 1) % 6]) for i in range(6)]))

        a, b, c, d = box
        p = [geo.addPoint(u - (HAIR if u == a else -HAIR), v, 0, 0.2) for u, v in ((a, c), (b, c), (b, d), (a, d))]
        outer = geo.addCurveLoop([geo.addLine(p[i], p[(i + 1) % 4]) for i in range(4)])
        rims = [circle(x, y, (1 - HAIR) / 2) for x, y in place.T]
        cores = [circle(x, y, bare / 2) for x, y in place.T]
        coats = [geo.addPlaneSurface([rim, core]) for rim, core in zip(rims, cores, strict=True)]
        air = geo.addPlaneSurface([outer, *rims])
        geo.synchronize()
        gmsh.model.mesh.generate(2)
        tags, coordinates, _ = gmsh.model.mesh.getNodes()
        triangles = [gmsh.model.mesh.getElements(2, s)[2][0].reshape(-1, 3) for s in (*coats, air)]
    index = np.zeros(int(tags.max()) + 1, dtype=int)
    index[tags.astype(int)] = np.arange(tags.size)
    coated = np.repeat([True, False], [sum(len(t) for t in triangles[:-1]), len(triangles[-1])])
    used, corners = np.unique(index[np.concatenate(triangles).astype(int)], return_inverse=True)
    return (np.ascontiguousarray(coordinates.reshape(-1, 3)[used, :2].T),
            np.ascontiguousarray(corners.reshape(-1, 3).T), coated)
