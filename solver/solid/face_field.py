"""The field of a build close over the faces of its poles, where its surface charges are too coarse to be summed.

It is continued from NEAR and above by a polynomial through NODES heights over SPAN. Against the row solver, on rods
and slugs: within 2.3 % on the face and 1 % at 0.1 mm, where the sum itself is 36 % off and without sense on the
face (bench rod, draft mesh).

How far it is known: the magnets at the ends of what is known of their transverse permeability, solved on the mesh of
the nominal ones. As :func:`.row.face_field.face_band` does for a row of rods; here the whole build is solved again,
so the solutions are worth keeping.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.solid_quality import SOLID_QUALITIES, SolidQuality
from stringflux.geometry.shapes.bodies import SolidBody

from ..coil.direct import NO_CURRENTS, DirectCurrents
from ..materials.doubt import at_transverse_end
from ..materials.kinds import Materials, body_material
from .bias import SolidState, bias_charges, solve_static, sources_in
from .charged_before import laws_of
from .charges import Charges, unfolded
from .space import SolidSpace

NEAR, NEAR_DRAFT = 0.4e-3, 0.6e-3
"""Heights over a face, m, from which the field is summed; the second on meshes coarser than normal."""
SPAN, NODES = 2e-3, 5

_TOLERANCE = 1e-3  # of the residual: factors within 2e-4, for each step of Newton leaves a hundredth


def least_height(quality: SolidQuality) -> float:
    """NEAR or NEAR_DRAFT."""
    return NEAR if quality.divisions >= SOLID_QUALITIES["normal"].divisions else NEAR_DRAFT


def continued(summed: Callable[[float], Array], near: float) -> Callable[[float], Array]:
    """The fields over poles (poles,) as a function of a height under `near`, from those at heights above.

    Parameters
    ----------
    summed : callable
        From a height over the faces, m, to the fields (poles,), T.
    """
    at = near + SPAN / 2 * (1 - np.cos(np.pi * np.arange(NODES) / (NODES - 1)))
    domain = (near, near + SPAN)
    curves = [np.polynomial.Chebyshev.fit(at, b, NODES - 1, domain=domain)
              for b in np.array([summed(float(h)) for h in at]).T]
    return lambda height: np.array([curve(height) for curve in curves])


def transverse_ends(space: SolidSpace, bodies: Sequence[SolidBody], materials: Materials, bias: SolidState,
                    odd: tuple[int, ...], history: str = "after",
                    direct: DirectCurrents = NO_CURRENTS) -> tuple[Charges, ...]:
    """Charges of the bias with every magnet's μ_⊥ at its lowest and at its highest; none where nothing is in doubt.

    Parameters
    ----------
    bias : SolidState
        With the nominal materials; where Newton's method starts.
    odd : tuple of int
        Planes about which its potential is odd.
    history : {"before", "after"}
        Whether the magnets were charged before or after assembly.
    direct : DirectCurrents
        In coils beside them.
    """
    own = [body_material(materials, b.material) for b in bodies]
    out = []
    for end in (0, 1):
        other = [at_transverse_end(m, end) for m in own]
        if other == own:
            continue
        laws = laws_of(space, bodies, other, history, odd, tolerance=_TOLERANCE)
        state = solve_static(space, laws, odd=odd, sources=sources_in(space, direct), start=bias,
                             tolerance=_TOLERANCE)
        out.append(unfolded(space, bias_charges(space, state)[None], (odd,)))
    return tuple(out)
