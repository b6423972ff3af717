"""A comparison of designs before it is computed: what is varied, what is asked, and how it is ranked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import shown

if TYPE_CHECKING:
    from stringflux.geometry.case.model import Case

    from .plan import Combine, Plan, Tasks
    from .ranking import Rank


@dataclass(frozen=True, kw_only=True)
class CompareRequest:
    """Which designs are compared, and by what.

    Attributes
    ----------
    vary : mapping of str to object
        Fields of the case by dotted path, ``"strings.gap"`` or ``"pole.part.material"``, each with a list of values
        as case files write them, or with a text: "1.5mm,2mm", "1.5mm:3.5mm:9" for so many from one to the other.
    combine : {"grid", "paired", "sample"}
        All combinations; the first values of all, then the second ones …; or points that fill the space evenly.
    sample, seed : int
        Designs of a sample, and its scrambling. A sample also takes ranges without a number, "1.5mm:3.5mm".
    rank : tuple of str
        Figures that decide which design is best, such as ``("output", "pull:less")``; sensitivity, then balance, if
        empty.
    want : tuple of str
        Figures to compute besides; the common ones are in any case.
    """

    vary: Mapping[str, Any]
    combine: Combine = "grid"
    sample: int = 0
    seed: int = 1
    rank: tuple[str, ...] = ()
    want: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.combine not in ("grid", "paired", "sample"):
            raise CaseError(f"combine: received {shown(self.combine)}; write grid, paired, sample")
        for name in ("rank", "want"):
            if isinstance(getattr(self, name), str):
                raise CaseError(f"{name}: received a text; write a tuple of names of figures")


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """A comparison before it is computed.

    Attributes
    ----------
    name : str
        Of the case's file.
    case : Case
    plan : Plan
        The designs: for each, by number from 0, the values of what is varied.
    ranks : tuple of Rank
    tasks : Tasks
    about : mapping
        What a study folder tells of it.
    """

    name: str
    case: Case
    plan: Plan
    ranks: tuple[Rank, ...]
    tasks: Tasks
    about: Mapping[str, Any]
