"""Limits that a pickup has to keep, as they are typed: "balance<1 dB", "resistance=6.2 kohm±5%".

    NAME < VALUE              NAME > VALUE          (<= and >= say the same)
    NAME = VALUE ± VALUE      NAME = VALUE ± SHARE% (or +-)
    NAME = VALUE .. VALUE     NAME = VALUE          (where the option gives it a width of its own)

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

from .outputs import figure_of

_FORM = re.compile(r"\s*([A-Za-z0-9_ -]+?)\s*(<=|>=|≤|≥|<|>|=)\s*(.+?)\s*", re.DOTALL)
_AROUND = re.compile(r"\s*(?:±|\+/-|\+-)\s*")
_PERCENT = re.compile(r"([0-9]{1,3}(?:\.[0-9]{1,6})?)\s*%")
_PLAIN = re.compile(r"\s*([+-]?[0-9]{1,9}(?:\.[0-9]{1,9})?)\s*([A-Za-z][A-Za-z0-9/^]*)?\s*")
_EXAMPLE = 'write for example "balance<1 dB", "resistance=6.2 kohm±5%" or "output=30..40 mV"'
_KINDS = {KINDS[k].si: k for k in ("resistance", "inductance", "voltage", "flux density", "sensitivity", "frequency",
                                   "capacitance", "volume")}
_SHARE, _DECIBELS = 0.05, 0.5


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


def read_limit(text: str, known: Sequence[str], absent: Mapping[str, str] = MappingProxyType({}), *,
               option: str = "--limit", short: Mapping[str, str] = MappingProxyType({}), unit: str | None = None,
               widened: bool = False) -> Limit:
    """Read a limit on one of the `known` quantities.

    Parameters
    ----------
    text : str
    known : sequence of str
        Names.
    absent : mapping of str to str
        Quantities that this case has no value for, each with the sentence that says why.
    option : str
        What a sentence begins with.
    short : mapping of str to str
        Other names of quantities.
    unit : str, optional
        Of the values, where they are not the quantity's own: "dB" over something else.
    widened : bool
        Whether "NAME = VALUE" is taken, as ± 5 %, or as ± 0.5 dB.

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
    received = f"{option}: received {shown(text)}"
    match = _FORM.fullmatch(text.replace("−", "-"))
    if match is None:
        raise CaseError(f"{received}; {_EXAMPLE}")
    name, sign, said = match[1].strip().lower().replace(" ", "_").replace("-", "_"), match[2], match[3]
    name = short.get(name, name)
    if name in absent:
        raise CaseError(f"{received}; {absent[name]}")
    if name not in known:
        raise CaseError(
            f"{received}, and this study gives no {shown(name)}{near(name, [*known, *short])}; it gives "
            f"{', '.join(n for n in known if not n.startswith(('string_', 'pole_')))}"
            + (", string_1_sensitivity and so on" if any(n.startswith("string_") for n in known) else "")
        )
    figure = figure_of(name)
    read = _Values(unit=figure.unit if unit is None else unit, size=figure.size, shown=figure.shown,
                   option=option, text=text)
    if sign != "=":
        end = read(said)
        return Limit(text=text, name=name, high=end) if sign in ("<", "<=", "≤") else Limit(
            text=text, name=name, low=end)
    around = _AROUND.split(said)
    if len(around) == 2:
        share = _PERCENT.fullmatch(around[1])
        middle = read(around[0], around[1])
        half = abs(middle) * float(share[1]) / 100 if share else read(around[1])
        if half <= 0:
            raise CaseError(f"{received}; write more than 0 after ±")
        return Limit(text=text, name=name, low=middle - half, high=middle + half)
    ends = said.split("..")
    if len(ends) == 2:
        low, high = read(ends[0], ends[1]), read(ends[1])
        if low >= high:
            raise CaseError(f"{received}; write the smaller value first")
        return Limit(text=text, name=name, low=low, high=high)
    if not widened or len(ends) > 2 or len(around) > 2:
        raise CaseError(f"{received}; {_EXAMPLE}")
    middle = read(said)
    half = _DECIBELS if read.unit == "dB" else _SHARE * abs(middle)
    return Limit(text=text, name=name, low=middle - half, high=middle + half)


@dataclass(frozen=True, kw_only=True)
class _Values:
    """Values of one quantity, from text to SI; `shown` is a unit of `size` that people read it in."""

    unit: str
    size: float
    shown: str
    option: str
    text: str

    def __call__(self, said: str, lender: str = "") -> float:
        """A value in SI; one without a unit takes that of `lender`."""
        plain = _PLAIN.fullmatch(said)
        if plain and not plain[2] and lender:
            lent = re.sub(r"^\s*[+-]?[0-9.]+\s*", "", lender)
            if lent != "%":
                said = f"{plain[1]} {lent}".rstrip()
        if self.unit in _KINDS:
            try:
                return parse(said, _KINDS[self.unit])
            except CaseError as error:
                raise CaseError(f"{self.option}: {shown(self.text)}: {error}") from None
        plain = _PLAIN.fullmatch(said)
        written = (plain[2] or "").lower() if plain else None
        if plain is not None and written == self.unit.lower():
            return float(plain[1])
        if plain is not None and self.unit != "dB" and written == self.shown.lower():
            return float(plain[1]) * self.size
        units = " or ".join(dict.fromkeys((self.shown, self.unit))) if self.unit != "dB" else "dB"
        would = f'the value in {units}, for example "1 {self.unit}"' if self.unit else "a plain number after the sign"
        raise CaseError(f"{self.option}: received {shown(self.text)}; write {would}")
