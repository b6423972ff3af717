"""Capacitance of a winding from its layers, a rough estimate.

Two neighbouring layers are plates of the layer's height h times the mean turn ℓ,

    C_l = ε₀ ε ℓ h / t,    t = 1.26 d − 1.15 d_c

with t the effective distance of two layers of round wire, d over the insulation, d_c of the copper (Snelling,
*Soft Ferrites*, 1969; from memory). Wound to and fro in n layers the voltage between two neighbours grows from
0 to 2 U/n along them, so the energy of the n − 1 gaps gives

    C = 4 (n − 1)/(3 n²) C_l.

ε lies between enamel (some 3.5) and air: 2.5. A scattered winding has looser neighbours, which lowers C, and puts
turns of very different voltage side by side, which raises it; wax, the leads and nearby metal raise it. Hence
a factor of two either way; a measured value is always better.

References
----------
Distance of two layers: E. C. Snelling, *Soft Ferrites*, Iliffe 1969 (memory). The sum over layers: derived here.
"""

from __future__ import annotations

EPSILON_0 = 8.8541878128e-12
PERMITTIVITY = 2.5
DOUBT = 2.0


def layer_capacitance(*, overall: float, bare: float, turn: float, height: float) -> float:
    """Capacitance of two neighbouring layers, F; lengths in m."""
    return EPSILON_0 * PERMITTIVITY * turn * height / (1.26 * overall - 1.15 * bare)


def self_capacitance(*, turns: float, overall: float, bare: float, turn: float, height: float) -> float:
    """Estimate for a whole winding, F.

    Parameters
    ----------
    turns : float
    overall, bare : float
        Diameter of the wire with and without its insulation, m.
    turn : float
        Length of the mean turn, m.
    height : float
        Of the window along the coil's axis, m.
    """
    layers = max(turns * overall / height, 2.0)  # of touching turns; fractions of a layer are no matter here
    between = layer_capacitance(overall=overall, bare=bare, turn=turn, height=height)
    return 4 * (layers - 1) / (3 * layers**2) * between
