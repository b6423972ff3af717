"""Whether the parts of a case go together: every check of a whole case, in the order to mend faults in."""

from __future__ import annotations

from collections.abc import Mapping

from ..case.model import Case
from . import check_bodies, check_sense, check_strings


def check_case(case: Case, materials: Mapping[str, str] | None = None, *, without_strings: bool = False) -> None:
    """Refuse a case that cannot be built, or strung, as it says.

    Parameters
    ----------
    case : Case
        Each of its tables is sound by itself.
    materials : mapping of str to str, optional
        Built-in materials: name → use, "magnet", "soft" or "string". Without it names that the case does not
        define itself are taken on trust.
    without_strings : bool
        Whether a case without strings will do.

    Raises
    ------
    CaseError
        With the first fault, which names its place as the file writes it.
    """
    check_strings.there_are_strings(case, without_strings=without_strings)
    for row in check_strings.rows_are_complete(case):
        check_strings.every_pole_is_made_once(row)
    check_bodies.names_are_unique(case)
    check_strings.materials_are_known(case, materials)
    check_strings.strings_are_complete(case)
    check_sense.strings_hold(case)
    check_sense.coils_make_sense(case)
    check_bodies.coils_are_connected(case)
    for row in case.rows():
        check_strings.poles_stand_clear(row)
    check_bodies.bodies_stand_clear(case)
    check_strings.coil_clears_poles(case)
    check_bodies.coils_stand_clear(case)
    check_strings.strings_lie_clear(case)
    check_bodies.strings_clear_bodies(case)
