"""What the other strings do to one."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class NeighbourEffect:
    """λ and S of a string among the others, against itself alone over the pickup.

    Attributes
    ----------
    number : int
        The string, from 1.
    linkage, sensitivity, sensitivity_curve : float
        λ, S and S on the static curve with the others over those without, less 1; nan where there is none, and of a
        string over a blade or bar, whose answer is known for a string in its own place alone.
    """

    number: int
    linkage: float
    sensitivity: float
    sensitivity_curve: float
