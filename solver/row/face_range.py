"""How far the face field moves within what is known of the magnets' transverse permeability.

No published value of μ_⊥ of alnico is at hand, and 1.5 … 6 moves the face field of a rod by 9 %. The ratio
to the nominal value is that of the pole standing alone.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from ..section.bias import BiasCell, BiasState, Tangent
from .face_field import own_axial_field


def face_band(cell: BiasCell, alone: BiasState, tangent: Tangent, height: float) -> tuple[float, float]:
    """Factors on the axial field `height` over the face for the ends of every magnet's μ_⊥ range."""
    b = own_axial_field(cell.section, alone, height)
    if b == 0.0 or all(_range(m) is None for m in cell.materials):
        return 1.0, 1.0
    factors = []
    for end in (0, 1):
        changed = tuple(m if (r := _range(m)) is None else replace(m, mu_transverse=r[end])
                        for m in cell.materials)
        state = cell.of(changed).solve(start=alone, tolerance=1e-4, tangent=cell.run(tangent))
        factors.append(own_axial_field(cell.section, state, height) / b)
    return min(factors), max(factors)


def _range(material: Any) -> tuple[float, float] | None:
    found = getattr(material, "mu_transverse_range", None)
    if found is None or found[0] >= found[1]:
        return None
    return float(found[0]), float(found[1])

