"""Two rows of insulated round wire: what lies between touching wires, by finite elements on one cell.

    ∇·(ε ∇V) = 0,   W = ½ ∫ ε |∇V|² dA,   g = C of one pair of touching wires, F per metre of wire

The wires of one row have one voltage, those of the next another by U. In the hexagonal lattice every wire touches two
of the next row, in the square one one. The cell is a quarter of the lattice's own: a wire in one corner, V = 0 on it
and on the row's own line (V is odd about the row), V = U on the opposite wire and its line, mirrors to the sides.

The mesh is a fan from each wire: rings of enamel, then what lies between, out to the line half-way to the neighbours.
Where two wires touch the outer rings have no thickness: their nodes fall together, and no element is left between.

As a medium the lattice has, across the rows, the relative permittivity √3 g/ε₀ (hexagonal) or g/ε₀ (square).

References
----------
Derived here. Without enamel it is the conduction between perfectly conducting cylinders in a lattice (Perrins,
McKenzie & McPhedran, *Proc. R. Soc. A* 369 (1979) 207), to which tests/solver/capacitance/test_cell.py holds it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import numpy.typing as npt
from scipy.sparse.linalg import spsolve
from skfem import Basis, BilinearForm, ElementTriP0, ElementTriP2, MeshTri
from skfem.helpers import dot, grad

from stringflux.geometry.arrays import Array

from .fan import CONTACT, fan, joined, of_ring

EPSILON_0 = 8.8541878128e-12
"""Electric constant, F/m."""
Lattice = Literal["hexagonal", "square"]


@dataclass(frozen=True, kw_only=True)
class WireCell:
    """What the cell says.

    Attributes
    ----------
    pair : float
        g, F per metre of wire.
    in_enamel : float
        Share of the energy that lies in the enamel, 0 to 1; the rest lies between the wires.
    """

    pair: float
    in_enamel: float


@BilinearForm
def _energy(u: Any, v: Any, w: Any) -> Any:
    return w["epsilon"] * dot(grad(u), grad(v))


def wire_cell(*, bare: float, overall: float, enamel: float, between: float = 1.0, lattice: Lattice = "hexagonal",
              pitch: float | None = None, angles: int = 16, rings: tuple[int, int] = (2, 3)) -> WireCell:
    """Capacitance between wires of two rows.

    Parameters
    ----------
    bare, overall : float
        Diameter of the copper and over the insulation, m; any unit does, g does not depend on it.
    enamel, between : float
        Relative permittivity of the insulation and of what lies between the wires.
    lattice : {"hexagonal", "square"}
    pitch : float, optional
        From wire to wire, at least `overall`; wires that touch if left out.
    angles : int
        Steps of angle in every 30° (hexagonal) or 45°, closer near the contact.
    rings : (int, int)
        Rings of elements in the enamel and between.

    Raises
    ------
    ValueError
        If bare ≤ overall ≤ pitch does not hold, or a permittivity is under 1.

    Examples
    --------
    Thick wire hardly insulated: more capacitance between two turns than with twice the enamel.

    >>> thin, thick = (wire_cell(bare=1.0, overall=o, enamel=3.6).pair for o in (1.1, 1.2))
    >>> bool(thin > 1.3 * thick)
    True
    """
    step = overall if pitch is None else pitch
    if not (0 < bare <= overall <= step < np.inf):
        raise ValueError(f"received bare {bare}, overall {overall}, pitch {step}; write 0 < bare <= overall <= pitch")
    if not (1 <= enamel < np.inf and 1 <= between < np.inf):
        raise ValueError(f"received permittivities {enamel} and {between}; write finite numbers from 1")
    wire, coated, corners, on_wire = _wire(bare / step, overall / step, lattice, angles, rings)
    height = np.sqrt(3) / 2 if lattice == "hexagonal" else 1.0
    if lattice == "hexagonal":  # the opposite wire stands across the cell, its fan is this one turned by 180°
        other = np.array([[0.5], [height]]) - wire
    else:  # or straight above: mirrored
        other = np.array([[0.0], [height]]) + np.array([[1.0], [-1.0]]) * wire
    points, triangles, kept = joined(np.hstack([wire, other]), np.hstack([corners, corners + wire.shape[1]]))
    basis = Basis(MeshTri(points, triangles), ElementTriP2(), intorder=2)
    inside = np.tile(coated, 2)[kept]
    flat = basis.with_element(ElementTriP0())
    matrices = [_energy.assemble(basis, epsilon=flat.interpolate(e * np.where(inside, a, b)))
                for e, a, b in ((enamel, 1.0, 0.0), (between, 0.0, 1.0))]
    matrix = matrices[0] + matrices[1]
    x, y = basis.doflocs
    near = (np.hypot(x, y) < on_wire) | (y < CONTACT)
    far = (np.hypot(x - (0.5 if lattice == "hexagonal" else 0.0), y - height) < on_wire) | (y > height - CONTACT)
    v = np.where(far, 1.0, 0.0)
    free = np.flatnonzero(~(near | far))
    v[free] = spsolve(matrix[free][:, free].tocsc(), -(matrix @ v)[free])
    parts = [float(v @ m @ v) for m in matrices]  # twice the energy of U = 1
    pairs = 1.0 if lattice == "hexagonal" else 0.5  # of wires that touch across the rows, in one cell
    return WireCell(pair=EPSILON_0 * sum(parts) / pairs, in_enamel=parts[0] / sum(parts))


def _wire(bare: float, overall: float, lattice: Lattice, angles: int, rings: tuple[int, int],
          ) -> tuple[Array, npt.NDArray[np.bool_], npt.NDArray[np.int64], float]:
    """Points (2, n) of the fan round a wire for a pitch of 1, which triangles are enamel, the triangles (3, m), and
    the radius within which a node lies on the copper."""
    sector = np.pi / 6 if lattice == "hexagonal" else np.pi / 4
    ways = (0.0, np.pi / 3) if lattice == "hexagonal" else (0.0, np.pi / 2)  # where neighbours stand
    closer = np.linspace(0, 1, angles + 1) ** 2  # from a neighbour's direction on
    knots = np.unique(np.round(np.concatenate([way + sector * s * closer for way in ways for s in (-1, 1)]), 12))
    theta = knots[(knots >= 0) & (knots <= np.pi / 2 + 1e-9)]
    toward = np.min([np.abs(theta - way) for way in ways], axis=0)
    out = 0.5 / np.cos(toward)  # half-way to the nearest neighbour
    share = np.concatenate([np.linspace(0, 1, rings[0] + 1), 1 + np.linspace(0, 1, rings[1] + 1)[1:]])
    if bare == overall:
        share = share[rings[0]:]
    radius = np.where(share[:, None] <= 1, bare / 2 + share[:, None] * (overall - bare) / 2,
                      overall / 2 + (share[:, None] - 1) * (out - overall / 2))
    points, triangles = fan(radius, theta)
    coated = (share[1:] <= 1)[of_ring(share.size, theta.size)] & (bare < overall)
    return points, coated, triangles, bare / 2 * (1 + 1e-9)
