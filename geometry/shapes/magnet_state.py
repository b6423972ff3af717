"""What a magnet's grade has become in one part: how far it is charged, and how its batch came out."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class MagnetState:
    """State of a magnet; that of a soft part says nothing.

    Attributes
    ----------
    charge : float
        How fully it is magnetised, 0…1.
    coercivity : float
        What the coercivity of its grade is multiplied with.
    remanence : float
        What the remanence of its grade is multiplied with.
    """

    charge: float = 1.0
    coercivity: float = 1.0
    remanence: float = 1.0


AS_GRADED = MagnetState()
