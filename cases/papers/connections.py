"""Several coils in every way of connecting them: level, peak and hum in one table, of one solution.

The level is that of the open coils at low frequencies, every string swinging ± 1 mm over its pole, against the case
as it is connected: the mean of the strings' levels in dB. The peak is what controls, cable and amplifier of the case
leave of the resonance. Hum is told in µV of a uniform field of 1 µT at 50 Hz, in the worst direction, and against
the strings.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError

if TYPE_CHECKING:
    from ..jobs.hum import Hum
    from ..pickup import Pickup

FIELD, MAINS = 1e-6, 50.0  # T, Hz
Progress = Callable[[str, float], None]


@dataclass(frozen=True, kw_only=True)
class Connected:
    """The pickup in one way of connecting its coils.

    Attributes
    ----------
    name : str
        "series", "slugs alone", "parallel, slugs reversed".
    level : float
        Mean of the strings' levels over those of the case as it is, dB; −inf where no string is heard.
    resistance, inductance : float
        At the terminals, Ω and H.
    resonance, peak : float or None
        Of the response at the amplifier, Hz and dB over its level at low frequencies; None where there is no peak.
    hum : float
        Rms voltage in 1 µT at 50 Hz, V.
    hum_level : float
        That against the strings, dB over the mean of their levels; nan where none is heard.
    own : bool
        Whether the case is connected so.
    """

    name: str
    level: float
    resistance: float
    inductance: float
    resonance: float | None
    peak: float | None
    hum: float
    hum_level: float
    own: bool


def ways(case: Case) -> dict[str, tuple[str, tuple[str, ...]]]:
    """Every way by its name: what `connection.coils` and `reversed` are then.

    Raises
    ------
    CaseError
        Where there is one coil only.
    """
    names = case.coil_names()
    if len(names) == 1:
        raise CaseError("--connections: this case has one coil, which goes one way only; leave it out")
    out: dict[str, tuple[str, tuple[str, ...]]] = {"series": ("series", ()), "parallel": ("parallel", ())}
    out |= {f"{name} alone": (name, ()) for name in names}
    for how in ("series", "parallel"):
        # the first coil reversed is the others reversed, with the ends of the pickup exchanged
        out |= {f"{how}, {name} reversed": (how, (name,)) for name in (names[1:] if len(names) == 2 else names)}
    return out


def connections(pickup: Pickup, progress: Progress = lambda stage, share: None) -> tuple[Connected, ...]:
    """The pickup connected in every way; what does not depend on that is solved once.

    Raises
    ------
    CaseError
        Where there is one coil only.
    """
    every, out = ways(pickup.case), []
    own, mine = pickup.hum(), pickup.case.connection
    for k, (name, (how, turned)) in enumerate(every.items()):
        progress(name, k / len(every))
        made = pickup.with_({"connection.coils": how, "connection.reversed": list(turned)})
        hum, found = made.hum(), made.impedance()
        response = next(iter(found.responses().values()))
        out.append(Connected(
            name=name, level=_level(hum.signal, own.signal), resistance=found.circuit.resistance,
            inductance=float(found.circuit.inductance[0].real), resonance=response.resonance, peak=response.peak,
            hum=hum.area.voltage(FIELD, MAINS), hum_level=_hum_level(hum),
            own=(how, turned) == (mine.coils, mine.reversed)))
    progress("", 1.0)
    return tuple(out)


def _level(signal: tuple[float, ...], own: tuple[float, ...]) -> float:
    pairs = [(a, b) for a, b in zip(signal, own, strict=True) if b > 0]
    if not pairs or any(a <= 0 for a, _ in pairs):
        return -math.inf
    return sum(20 * math.log10(a / b) for a, b in pairs) / len(pairs)


def _hum_level(hum: Hum) -> float:
    heard = [v for v in hum.level(FIELD, MAINS) if not math.isnan(v)] if hum.area.voltage(FIELD, MAINS) > 0 else []
    return sum(heard) / len(heard) if heard else math.nan
