r"""The brake of a conducting tube on a magnet that falls along its axis.

A ring of the wall at (r, ζ) from the magnet's middle sees the flux Φ = 2πr A through it change as the magnet moves
at v; B_r = −∂A/∂z, so its emf is 2πr v B_r, its current density σ v B_r, and the power in all rings is F v::

    F = k v          k = σ ∫_wall B_r² dV

The currents' own field is left out. In a thin wall of radius a it weakens the wave number κ of them by the factor
1/(1 + s²), s = μ0 σ δ v κa I₁(κa) K₁(κa) with δ the thickness, and κa I₁K₁ is below 1/2. So with Maxwell's speed ::

    w = 2/(μ0 σ δ)          1 ≥ F/(k v) ≥ 1/(1 + (v/w)²)

which says how far F = k v holds. A tube that ends brakes less near its ends: there the integral goes over what wall
there is.

References
----------
Thin wall, point dipole, k = 45 μ0² m² σ δ/(1024 a⁴): W. M. Saslow, "Maxwell's theory of eddy currents in thin
conducting sheets, and applications to electromagnetic shielding and MAGLEV", *Am. J. Phys.* 60 (1992) 693 (memory;
integral done again in the test). Two poles: Y. Levin, F. L. da Silveira, F. B. Rizzato, "Electromagnetic braking: a
simple quantitative model", *Am. J. Phys.* 74 (2006) 815 (memory; integral done again in the test). Finite magnet and
wall: derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.pole import QUALITIES, Quality
from stringflux.geometry.shapes.row import PartShape, PoleShape

from ..constants import MU0
from ..materials.constant import ConstantPermeability
from ..materials.kinds import Materials, body_material
from ..section.bias import BiasCell
from ..section.space import section

FINE = QUALITIES["fine"]
REACH = 4.0
"""How far from the magnet's ends the wall counts, in outer radii of the tube: beyond it B_r² has fallen to 1e-6."""


@dataclass(frozen=True, kw_only=True, eq=False)
class TubeBrake:
    """The brake as a function of where the tube begins and ends.

    Attributes
    ----------
    z : array (n,)
        Heights over the magnet's middle, ascending, m.
    below : array (n,)
        Brake of the wall below each height, N·s/m.
    recession : float
        w, m/s.
    """

    z: Array
    below: Array
    recession: float

    @property
    def whole(self) -> float:
        """k in a long tube, N·s/m."""
        return float(self.below[-1])

    def at(self, magnet: Array, bottom: float, top: float) -> Array:
        """k with the magnet's middle at each height (n,) in a tube from `bottom` to `top`, m."""
        above, under = (np.interp(end - magnet, self.z, self.below) for end in (top, bottom))
        return np.asarray(above - under)

    def off(self, speed: float) -> float:
        """By what share F may be less than k v at a speed, at most."""
        x = speed / self.recession
        return x * x / (1 + x * x)


def tube_brake(magnet: PartShape, inner: float, outer: float, conductivity: float, materials: Materials,
               quality: Quality = FINE) -> TubeBrake:
    """Solve the magnet in the space that the tube leaves it.

    Parameters
    ----------
    magnet : PartShape
        With its middle at z = 0.
    inner, outer : float
        Radii of the tube, m.
    conductivity : float
        S/m.
    """
    half = magnet.top + REACH * outer
    wall = PartShape(material="the tube", outline=((inner, -half), (outer, -half), (outer, half), (inner, half)))
    s = section(PoleShape(parts=(magnet, wall)), quality)
    of = (body_material(materials, magnet.material), ConstantPermeability(name="the tube", mu_r=1.0))
    state = BiasCell(section=s, materials=of).solve()
    power = conductivity * 2 * np.pi * s.points[1].weight * state.b[1][0].ravel() ** 2
    z = np.asarray(s.parts[1].global_coordinates())[1].ravel()
    steps = np.linspace(-half, half, 401)
    inside = np.histogram(z, bins=steps, weights=power)[0]
    return TubeBrake(z=steps, below=np.concatenate([[0.0], np.cumsum(inside)]),
                     recession=2 / (MU0 * conductivity * (outer - inner)))
