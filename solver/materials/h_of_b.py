r"""H(B) of the parts of a section, for the flux solvers: of poles in (r, z), of bars in (x, z).

Magnet, easy axis e::

    H = h(e·B) e + (B − (e·B) e)/(μ0 μ_⊥),     h its curve at the part's charge and history

Soft::

    H = ν(|B|²) B

with the exact tangents ∂H/∂B. Where neighbours magnetise a pole's magnet unevenly round its axis,
B_z = B₀ + Σ B_m cos mα, its curve is read at a few angles and taken apart again (:func:`round_the_axis`).

References
----------
Derived here.
"""

from __future__ import annotations

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.bodies import SolidBody
from stringflux.geometry.shapes.row import PartShape
from stringflux.geometry.shapes.section import PlanePart

from ..constants import NU0
from .kinds import BodyMaterial, is_magnet
from .magnet import MagnetCurve
from .scaled import scaled

_ANGLES = 4  # on half the circle; eight move no field by 1e-4


def as_made(magnet: MagnetCurve, part: PartShape | PlanePart | SolidBody) -> MagnetCurve:
    """The grade as this part has it, with the coercivity and the remanence of its batch."""
    coercivity, remanence = part.state.coercivity, part.state.remanence
    return magnet if coercivity == remanence == 1.0 else scaled(magnet, coercivity=coercivity, remanence=remanence)


def charge_of(part: PartShape | PlanePart | SolidBody) -> float:
    """How fully a part of a magnet's material is magnetised: not at all without a direction."""
    return part.state.charge if part.polarity else 0.0


def in_section(material: BodyMaterial, part: PartShape | PlanePart, b: Array, low: Array | None,
               waves: Array | None = None) -> tuple[Array, Array]:
    """H and its tangent.

    Parameters
    ----------
    b : array (2, …)
        B_r or B_x, and B_z, T.
    low : array (2, …), optional
        The B of the history: above it a magnet moves on its recoil line.
    waves : array (orders, …), optional
        As in :func:`round_the_axis`.

    Returns
    -------
    h : array (2, …)
        A/m.
    tangent : array (3, …)
        ∂H_r/∂B_r, ∂H_r/∂B_z, ∂H_z/∂B_z, m/H.
    """
    if is_magnet(material):
        ex, ez = part.axis
        if waves is None:
            h, slope = _along(material, part, ex * b[0] + ez * b[1],
                              None if low is None else ex * low[0] + ez * low[1])
        else:
            hs, slopes = round_the_axis(material, part, b, low, waves)
            h, slope = ez * hs[0], slopes[0, 0]
        nu_t = NU0 / material.mu_transverse
        across = nu_t * (ez * b[0] - ex * b[1])
        return (np.stack([ex * h + ez * across, ez * h - ex * across]),
                np.stack([ex * ex * slope + ez * ez * nu_t, ex * ez * (slope - nu_t),
                          ez * ez * slope + ex * ex * nu_t]))
    nu, dnu = material.reluctivity(b[0] ** 2 + b[1] ** 2)
    return nu * b, np.stack([nu + 2 * dnu * b[0] ** 2, 2 * dnu * b[0] * b[1], nu + 2 * dnu * b[1] ** 2])


def round_the_axis(magnet: MagnetCurve, part: PartShape | PlanePart, b: Array, low: Array | None,
                   waves: Array) -> tuple[Array, Array]:
    """Orders of a pole magnet's axial field and their slopes, the curve read at a few angles.

    Parameters
    ----------
    b : array (2, …)
        B of order 0, T.
    low : array (2, …), optional
        The B of the history.
    waves : array (orders, …)
        B_m of B_z = B₀ + Σ B_m cos mα, m = 1 …, T.

    Returns
    -------
    h : array (1 + orders, …)
        H_0 = ⟨h(B_z)⟩ and H_m = 2⟨h(B_z) cos mα⟩, A/m.
    slope : array (1 + orders, 1 + orders, …)
        ∂H_m/∂B_n, m/H.
    """
    m = np.arange(len(waves) + 1)
    alpha = (np.arange(_ANGLES) + 0.5) * np.pi / _ANGLES  # even in α: half the circle
    cos = np.cos(np.multiply.outer(m, alpha))
    take = np.where(m == 0, 1.0, 2.0)[:, None] * cos / _ANGLES
    up = part.axis[1]
    bz = b[1] + np.tensordot(cos[1:], waves, (0, 0))
    h, slope = _along(magnet, part, up * bz, None if low is None else up * low[1])
    return up * np.tensordot(take, h, 1), np.tensordot(take[:, None] * cos, slope, 1)


def slope_with_history(material: BodyMaterial, part: PartShape, b: Array, low: Array) -> Array:
    """∂H_z/∂B_low (…) in m/H of a pole's part at axial b (…) in T that has been at `low`: 0 off the recoil line."""
    if not is_magnet(material) or not part.polarity:
        return np.zeros_like(b)
    magnet = as_made(material, part)
    along, lowest = part.polarity * b, part.polarity * low
    free = magnet.field(along, charge=part.state.charge)[0]
    held = magnet.field(along, charge=part.state.charge, b_low=lowest)[0]
    slope = magnet.field(lowest, charge=part.state.charge)[1] - NU0 / magnet.mu_recoil
    return np.asarray(np.where(held > free, slope, 0.0))


def _along(magnet: MagnetCurve, part: PartShape | PlanePart, b: Array, low: Array | None) -> tuple[Array, Array]:
    """H and dH/dB along a magnet's easy axis at the B along it."""
    return as_made(magnet, part).field(b, charge=charge_of(part), b_low=low)
