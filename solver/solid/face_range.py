"""The magnets at the ends of what is known of their transverse permeability, solved on the mesh of the nominal ones.

As :mod:`.row.face_range` does for a row of rods; here the whole build is solved again, so the solutions are worth
keeping.
"""

from __future__ import annotations

from collections.abc import Sequence

from stringflux.geometry.shapes.bodies import SolidBody

from ..materials.doubt import at_transverse_end
from ..materials.kinds import Materials, body_material
from .bias import SolidState, bias_charges, solve_static
from .charged_before import laws_of
from .charges import Charges, unfolded
from .space import SolidSpace

_TOLERANCE = 1e-5  # of the residual: only a range is asked for


def transverse_ends(space: SolidSpace, bodies: Sequence[SolidBody], materials: Materials, bias: SolidState,
                    odd: tuple[int, ...], history: str = "after") -> tuple[Charges, ...]:
    """Charges of the bias with every magnet's μ_⊥ at its lowest and at its highest; none where nothing is in doubt.

    Parameters
    ----------
    bias : SolidState
        With the nominal materials; where Newton's method starts.
    odd : tuple of int
        Planes about which its potential is odd.
    history : {"before", "after"}
        Whether the magnets were charged before or after assembly.
    """
    own = [body_material(materials, b.material) for b in bodies]
    out = []
    for end in (0, 1):
        other = [at_transverse_end(m, end) for m in own]
        if other == own:
            continue
        laws = laws_of(space, bodies, other, history, odd, tolerance=_TOLERANCE)
        state = solve_static(space, laws, odd=odd, start=bias.phi, tolerance=_TOLERANCE)
        out.append(unfolded(space, bias_charges(space, state)[None], (odd,)))
    return tuple(out)
