"""The solver that a case needs: a row of poles, bodies in 3-D, or a plane across long bars.

A row of round poles in one coil has the fast chain of coupled axisymmetric cells; everything else is one 3-D solve,
or where it is asked for and the bodies are long bars, one of their section with its ends.
"""

from __future__ import annotations

from dataclasses import dataclass

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.shapes.long_bars import why_no_section
from stringflux.geometry.shapes.row import FormedShape
from stringflux.geometry.units import shown

SOLVERS = ("auto", "row", "solid", "plane")


@dataclass(frozen=True, kw_only=True)
class Choice:
    """A solver, "row", "solid" or "plane", and the words that say why."""

    solver: str
    why: str


def choose(case: Case, wanted: str = "auto") -> Choice:
    """Which solver a case goes to.

    Parameters
    ----------
    wanted : {"auto", "row", "solid", "plane"}
        "plane" only when it is asked for: it is fast, and less exact than 3-D near the ends of the bars.

    Raises
    ------
    CaseError
        If that solver cannot do the case.
    """
    if wanted not in SOLVERS:
        raise CaseError(f"--solver: received {shown(wanted)}; write {', '.join(SOLVERS)}")
    beyond = _beyond_a_row(case)
    if wanted == "row" and beyond:
        raise CaseError(f"--solver: row takes one row of round poles in one coil, but this case has {beyond}; leave "
                        "--solver out or write solid")
    no_section = why_no_section(case.magnetic_bodies(), case.racetracks())
    if case.has_direct_current and not no_section:
        no_section = "a direct current in its coil"
    if wanted == "plane" and no_section:
        raise CaseError("--solver: plane takes long bars across the strings, all about as long, in one coil, but "
                        f"this case has {no_section}; leave --solver out")
    if wanted in ("solid", "plane"):
        return Choice(solver=wanted, why="asked for")
    if beyond and not no_section:
        return Choice(solver="solid", why=f"it has {beyond}; --solver plane is faster, for first looks")
    if beyond:
        return Choice(solver="solid", why=f"it has {beyond}")
    return Choice(solver="row", why="it is one row of poles in one coil")


def _beyond_a_row(case: Case) -> str:
    """What the row solver does not know, "" if there is nothing."""
    if case.is_plain_row and case.string:
        return ""
    found = []
    if not case.placed_poles():
        found.append("no row of poles")
    if len(case.rows()) > 1:
        found.append(f"{len(case.rows())} rows of poles")
    if len(case.coils()) > 1:
        found.append(f"{len(case.coils())} coils")
    if any(coil.path for coil in case.coils()):
        found.append("a coil on a path of its own")
    if not case.string:
        found.append("no string")
    if case.has_direct_current:
        found.append("a direct current in a coil")
    found += unround(case)
    if case.body:
        found.append(f"{len(case.body)} other {'body' if len(case.body) == 1 else 'bodies'}")
    return " and ".join(found) or "a row or a coil off x = 0"


def unround(case: Case) -> list[str]:
    """In words the poles that are no stacks of round parts: [] or one item, such as "poles 1 to 6 of wedge form"."""
    kinds: dict[int, str] = {}
    for row in case.rows():
        for n, pole in enumerate(row.placed(), start=row.before + 1):
            forms = [part.form.kind for part in pole.shape.parts if isinstance(part, FormedShape)]
            if forms:
                kinds[n] = forms[0]
    if not kinds:
        return []
    words = " and ".join(dict.fromkeys(kinds.values()))
    return [f"{len(kinds)} {'pole' if len(kinds) == 1 else 'poles'} not round ({words})"]
