"""How far the face field moves within what is known of the magnets' transverse permeability.

No published value of μ_⊥ of alnico is at hand, and 1.5 … 6 moves the face field of a rod by 9 %. The ratio
to the nominal value is that of the pole standing alone.
"""

from __future__ import annotations

from ..materials.doubt import at_transverse_end
from ..section.bias import BiasCell, BiasState, Tangent
from .face_field import own_axial_field


def face_band(cell: BiasCell, alone: BiasState, tangent: Tangent, height: float) -> tuple[float, float]:
    """Factors on the axial field `height` over the face for the ends of every magnet's μ_⊥ range."""
    b = own_axial_field(cell.section, alone, height)
    ends = [tuple(at_transverse_end(m, end) for m in cell.materials) for end in (0, 1)]
    if b == 0.0 or ends[0] == ends[1]:
        return 1.0, 1.0
    factors = []
    for changed in ends:
        state = cell.of(changed).solve(start=alone, tolerance=1e-4, tangent=cell.run(tangent))
        factors.append(own_axial_field(cell.section, state, height) / b)
    return min(factors), max(factors)
