"""What is wanted of a pickup, as it is typed: "6.2kohm", "3.5H", "4.2kHz", "950G", "+2dB over other.toml"."""

from __future__ import annotations

import re
from dataclasses import dataclass

from ...terminal.quantities import read_quantity

_OVER = re.compile(r"([+-]?[0-9]+(?:\.[0-9]+)?)\s*dB\s+over\s+(\S.*)")
RESISTANCE, INDUCTANCE, PEAK, LEVEL, FIELD = "resistance", "inductance", "peak", "level", "field"
_OF_KIND = {"frequency": PEAK, "flux density": FIELD}


@dataclass(frozen=True, kw_only=True)
class Aim:
    """What is wanted: a "resistance" in Ω, an "inductance" in H, a loaded "peak" in Hz, a "field" in T, or a "level"
    in dB over the case `over`."""

    kind: str
    value: float
    over: str = ""


def read_aim(option: str, text: str) -> Aim:
    """A value whose unit says what is wanted.

    Raises
    ------
    CaseError
        One sentence.

    Examples
    --------
    >>> read_aim("--for", "4.2kHz"), read_aim("--for", "+2dB over bass-four").value
    (Aim(kind='peak', value=4200.0, over=''), 2.0)
    """
    over = _OVER.fullmatch(text.strip().replace("−", "-"))
    if over:
        return Aim(kind=LEVEL, value=float(over[1]), over=over[2])
    value, kind = read_quantity(option, text, "resistance", "inductance", "frequency", "flux density",
                                also='a level such as "+2dB over CASE"')
    return Aim(kind=_OF_KIND.get(kind, kind), value=value)
