"""From a case to its pickup."""

from __future__ import annotations

from stringflux.geometry.case.model import Case
from stringflux.solver.stages import Keep

from .pickup import Pickup
from .solved.numerics import SHIPPED, Numerics
from .solved.solve import solved_case


def solve(case: Case, *, quality: str = "normal", solver: str = "auto", keep: Keep | None = None,
          numerics: Numerics = SHIPPED) -> Pickup:
    """A case with its solution, whichever solver it goes to.

    Parameters
    ----------
    case : Case
        From :func:`stringflux.cases.load_case`.
    quality : {"draft", "normal", "fine"}
    solver : {"auto", "row", "solid", "plane"}
        "auto": the one that the case needs.
    keep : Keep, optional
        What other pickups keep their solutions in, to share them; a memory of its own if left out.
    numerics : Numerics
        Other numerical settings than the program's.

    Raises
    ------
    CaseError
        If that solver cannot do the case.

    Examples
    --------
    >>> from stringflux.cases import load_case, solve
    >>> pickup = solve(load_case("bench-single"), quality="draft")
    >>> pickup.solver
    'row'
    >>> 0.1 < pickup.prediction(maps=False).coil.inductance < 0.3
    True
    """
    return Pickup(solved_case(case, quality, solver=solver, keep=keep, numerics=numerics), solver)
