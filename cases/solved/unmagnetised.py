"""Pickups in which nothing is magnetised: their coils are as good as any, but hear no string."""

from __future__ import annotations

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError

UNMAGNETISED = "nothing magnetises the strings, for no part of this pickup is a magnet with a charge"


def refuse_unmagnetised(case: Case, consequence: str) -> None:
    """Refuse a case without a charged magnet.

    Parameters
    ----------
    consequence : str
        What follows for the command, as the end of a sentence: "so a plucked string makes no voltage".

    Raises
    ------
    CaseError
    """
    if not case.is_magnetised:
        raise CaseError(f"{UNMAGNETISED}, {consequence}; `stringflux predict`, `impedance`, `hum` and `wind` tell "
                        "what there is to tell of it")
