"""From a case to its pickup."""

from __future__ import annotations

from stringflux.geometry.case.model import Case
from stringflux.solver.stages import Keep

from .files.taps import tap_changes
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


def at_tap(pickup: Pickup, tap: str) -> Pickup:
    """The pickup with the turns of a coil alone that lie inside a tap of its case, the others open.

    Parameters
    ----------
    tap : str
        Turns as the case's `taps` has them, "2000"; of several coils with such a tap "lower: 2000".

    Raises
    ------
    CaseError
        If the case has no such tap.

    Examples
    --------
    >>> from stringflux.cases import at_tap, load_case, solve
    >>> whole = solve(load_case("bench-single", {"coil.taps": [2000]}), quality="draft")
    >>> round(at_tap(whole, "2000").winding()[0].mean_turn / whole.winding()[0].mean_turn, 2)
    0.76
    """
    return pickup.with_(tap_changes(pickup.case, tap))
