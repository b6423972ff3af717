"""The row of poles whose heights a balance changes: which one it is, and what gaps over it count from.

Of a build with several coils any row may be named, by its coil; without a name it is the first one. Its poles move
as wholes, with all their parts: what stood on a body before leaves a gap there.
"""

from __future__ import annotations

import math

from stringflux.geometry.case.keys import near
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.rows import PoleRow
from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import shown


def moving_row(case: Case, name: str = "") -> PoleRow:
    """The row of the coil `name`, the first one if left out.

    Raises
    ------
    CaseError
        When there is none.
    """
    rows = case.rows()
    if not rows:
        screws = f"; {said}" if (said := screws_that_stay(case)) else ""
        raise CaseError("--by: this case has no row of poles, so no height of a pole can be set; write --by tilt, "
                        f"which moves the bass and the treble side of the whole pickup{screws}")
    if not name:
        return rows[0]
    named = {_coil(case, row): row for row in rows}
    if name not in named:
        bare = name in case.coil_names()
        what = "the name of a coil without a row of its own" if bare else f"which is no row{near(name, named)}"
        raise CaseError(f"--row: received {shown(name)}, {what}; the rows are those of the "
                        f"{'coil' if len(named) == 1 else 'coils'} {', '.join(map(shown, named))}")
    return named[name]


def _coil(case: Case, row: PoleRow) -> str:
    return case.coil_names()[row.coil]


def screws_that_stay(case: Case) -> str:
    """Which bodies are screws, of which nothing says whose string they are set for; "" where none is."""
    names = [shown(body.name) for body, table in zip(case.own_bodies(), case.body, strict=True)
             if table.shape == "screw" or table.screw is not None]
    stay = f"{' and '.join(names)} {'stay' if len(names) > 1 else 'stays'}"
    return f"{stay}, written as [[body]]; write as [[pole]] a screw that a balance is to set" if names else ""


def lift(case: Case, row: PoleRow) -> float:
    """How much higher strings are over the row than at x = 0, where undersides are told, m."""
    return row.row.x * math.tan(case.strings.plane_angle)
