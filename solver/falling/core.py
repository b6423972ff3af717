r"""A steel core in the coil: its part in the coil's field, and the whole problem with magnet and core in one mesh.

The core's answer to an ampere, for a magnet that stays as it is (:mod:`.linkage`). With the coil's field in air b₀,
find u with, for all w, ::

    ∫_air ν0 curl u·curl w + ∫_core [ν (curl u + b₀) − ν0 b₀]·curl w + far = 0

and hand on what the core's magnetisation M = (ν0 − ν)(curl u + b₀) makes outside as rings of charge. ν is that of the
core's steepest place on its curve: the core at its best.

Near steel a magnet is magnetised anew and the steel may saturate, so what counts is :func:`linked_in_mesh`, magnet
and core on their curves in one mesh, λ from the vector potential over the winding::

    λ = N/(w h) ∫∫ 2πr A dr dz,   A = r u

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError
from stringflux.geometry.mesh.pole import QUALITIES, Quality
from stringflux.geometry.shapes.row import PartShape, PoleShape, Racetrack

from ..coil.air import field
from ..constants import MU0, NU0
from ..factor import factor
from ..interpolation import chebyshev, lagrange
from ..materials.constant import ConstantPermeability
from ..materials.kinds import Materials, Soft, body_material, is_magnet
from ..row.rings import ring_kernel
from ..section.bias import BiasCell, BiasState
from ..section.space import Section, section
from .linkage import AxisField, in_air
from .magnet import fitting

NORMAL, FINE = QUALITIES["normal"], QUALITIES["fine"]
ANGLES = 24
"""Of the rings of charge; closer than a fifth of a radius they go by their closed form."""
ACROSS, ALONG = 6, 160
"""Places of the table of the core's answer, across and along the axis."""
WINDING = "the winding's space"


def core_material(materials: Materials, core: PartShape) -> Soft:
    """What the core is of.

    Raises
    ------
    CaseError
        When it is a magnet or a string's metal.
    """
    material = body_material(materials, core.material)
    if is_magnet(material):
        raise CaseError(f"core, material: received {core.material!r}, a magnet; name a steel")
    return material


@dataclass(frozen=True, kw_only=True)
class Reach:
    """Where the field is wanted: out to `radius` from the axis, heights `low` … `high`, above the core, m."""

    radius: float
    low: float
    high: float


def with_core(coil: Racetrack, core: PartShape, materials: Materials, reach: Reach,
              quality: Quality = NORMAL) -> AxisField:
    """The field of an ampere in the coil with the core in it."""
    nu = _least_reluctivity(core_material(materials, core))
    s = section(PoleShape(parts=(core,)), quality)
    points = s.points[0]
    r, z = (np.asarray(c) for c in np.asarray(s.parts[0].global_coordinates()))
    b0 = field(coil, np.stack([r, np.zeros_like(r), z]))[[0, 2]]
    same = np.full(points.shape, nu)
    load = -points.load(points.curl, (nu - NU0) * b0)
    u = factor(s.linear + points.tangent(np.stack([same, np.zeros_like(same), same]))).solve(load)
    M = (NU0 - nu) * (points.field(points.curl, u) + b0)
    charges = points.load(points.gradient, M)[s.pole]
    answer = _tabled(s.nodes[:, s.pole], charges, core.top, core.radius, reach)
    bare = in_air(coil)
    return lambda r, z: bare(r, z) + answer(r, z)


def _tabled(rings: Array, charges: Array, face: float, radius: float, reach: Reach) -> AxisField:
    """What rings of charge make: polynomials in r² across, quintic splines along, crowded towards the core."""
    from scipy.interpolate import make_interp_spline

    squares = chebyshev(0.0, reach.radius**2, ACROSS)
    wide = (reach.low - face) + radius / 4
    s = np.linspace(np.arcsinh((reach.low - face) / wide), np.arcsinh((reach.high - face) / wide), ALONG)
    heights = face + wide * np.sinh(s)
    heights[[0, -1]] = reach.low, reach.high
    R, Z = np.meshgrid(np.sqrt(squares), heights, indexing="ij")
    kernel = ring_kernel(R.ravel(), Z.ravel(), rings[0], rings[1], 1, ANGLES)[0, 1:]
    table = (MU0 / (4 * np.pi) * (kernel @ charges)).reshape(2, ACROSS, ALONG)
    table[0] /= np.sqrt(squares)[:, None]  # b_r goes with r
    spline = make_interp_spline(heights, table, k=5, axis=2)

    def b(r: Array, z: Array) -> Array:
        found = np.einsum("cjn,nj->cn", spline(np.clip(z, reach.low, reach.high)), lagrange(squares, r * r))
        return np.stack([found[0] * r, found[1]])

    return b


def in_mesh(magnet: PartShape, core: PartShape | None, coil: Racetrack, materials: Materials,
            quality: Quality = FINE) -> tuple[Section, BiasState]:
    """Magnet, core and the winding's space in one mesh, the last part the winding's; and what is found there.

    Parameters
    ----------
    magnet : PartShape
        At its height.
    core : PartShape, optional
    """
    inner, outer = coil.inner_radius, coil.inner_radius + coil.build
    window = PartShape(material=WINDING, outline=((inner, coil.bottom), (outer, coil.bottom),
                                                  (outer, coil.top), (inner, coil.top)))
    parts = (magnet, *(() if core is None else (core,)), window)
    of = (*(body_material(materials, p.material) for p in parts[:-1]), ConstantPermeability(name=WINDING, mu_r=1.0))
    s = section(PoleShape(parts=parts), fitting(parts, quality))
    return s, BiasCell(section=s, materials=of).solve()


def linked_in_mesh(magnet: PartShape, core: PartShape | None, coil: Racetrack, materials: Materials,
                   quality: Quality = FINE) -> float:
    """λ in weber-turns with the magnet where it stands, everything in one mesh; as :func:`in_mesh`."""
    s, state = in_mesh(magnet, core, coil, materials, quality)
    basis = s.parts[-1]
    r = np.asarray(basis.global_coordinates())[0]
    u = np.asarray(basis.interpolate(state.u))
    window_area = coil.build * (coil.top - coil.bottom)
    return float(coil.sense * coil.turns / window_area * 2 * np.pi * np.sum(basis.dx * r * r * u))


def _least_reluctivity(steel: Soft) -> float:
    """Where its curve is steepest from the origin, m/H."""
    return float(np.min(steel.reluctivity(np.linspace(0.01, 2.0, 200) ** 2)[0]))
