r"""The same magnet grade with another coercivity or remanence, as batches of one grade have it.

Coercivity times k: every field of the major curve is multiplied at its B::

    h(B) → k h(B),   so Hc → k Hc and BHmax → k BHmax at one Br

Remanence times k: every B is multiplied at its field::

    h(B) → h(B/k),   so Br → k Br and BHmax → k BHmax at one Hc

Both keep what a small reversal follows: the recoil slope stays that of the grade, and no slope dB/dH falls under
μ0 (else J would rise while the magnet is demagnetised). Hence, law by law:

                coercivity                                  remanence
    hyperbola   Hc, Hci, BHmax scaled                        Br and BHmax scaled
                the recoil line through (0, Br) that bounds it kept in both
    knee        the steep line and the rounding scaled      the recoil line moved to the new (0, Br)
                the rest kept: where the recoil line reaches B = 0 before the knee (rare earths) only the
                intrinsic coercivity moves with the one, and Hc goes with Br with the other
    points      each H scaled                               each B scaled
                none nearer to H = 0 than the line of slope μ0 through (0, Br)
    straight    has no coercivity of its own: refused       moved to the new (0, Br)

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError

from ..constants import MU0
from .demagnetisation import Demagnetisation, Hyperbola, Knee, Points, Straight
from .magnet import MagnetCurve


@lru_cache(maxsize=512)
def scaled(magnet: MagnetCurve, *, coercivity: float = 1.0, remanence: float = 1.0) -> MagnetCurve:
    """A magnet with `coercivity` times the fields and `remanence` times the flux densities of this one.

    Parameters
    ----------
    magnet : MagnetCurve
    coercivity, remanence : float
        Factors, above 0.

    Raises
    ------
    CaseError
        For another coercivity of a straight magnet, or where the scaled curve would be no magnet's.

    Examples
    --------
    >>> from stringflux.solver.materials import find_material
    >>> weak = scaled(find_material("alnico-5"), coercivity=0.9)
    >>> round(weak.coercivity, -2), round(float(weak.major(0.0)[0]), -2)
    (45800.0, -45800.0)
    >>> low = scaled(find_material("alnico-5"), remanence=0.9)
    >>> round(low.remanence, 3), round(low.coercivity, -2)
    (1.152, 50900.0)
    """
    for key, factor in (("coercivity_scale", coercivity), ("remanence_scale", remanence)):
        if not 0.0 < factor < float("inf"):
            raise CaseError(f"{key}: received {factor:g}; write a number above 0")
    if coercivity != 1.0:
        magnet = _with(magnet, _other_fields(magnet, coercivity), magnet.remanence)
    if remanence != 1.0:
        magnet = _with(magnet, _other_inductions(magnet, remanence), remanence * magnet.remanence)
    return magnet


def _with(magnet: MagnetCurve, law: Demagnetisation, remanence: float) -> MagnetCurve:
    return replace(magnet, law=law, remanence=remanence, coercivity=-float(law.h(np.array([0.0]))[0][0]))


def _other_fields(magnet: MagnetCurve, k: float) -> Demagnetisation:
    law = magnet.law
    if isinstance(law, Hyperbola):
        return replace(law, coercivity=k * law.coercivity, energy_product=k * law.energy_product,
                       intrinsic_coercivity=k * law.intrinsic_coercivity)
    if isinstance(law, Knee):
        slope = min(k * law.knee_slope, 1.0 / MU0)
        made = replace(law, knee_field=k * law.knee_field, knee_slope=slope, rounding=k * law.rounding,
                       lowest=min(law.lowest, k * law.lowest))
        return _through(made, magnet.remanence)
    if isinstance(law, Points):
        return _under_air(k * np.array(law.fields), np.array(law.inductions))
    raise CaseError(
        f"coercivity_scale: received {k:g} for {magnet.name!r}, a linear magnet, which has no coercivity of its own; "
        "change its remanence or drop coercivity_scale"
    )


def _other_inductions(magnet: MagnetCurve, k: float) -> Demagnetisation:
    law, new = magnet.law, k * magnet.remanence
    if isinstance(law, Hyperbola):
        return replace(law, remanence=new, energy_product=k * law.energy_product)
    if isinstance(law, Knee):
        if law.knee_field <= law.knee_slope * new:
            raise CaseError(
                f"remanence_scale: received {k:g} for {magnet.name!r}, whose curve leaves no room for so much; "
                "write a number nearer to 1"
            )
        return _through(replace(law, lowest=min(law.lowest, k * law.lowest)), new)
    if isinstance(law, Straight):
        return replace(law, remanence=new)
    if isinstance(law, Points):
        return _under_air(np.array(law.fields), k * np.array(law.inductions))
    raise TypeError(f"a law of unknown kind, {type(law).__name__}")


def _through(law: Knee, remanence: float) -> Knee:
    """The same curve with the recoil line moved so that it passes (0, Br)."""
    over = law.rounding**2 / 4 / (law.knee_field - law.knee_slope * remanence)
    return replace(law, line_remanence=remanence + over / law.line_slope)


def _under_air(H: Array, B: Array) -> Points:
    """A table whose last point is the remanence, with B falling no slower from there than in air."""
    return Points(fields=tuple(np.maximum(H, (B - B[-1]) / MU0).tolist()), inductions=tuple(B.tolist()))
