"""What to wind for every coil of a case, and how the coils are connected, in words; nothing is solved for either."""

from __future__ import annotations

from stringflux.geometry.case.model import Case
from stringflux.postprocess.coil.winding import Winding, winding


def coil_windings(case: Case, temperature: float | None = None) -> tuple[Winding, ...]:
    """What to wind for every coil; the copper's temperature in °C, that of the case when not given.

    Of coils in series the first lies at ground; voltages go with turns.
    """
    rows = (case.row, *(other.row or case.row for other in case.second_coil))
    before = 0.0
    out = []
    for coil, row in zip(case.coils(), rows, strict=True):
        of_coil = case.model_copy(update={"coil": coil, "row": row})
        out.append(winding(of_coil, temperature, below=before / coil.turns))
        before += coil.turns if case.connection.coils == "series" else 0.0
    return tuple(out)


def connection_words(case: Case) -> str:
    """How the coils are connected, in words; "" for one coil."""
    if len(case.coils()) == 1:
        return ""
    how = case.connection.coils
    words = {"series": "in series", "parallel": "in parallel"}.get(how, f"{how} alone")
    turned = case.connection.reversed
    return f"{words}, {' and '.join(turned)} reversed" if turned else words
