"""Cases with a direct current in a coil, for commands that know none."""

from __future__ import annotations

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError


def refuse_direct_current(case: Case, what: str) -> None:
    """Refuse a case with a direct current in a coil.

    Parameters
    ----------
    what : str
        What knows none, as the begin of a sentence: "verify".

    Raises
    ------
    CaseError

    Examples
    --------
    >>> from stringflux.cases import load_case
    >>> refuse_direct_current(load_case("bench-single"), "verify")
    """
    if case.has_direct_current:
        raise CaseError(f"direct_current: {what} does not know it; leave it out there by "
                        "--set coil.direct_current='0 mA', or ask `stringflux predict`, `force`, `flux` or "
                        "`impedance`")
