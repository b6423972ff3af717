r"""Materials at another temperature than the 20 °C of their table.

A magnet whose polarisation falls by one share k everywhere, and comes back with the temperature, has its whole curve
smaller by k, B and H alike. Its knee may come nearer than that, for the intrinsic coercivity of ferrites falls when
they cool and that of rare earths when they warm up. With ΔT = T − 20 °C ::

    k = 1 + α ΔT        Br(T) = k Br        Hci(T) = Hci min(k, 1 + β ΔT)

α is published at the working points of usual magnets. Where the knee would move away from the magnet it goes with k:
what was lost at 20 °C stays lost. Derived here. Conductors and steels::

    ρ(T) = ρ (1 + α ΔT)

What strings and steel poles answer to a field is taken as it is at 20 °C.

References
----------
Joksch, Physica 80B (1975) 199: α of alnico depends on the load line (abstract read; the table has a wide range).
"""

from __future__ import annotations

from dataclasses import replace

from stringflux.geometry.errors import CaseError

from .demagnetisation import Knee
from .kinds import Material, is_magnet, is_string_metal
from .magnet import MagnetCurve
from .scaled import scaled

REFERENCE = 20.0
"""°C, at which the table holds."""


def at_temperature(material: Material, celsius: float) -> Material:
    """The same material at a temperature.

    Parameters
    ----------
    material : Material
        As its table or its case has it, at 20 °C.
    celsius : float
        °C.

    Raises
    ------
    CaseError
        Beyond the range in which the grade's coefficients hold, or where it has none.

    Examples
    --------
    >>> from stringflux.solver.materials import find_material
    >>> warm = at_temperature(find_material("ndfeb-38"), 60.0)
    >>> round(warm.remanence, 4)  # 1.26 T, 4 % less
    1.2096
    """
    warmer = celsius - REFERENCE
    if warmer == 0.0 or is_string_metal(material):
        return material
    if is_magnet(material):
        return _magnet(material, celsius)
    rises = material.resistivity_per_kelvin
    return replace(material, resistivity=material.resistivity * (1.0 + rises * warmer)) if rises else material


def remanence_change(magnet: MagnetCurve, celsius: float) -> tuple[float, float, float]:
    """Least, nominal and greatest change of the remanence from 20 °C, as shares of it; nan where nobody said it."""
    warmer, told = celsius - REFERENCE, magnet.thermal
    if told.remanence is None:
        return float("nan"), float("nan"), float("nan")
    low, high = sorted(c * warmer for c in told.remanence_range)
    return low, told.remanence * warmer, high


def knee(magnet: MagnetCurve) -> float | None:
    """B at which the recoil line of a magnet meets its steep line, T; None for a rounded loop, or one below B = 0."""
    law = magnet.law
    if not isinstance(law, Knee):
        return None
    at = (law.line_remanence * law.line_slope - law.knee_field) / (law.line_slope - law.knee_slope)
    return at if at > 0.0 else None


def _magnet(magnet: MagnetCurve, celsius: float) -> MagnetCurve:
    told, warmer = magnet.thermal, celsius - REFERENCE
    low, high = told.range
    if told.remanence is None:
        raise CaseError(f"conditions, temperature: received {celsius:g} degC, but how {magnet.name!r} changes "
                        "with it is not said; write its remanence_per_kelvin under [materials], or 20 degC")
    if not low <= celsius <= high:
        raise CaseError(f"conditions, temperature: received {celsius:g} degC; what is known of {magnet.name!r} holds "
                        f"from {low:g} to {high:g} degC")
    share = 1.0 + told.remanence * warmer
    if magnet.straight:  # it has no coercivity of its own
        return scaled(magnet, remanence=share)
    nearest = share if told.coercivity is None else min(share, 1.0 + told.coercivity * warmer)
    return scaled(magnet, coercivity=nearest, remanence=share)
