"""What to wind for every coil of a case, and how the coils are connected, in words; nothing is solved for either."""

from __future__ import annotations

from collections.abc import Iterator

from stringflux.geometry.case.model import Case
from stringflux.postprocess.coil.surroundings import SURROUNDED, bodies_add
from stringflux.postprocess.coil.winding import Winding, winding


def coil_windings(case: Case, temperature: float | None = None) -> tuple[Winding, ...]:
    """What to wind for every coil; the copper's temperature in °C, that of the case when not given.

    Of coils in series the first lies at ground; voltages go with turns.
    """
    return tuple(winding(of_coil, temperature, below=below) for of_coil, below in _each(case))


def bodies_add_to(case: Case) -> tuple[float, ...]:
    """What covers, plates and other bodies of metal add to the capacitance of every coil, F."""
    return tuple(bodies_add(of_coil, below) * SURROUNDED[1] for of_coil, below in _each(case))


def _each(case: Case) -> Iterator[tuple[Case, float]]:
    """The case with each coil as its first one, and the voltage of its end nearer to ground in its own."""
    rows = (case.row, *(other.row or case.row for other in case.second_coil))
    before = 0.0
    for coil, row in zip(case.coils(), rows, strict=True):
        yield case.model_copy(update={"coil": coil, "row": row}), before / coil.turns
        before += coil.turns if case.connection.coils == "series" else 0.0


def connection_words(case: Case) -> str:
    """How the coils are connected, in words; "" for one coil."""
    if len(case.coils()) == 1:
        return ""
    how = case.connection.coils
    words = {"series": "in series", "parallel": "in parallel"}.get(how, f"{how} alone")
    turned = case.connection.reversed
    return f"{words}, {' and '.join(turned)} reversed" if turned else words
