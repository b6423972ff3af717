"""A comparison of designs before it is computed: what is varied, what is asked, and how it is ranked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from stringflux.geometry.case.model import Case

    from .plan import Plan, Tasks
    from .ranking import Rank


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """A comparison before it is computed."""

    name: str
    case: Case
    plan: Plan
    ranks: tuple[Rank, ...]
    tasks: Tasks
    about: Mapping[str, Any]
