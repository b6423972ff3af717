r"""The same magnet grade with another coercivity, as batches of one grade have it.

Every field of the major curve is multiplied by k at its B::

    h(B) → k h(B),   so Hc → k Hc and BHmax → k BHmax at one Br

except what a small reversal follows: the recoil slope stays that of the grade, and no slope dB/dH falls under
μ0 (else J would rise while the magnet is demagnetised). Hence, law by law:

    hyperbola   Hc and BHmax scaled, the recoil line through (0, Br) that bounds it kept
    knee        the steep line and the rounding scaled, the recoil line kept; where that line reaches B = 0
                first (ferrite, rare earths) only the intrinsic coercivity moves
    points      each H scaled, none nearer to H = 0 than the line of slope μ0 through (0, Br)
    straight    has no coercivity of its own: refused
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from stringflux.geometry.errors import CaseError

from ..constants import MU0
from .demagnetisation import Demagnetisation, Hyperbola, Knee, Points
from .magnet import MagnetCurve


@lru_cache(maxsize=128)
def scaled(magnet: MagnetCurve, *, coercivity: float) -> MagnetCurve:
    """A magnet with `coercivity` times the fields of this one.

    Parameters
    ----------
    magnet : MagnetCurve
    coercivity : float
        k, above 0.

    Raises
    ------
    CaseError
        For a straight magnet, or where the scaled curve would be no magnet's.

    Examples
    --------
    >>> from stringflux.solver.materials import find_material
    >>> weak = scaled(find_material("alnico-5"), coercivity=0.9)
    >>> round(weak.coercivity, -2), round(float(weak.major(0.0)[0]), -2)
    (45800.0, -45800.0)
    """
    if coercivity == 1.0:
        return magnet
    if not 0.0 < coercivity < float("inf"):
        raise CaseError(f"coercivity_scale: received {coercivity:g}; write a number above 0")
    law = _scaled_law(magnet, coercivity)
    return replace(magnet, law=law, coercivity=-float(law.h(np.array([0.0]))[0][0]))


def _scaled_law(magnet: MagnetCurve, k: float) -> Demagnetisation:
    law = magnet.law
    if isinstance(law, Hyperbola):
        return replace(law, coercivity=k * law.coercivity, energy_product=k * law.energy_product)
    if isinstance(law, Knee):
        slope = min(k * law.knee_slope, 1.0 / MU0)
        made = replace(law, knee_field=k * law.knee_field, knee_slope=slope, rounding=k * law.rounding)
        # B₁ anew, so that the curve passes (0, Br) still
        e2 = made.rounding**2 / 4
        start = magnet.remanence + e2 / (made.knee_field - slope * magnet.remanence) / law.line_slope
        return replace(made, line_remanence=start)
    if isinstance(law, Points):
        B = np.array(law.inductions)
        H = np.maximum(k * np.array(law.fields), (B - magnet.remanence) / MU0)
        return Points(fields=tuple(H.tolist()), inductions=law.inductions)
    raise CaseError(
        f"coercivity_scale: received {k:g} for {magnet.name!r}, a linear magnet, which has no coercivity of its own; "
        "change its remanence or drop coercivity_scale"
    )
