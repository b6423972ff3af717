"""A case as one of its coils is at a tap: that coil with the turns inside the tap, and with the space that they take.

The turns outside the tap hang open at one end. They carry no current, and what they add in capacitance is left out.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import shown

from .load import load_case

if TYPE_CHECKING:
    from stringflux.geometry.case.model import Case


def load_at_tap(which: str | os.PathLike[str], changes: Mapping[str, Any] | None,
                tap: str | None) -> tuple[Case, dict[str, Any]]:
    """A case with the given changes, at one of its taps where that is asked for; and all changes together.

    Raises
    ------
    CaseError
        As of :func:`.load_case`, or if there is no such tap.
    """
    made = dict(changes or {})
    case = load_case(which, made)
    if tap is None:
        return case, made
    made |= tap_changes(case, tap)
    return load_case(which, made), made


def tap_changes(case: Case, tap: str) -> dict[str, Any]:
    """What to change of a case, by dotted path, to have it at a tap.

    Parameters
    ----------
    tap : str
        Turns as `taps` has them, "4000"; of several coils with such a tap "lower: 4000".

    Raises
    ------
    CaseError
        If there is no such tap, or several could be meant.

    Examples
    --------
    >>> from stringflux.cases import load_case
    >>> made = tap_changes(load_case("bench-single", {"coil.taps": [2000]}), "2000")
    >>> made["coil.turns"], made["coil.wound_build"]
    (2000.0, '1.6 mm')
    """
    name, colon, number = tap.rpartition(":")
    names = case.coil_names()
    taps = [(coil, at) for coil, one in zip(names, case.coils(), strict=True) for at in one.taps]
    if not taps:
        raise CaseError(f"--tap: received {shown(tap)}, but this case has no taps; give [coil] taps = [4000]")
    try:
        turns = float(number)
    except ValueError:
        turns = float("nan")
    found = [coil for coil, at in taps if abs(at - turns) < 1e-6 and name.strip() in ("", coil)]
    if len(found) != 1 or bool(colon) != bool(name.strip()):
        have = " or ".join(f"{at:g}" if len(names) == 1 else f'"{coil}: {at:g}"' for coil, at in taps)
        raise CaseError(f"--tap: received {shown(tap)}; this case has taps at {have}" if len(found) < 2 else
                        f"--tap: received {shown(tap)}, which several coils have; write {have}")
    index = names.index(found[0])
    coil = case.coils()[index]
    inner, path = coil.inside(turns), "coil" if index == 0 else f"second_coil.{index}.coil"
    made: dict[str, Any] = {f"{path}.turns": turns, f"{path}.taps": []}
    if inner.wound_build is not None:
        made[f"{path}.wound_build"] = f"{inner.wound_build * 1e3:.9g} mm"
    if inner.wound_builds:
        made[f"{path}.wound_builds"] = [{key: f"{1e3 * getattr(b, key):.9g} mm" for key in ("height", "build")}
                                        for b in inner.wound_builds]
    if inner.resistance is not None:
        made[f"{path}.resistance"] = f"{inner.resistance:.9g} ohm"
    if coil.capacitance is not None:
        made[f"{path}.capacitance"] = None  # as measured it was that of all turns
    of_coil = "" if len(names) == 1 else f" of {found[0]}"
    made["title"] = f"{case.title or 'Untitled case'}, tap at {turns:g} turns{of_coil}"
    return made
