"""From a case to a passage: the magnet's working point, λ over its place, the motion.

λ is found by reciprocity for a magnet that keeps its magnetisation (:mod:`stringflux.solver.falling.linkage`). Near a
core it does not: there magnet and core are solved in one mesh at a few places, and λ by reciprocity is multiplied by
what that makes of it, which is smooth in the logarithm of the distance.
"""

from __future__ import annotations

import math

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.demonstrations.falling import FallingMagnet, Tube
from stringflux.geometry.errors import CaseError
from stringflux.geometry.mesh.pole import Quality
from stringflux.geometry.units import mm
from stringflux.solver.falling.core import NORMAL, Reach, linked_in_mesh, with_core
from stringflux.solver.falling.linkage import AxisField, in_air, linked
from stringflux.solver.falling.magnet import MagnetInAir, magnet_in_air
from stringflux.solver.falling.tube import TubeBrake, tube_brake
from stringflux.solver.materials.kinds import Materials

from .induced import induced, peaks_of, through
from .motion import MagnetMotion, moved
from .passage import STARTS, Passage, WorkingPoint, other_peaks, resistance_of

HEIGHTS = 201
"""Places at which λ is computed; the quintic spline between them is right to 1e-6 of the greatest λ, to 4e-5 in bores
without room."""
ANEW = 9
"""Places at which magnet and core are solved in one mesh."""
MOST_OFF = 0.02
"""By how much of the brake the field of the tube's own currents may weaken it."""


def passage(case: FallingMagnet, materials: Materials, magnet: MagnetInAir | None = None,
            quality: Quality = NORMAL) -> Passage:
    """Compute it.

    Parameters
    ----------
    magnet : MagnetInAir, optional
        The magnet alone, if it is at hand.
    quality : Quality
        Of the meshes with magnet and core; all others are fine.

    Raises
    ------
    CaseError
        If the magnet falls so fast in its tube that the field of the tube's own currents counts.
    """
    magnet = magnet or magnet_in_air(case.magnet.part(0.0), materials)
    brake = _brake(case, case.tube, materials) if case.tube is not None else None
    way = moved(case, brake)
    braked = None
    if case.tube is not None and brake is not None:
        braked = brake.at(way.z, case.tube.upper - case.tube.length, case.tube.upper)
        _refuse_fast(case, brake, braked, way)
    heights = _heights(case)
    flux = linked(magnet.rings, in_air(case.coil.racetrack()), heights)
    bare, anew = None, None
    if case.core is not None:
        b = _with_core(case, materials)
        bare, anew = flux, _anew(case, materials, b, quality)
        flux = linked(magnet.rings, b, heights) * _between(case, anew, heights)
    linkage, e = induced(through(heights, flux), way)
    first, second, middle = peaks_of(way, linkage, e)
    return Passage(
        turns=case.coil.turns, resistance=resistance_of(case), mass=case.magnet.mass, magnet=_point(magnet),
        heights=heights, linkage_at=flux, bare_at=bare, t=way.t, z=way.z, v=way.v, linkage=linkage, e=e, first=first,
        second=second, middle=middle, others=other_peaks(case, heights, flux, (first, second)), brake=brake,
        braked=braked, anew=anew)


def _point(magnet: MagnetInAir) -> WorkingPoint:
    return WorkingPoint(magnetisation=magnet.magnetisation, demagnetising=magnet.demagnetising,
                        flux_density=magnet.flux_density, volume=magnet.volume, moment=magnet.rings.moment,
                        permeance=magnet.permeance)


def _with_core(case: FallingMagnet, materials: Materials) -> AxisField:
    half = case.magnet.length / 2
    reach = Reach(radius=case.magnet.diameter / 2, low=case.nearest - half, high=case.drop.start + half)
    return with_core(case.coil.racetrack(), case.core_part(), materials, reach)


def _anew(case: FallingMagnet, materials: Materials, b: AxisField, quality: Quality) -> tuple[Array, Array]:
    """Places, crowded towards the core, and λ solved there over λ of what stays as it is; both on like meshes."""
    core, coil, magnet = case.core_part(), case.coil.racetrack(), case.magnet
    face = case.core_top + magnet.length / 2
    places = face + np.geomspace(case.nearest - face, case.drop.start - face, ANEW)
    solved = np.array([linked_in_mesh(magnet.part(float(z)), core, coil, materials, quality) for z in places])
    return places, solved / linked(magnet_in_air(magnet.part(0.0), materials, quality).rings, b, places)


def _between(case: FallingMagnet, anew: tuple[Array, Array], heights: Array) -> Array:
    """The same ratio at other heights: smooth in the logarithm of the distance from the core."""
    face = case.core_top + case.magnet.length / 2
    return np.asarray(through(np.log(anew[0] - face), anew[1])(np.log(heights - face)))


def _brake(case: FallingMagnet, tube: Tube, materials: Materials) -> TubeBrake:
    return tube_brake(case.magnet.part(0.0), tube.inner_diameter / 2, tube.outer_diameter / 2,
                      1 / materials[tube.material].resistivity, materials)


def _refuse_fast(case: FallingMagnet, brake: TubeBrake, braked: Array, way: MagnetMotion) -> None:
    fastest = float(np.max(np.abs(way.v[braked > 0.01 * brake.whole]), initial=0.0))
    if brake.off(fastest) > MOST_OFF:
        slow = brake.recession * math.sqrt(MOST_OFF / (1 - MOST_OFF))
        raise CaseError(f"tube: the magnet is at {fastest:.3g} m/s in it, and from {slow:.3g} m/s on the field of "
                        f"the tube's own currents counts, which is left out; begin lower over the tube than "
                        f"{mm(case.drop.start)}, or take a lighter or a stronger magnet, or a thinner wall")


def _heights(case: FallingMagnet) -> Array:
    """Crowded about the coil, or towards the core."""
    wide = (case.coil.outer_diameter + case.coil.length) / 4
    if case.core is None:
        low, high, middle = case.last, case.drop.start, 0.0
        if case.drop.speed is None and case.tube is None:
            high *= STARTS[-1]
    else:
        low, high, middle = case.nearest, case.drop.start, case.nearest
    s = np.linspace(math.asinh((low - middle) / wide), math.asinh((high - middle) / wide), HEIGHTS)
    heights = middle + wide * np.sinh(s)
    heights[[0, -1]] = low, high
    return heights
