"""Materials at the ends of what is known of them.

No published value of μ_⊥ of alnico is at hand, and the reversible slope of string steel is known within a range. The
table gives both as ranges beside the nominal value.
"""

from __future__ import annotations

from dataclasses import replace

from .kinds import BodyMaterial, is_magnet
from .string_steel import StringSteel


def at_transverse_end(material: BodyMaterial, end: int) -> BodyMaterial:
    """With the least (0) or the largest (1) μ_⊥ that a magnet may have; what is not in doubt as it is.

    Examples
    --------
    >>> from stringflux.solver.materials import find_material
    >>> [at_transverse_end(find_material("alnico-5"), end).mu_transverse for end in (0, 1)]
    [1.5, 6.0]
    """
    if not is_magnet(material) or not material.mu_transverse_range[0] < material.mu_transverse_range[1]:
        return material
    return replace(material, mu_transverse=material.mu_transverse_range[end])


def at_reversible(metal: StringSteel, place: float) -> StringSteel:
    """The reversible susceptibility at a place in its range, 0 (least) … 1 (largest), at most the initial one."""
    low, high = metal.chi_reversible_range
    chi = low + place * (high - low)
    return replace(metal, chi_reversible=min(max(chi, 0.0), metal.chi_initial))
