"""Materials at the ends of what is known of them.

μ_⊥ of oriented alnico was measured for one grade, and the reversible slope of string steel is known within a range.
The table gives both as ranges beside the nominal value.
"""

from __future__ import annotations

from dataclasses import replace

from .kinds import BodyMaterial, is_magnet, is_steel
from .string_steel import StringSteel


def at_transverse_end(material: BodyMaterial, end: int) -> BodyMaterial:
    """With the least (0) or the largest (1) μ_⊥ that a magnet may have; what is not in doubt as it is.

    Examples
    --------
    >>> from stringflux.solver.materials import find_material
    >>> [at_transverse_end(find_material("alnico-5"), end).mu_transverse for end in (0, 1)]
    [2.85, 6.5]
    """
    if not is_magnet(material) or not material.mu_transverse_range[0] < material.mu_transverse_range[1]:
        return material
    return replace(material, mu_transverse=material.mu_transverse_range[end])


def at_signal_end(material: BodyMaterial, end: int) -> BodyMaterial:
    """With the least (0) or the largest (1) permeability that a signal may meet; what is not in doubt as it is.

    An isotropic magnet answers across as along, so both move together.

    Examples
    --------
    >>> from stringflux.solver.materials import find_material
    >>> [at_signal_end(find_material("alnico-5"), end).mu_signal for end in (0, 1)]
    [2.4, 4.0]
    """
    if is_magnet(material):
        low, high = material.mu_signal_range
        if not low < high:
            return material
        mu = material.mu_signal_range[end]
        across = mu if material.mu_transverse == material.mu_signal else material.mu_transverse
        return replace(material, mu_reversible=mu, mu_transverse=across)
    if is_steel(material) and material.mu_reversible_range[0] < material.mu_reversible_range[1]:
        return replace(material, mu_reversible=material.mu_reversible_range[end])
    return material


def at_reversible(metal: StringSteel, place: float) -> StringSteel:
    """The reversible susceptibility at a place in its range, 0 (least) … 1 (largest), at most the initial one."""
    low, high = metal.chi_reversible_range
    chi = low + place * (high - low)
    return replace(metal, chi_reversible=min(max(chi, 0.0), metal.chi_initial))


def at_memory_end(metal: StringSteel, end: int) -> StringSteel:
    """The metal as it answers least (0) or most (1) to a small swing: held as strongly or weakly, and as little or as
    easily magnetised, as it may be."""
    def of(low_high: tuple[float, float], end: int, nominal: float) -> float:
        return low_high[end] if low_high[1] > 0.0 else nominal

    initial = of(metal.chi_initial_range, end, metal.chi_initial)
    return replace(metal, chi_initial=initial, pinning=of(metal.pinning_range, 1 - end, metal.pinning),
                   chi_reversible=min(of(metal.chi_reversible_range, end, metal.chi_reversible), initial))
