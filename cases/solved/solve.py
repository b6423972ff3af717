"""From a case to its solution by the solver that it needs."""

from __future__ import annotations

from collections.abc import Mapping

from stringflux.geometry.case.model import Case
from stringflux.solver.stages import Keep

from ..kept.store import memory
from .abstract import SolvedCase
from .bars_case import BarsCase
from .build_case import SolidCase
from .choice import choose
from .numerics import SHIPPED, Numerics
from .row_case import RowCase

_BY: Mapping[str, type[SolvedCase]] = {"row": RowCase, "solid": SolidCase, "plane": BarsCase}


def solved_case(case: Case, quality: str = "normal", *, solver: str = "auto", keep: Keep | None = None,
                history: str = "", numerics: Numerics = SHIPPED) -> SolvedCase:
    """A case with its solution, which is computed when a figure asks for it.

    Parameters
    ----------
    quality : {"draft", "normal", "fine"}
    solver : {"auto", "row", "solid", "plane"}
        "auto": the one that the case needs.
    keep : Keep, optional
        Asked for every solution before it is computed; a memory of its own if left out.
    history : {"before", "after"}, optional
        Whether the magnets were charged before or after assembly, in place of what the case says.
    numerics : Numerics

    Raises
    ------
    CaseError
        If that solver cannot do the case, or there is no such quality.
    """
    choice = choose(case, solver)
    return _BY[choice.solver](case, choice, quality, keep or memory(), history, numerics)
