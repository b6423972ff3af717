"""Limits that a pickup has to keep, as they are typed: "balance<1 dB", "resistance=6.2 kohm±5%".

    NAME < VALUE              NAME > VALUE          (<= and >= say the same)
    NAME = VALUE ± VALUE      NAME = VALUE ± SHARE% (or +-)
    NAME = VALUE .. VALUE

NAME is a figure of the study. Every value has a unit; one may serve both: "5.8..6.5 kohm".
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.keys import near
from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import KINDS, parse, shown

from ..designs.outputs import figure_of

_FORM = re.compile(r"\s*([A-Za-z0-9_ -]+?)\s*(<=|>=|≤|≥|<|>|=)\s*(.+?)\s*", re.DOTALL)
_AROUND = re.compile(r"\s*(?:±|\+/-|\+-)\s*")
_PERCENT = re.compile(r"([0-9]{1,3}(?:\.[0-9]{1,6})?)\s*%")
_PLAIN = re.compile(r"\s*([+-]?[0-9]{1,9}(?:\.[0-9]{1,9})?)\s*([A-Za-z]*)\s*")
_EXAMPLE = 'write for example "balance<1 dB", "resistance=6.2 kohm±5%" or "output=30..40 mV"'
_KINDS = {KINDS[k].si: k for k in ("resistance", "inductance", "voltage", "flux density", "sensitivity")}


@dataclass(frozen=True, kw_only=True)
class Limit:
    """What a quantity has to keep.

    Attributes
    ----------
    text : str
        As typed.
    name : str
        Of the quantity.
    low, high : float
        SI; infinite where there is no end.
    """

    text: str
    name: str
    low: float = -np.inf
    high: float = np.inf

    def keeps(self, quantities: Mapping[str, Array]) -> npt.NDArray[np.bool_]:
        """Which of a sample keep it."""
        values = quantities[self.name]
        return np.asarray((values >= self.low) & (values <= self.high))


def read_limit(text: str, known: Sequence[str], absent: Mapping[str, str] = MappingProxyType({})) -> Limit:
    """Read a limit on one of the `known` quantities.

    Parameters
    ----------
    text : str
    known : sequence of str
        Names.
    absent : mapping of str to str
        Quantities that this case has no value for, each with the sentence that says why.

    Raises
    ------
    CaseError
        One sentence: what was received and what would do.

    Examples
    --------
    >>> limit = read_limit("resistance = 6.2 kohm ± 5%", ["resistance"])
    >>> round(limit.low), round(limit.high)
    (5890, 6510)
    """
    match = _FORM.fullmatch(text.replace("−", "-"))
    if match is None:
        raise CaseError(f"--limit: received {shown(text)}; {_EXAMPLE}")
    name, sign, said = match[1].strip().lower().replace(" ", "_").replace("-", "_"), match[2], match[3]
    if name in absent:
        raise CaseError(f"--limit: received {shown(text)}; {absent[name]}")
    if name not in known:
        raise CaseError(
            f"--limit: received {shown(text)}, and this study gives no {shown(name)}{near(name, known)}; it gives "
            f"{', '.join(n for n in known if not n.startswith('string_'))}"
            + (", string_1_sensitivity and so on" if any(n.startswith("string_") for n in known) else "")
        )
    unit = figure_of(name).unit
    if sign != "=":
        end = _value(said, unit, text)
        return Limit(text=text, name=name, high=end) if sign in ("<", "<=", "≤") else Limit(
            text=text, name=name, low=end)
    around = _AROUND.split(said)
    if len(around) == 2:
        share = _PERCENT.fullmatch(around[1])
        middle = _value(around[0], unit, text, around[1])
        half = abs(middle) * float(share[1]) / 100 if share else _value(around[1], unit, text)
        if half <= 0:
            raise CaseError(f"--limit: received {shown(text)}; write more than 0 after ±")
        return Limit(text=text, name=name, low=middle - half, high=middle + half)
    ends = said.split("..")
    if len(ends) == 2:
        low, high = _value(ends[0], unit, text, ends[1]), _value(ends[1], unit, text)
        if low >= high:
            raise CaseError(f"--limit: received {shown(text)}; write the smaller value first")
        return Limit(text=text, name=name, low=low, high=high)
    raise CaseError(f"--limit: received {shown(text)}; {_EXAMPLE}")


def _value(said: str, unit: str, text: str, lender: str = "") -> float:
    """A value in SI; one without a unit takes that of `lender`."""
    plain = _PLAIN.fullmatch(said)
    if plain and not plain[2] and lender:
        lent = re.sub(r"^\s*[+-]?[0-9.]+\s*", "", lender)
        if lent != "%":
            said = f"{plain[1]} {lent}"
    if unit in _KINDS:
        try:
            return parse(said, _KINDS[unit])
        except CaseError as error:
            raise CaseError(f"--limit: {shown(text)}: {error}") from None
    plain = _PLAIN.fullmatch(said)
    if plain is None or plain[2].lower() != unit.lower():
        raise CaseError(f'--limit: received {shown(text)}; write the value in {unit}, for example "1 {unit}"')
    return float(plain[1])
