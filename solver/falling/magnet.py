r"""The magnet at rest in air, and its moment handed over to a few rings.

The working point of every place is found by finite elements on the magnet's own curve (:mod:`..section.bias`); there
M = B/μ0 − H, in A/m. A magnet that moves through air keeps it: nothing else acts on it.

A coil's field b over the magnet is smooth, for its sources lie outside. So b may be replaced by its polynomials on a
grid of rings (r_j, ζ_k), ζ counted from the magnet's middle, and the moments go the same way backwards::

    b_z(r, ζ) = Σ b_z(r_j, ζ_k) ℓ_j(r²) ℓ_k(ζ)          m_z,jk = Σ_i M_z dV ℓ_j(r_i²) ℓ_k(ζ_i)
    b_r(r, ζ) = Σ b_r(r_j, ζ_k) (r/r_j) ℓ_j(r²) ℓ_k(ζ)    m_r,jk likewise

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.pole import QUALITIES, Quality
from stringflux.geometry.shapes.row import PartShape, PoleShape

from ..constants import NU0
from ..interpolation import chebyshev, lagrange
from ..materials.h_of_b import in_section
from ..materials.kinds import Materials, body_material
from ..section.bias import BiasCell, BiasState
from ..section.space import Section, section

RADII, PER_PANEL = 5, 5
"""Rings across the magnet, and along each stretch of it; λ is then that of all quadrature points to 1e-6, and to 1e-4
with the winding as near as 0.15 mm."""
FINE = QUALITIES["fine"]
_MOST_PANELS = 60
_STOUT, _LEAST = 16.0, 3.0  # lengths in radii up to which the mesh is as asked for; elements over the radius at least


@dataclass(frozen=True, kw_only=True, eq=False)
class RigidMagnet:
    """A magnet as rings of moment about its middle.

    Attributes
    ----------
    r, z : arrays (n,)
        Radii and heights over the magnet's middle, m.
    radial, axial : arrays (n,)
        Moments of the rings, A·m²; z up.
    """

    r: Array
    z: Array
    radial: Array
    axial: Array

    @property
    def moment(self) -> float:
        """All of it along the axis, A·m²."""
        return float(np.sum(self.axial))

    def turned_round(self) -> RigidMagnet:
        """The other end up."""
        return replace(self, z=-self.z, axial=-self.axial)


@dataclass(frozen=True, kw_only=True, eq=False)
class MagnetInAir:
    """A magnet alone, its middle at z = 0.

    Attributes
    ----------
    section, state
        Its cell and what was found in it.
    rings : RigidMagnet
    permeance : float
        −B/(μ0 H) as the mean over the magnet.
    demagnetising : float
        Mean H along the direction that it is magnetised in, A/m; negative.
    flux_density : float
        Mean B in the same direction, T.
    volume : float
        m³.
    """

    section: Section
    state: BiasState
    rings: RigidMagnet
    demagnetising: float
    flux_density: float
    volume: float

    @property
    def permeance(self) -> float:
        """Permeance coefficient −B/(μ0 H) of the means."""
        return -self.flux_density * NU0 / self.demagnetising

    @property
    def magnetisation(self) -> float:
        """Mean M along the axis, A/m, north positive upwards."""
        return self.rings.moment / self.volume


def magnet_in_air(part: PartShape, materials: Materials, quality: Quality = FINE) -> MagnetInAir:
    """Solve a magnet alone.

    Parameters
    ----------
    part : PartShape
        With its middle at z = 0.
    materials : mapping
        Has its material.
    """
    s = section(PoleShape(parts=(part,)), fitting((part,), quality))
    material = body_material(materials, part.material)
    state = BiasCell(section=s, materials=(material,)).solve()
    b, points = state.b[0], s.points[0]
    h = in_section(material, part, b, None)[0]
    M = b * NU0 - h
    volume = 2 * np.pi * points.weight
    r, z = (np.asarray(c).ravel() for c in np.asarray(s.parts[0].global_coordinates()))
    whole = float(np.sum(volume))
    sign = float(part.polarity)
    rings = on_rings(part, r, z, M[0].ravel() * volume, M[1].ravel() * volume)
    return MagnetInAir(section=s, state=state, rings=rings, volume=whole,
                       demagnetising=sign * float(h[1].ravel() @ volume) / whole,
                       flux_density=sign * float(b[1].ravel() @ volume) / whole)


def fitting(parts: Sequence[PartShape], quality: Quality) -> Quality:
    """A long thin part is nearly even across: fewer elements there than the length of all would multiply."""
    thin = min(min(p.radius, p.top - p.bottom) for p in parts)
    slender = max(p.top - p.bottom for p in parts) / thin
    return replace(quality, divisions=min(quality.divisions, max(_LEAST, quality.divisions * _STOUT / slender)))


def on_rings(part: PartShape, r: Array, z: Array, radial: Array, axial: Array) -> RigidMagnet:
    """Moments (n,) at places (n,) of a straight rod, handed over to rings in stretches of at most its radius."""
    squares = chebyshev(0.0, part.radius**2, RADII)
    panels = int(np.clip(np.ceil((part.top - part.bottom) / (0.7 * part.radius)), 2, _MOST_PANELS))
    edges = np.linspace(part.bottom, part.top, panels + 1)
    across = lagrange(squares, r * r)
    home = np.clip(np.searchsorted(edges, z, side="right") - 1, 0, panels - 1)
    out: list[tuple[Array, Array, Array, Array]] = []
    rings = np.sqrt(squares)
    for k, (low, high) in enumerate(pairwise(edges)):
        mine = home == k
        heights = chebyshev(low, high, PER_PANEL)
        along = lagrange(heights, z[mine])
        R, Z = np.meshgrid(rings, heights, indexing="ij")
        m_z = (across[mine] * axial[mine, None]).T @ along
        m_r = (across[mine] * (radial[mine] * r[mine])[:, None]).T @ along / rings[:, None]
        out.append((R.ravel(), Z.ravel(), m_r.ravel(), m_z.ravel()))
    found = [np.concatenate(parts) for parts in zip(*out, strict=True)]
    return RigidMagnet(r=found[0], z=found[1], radial=found[2], axial=found[3])
