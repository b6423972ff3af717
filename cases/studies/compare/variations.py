"""What is varied in a study: a field of the case with a list or a range of values."""

from __future__ import annotations

import math
import re
import tomllib
from dataclasses import dataclass
from typing import Any

from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import show, shown

from .fields import CaseField

# A plain decimal and its unit.
_PLAIN = re.compile(r"\s*([+-]?(?:[0-9]{1,12}\.?[0-9]{0,12}|\.[0-9]{1,12}))\s*([A-Za-zµμΩ°][A-Za-zµμΩ°/*^0-9]*)?\s*")


@dataclass(frozen=True, kw_only=True)
class Value:
    """One value of a field: as a person reads it, as the file holds it, and in SI (or its words)."""

    text: str
    content: Any
    si: float | str


@dataclass(frozen=True, kw_only=True)
class Variation:
    """A field with its values: listed ones, or a range.

    Attributes
    ----------
    field : CaseField
    values : tuple of Value
        Empty for a range.
    ends : (float, float)
        Of a range, in `unit`, or in SI where that is "".
    unit : str
    steps : int
        Values of the range; 0 for one without steps, of which samples are drawn.
    """

    field: CaseField
    values: tuple[Value, ...] = ()
    ends: tuple[float, float] = (0.0, 0.0)
    unit: str = ""
    steps: int = 0

    @property
    def count(self) -> int:
        """How many values; 0 for a range without steps."""
        return len(self.values) or self.steps

    def at(self, index: int) -> Value:
        """The value of that index, from 0."""
        if self.values:
            return self.values[index]
        return self._between(index / (self.steps - 1))

    def drawn(self, part: float) -> Value:
        """A value for a part 0 … 1 (not included) of the way."""
        if self.count:
            return self.at(int(part * self.count))
        # a thousand places over the range are enough, and a number that can be set
        return self._between(part, places=math.ceil(3 - math.log10(abs(self.ends[1] - self.ends[0]))))

    @property
    def numeric(self) -> bool:
        """Whether every value is a number."""
        return all(isinstance(v.si, float) for v in self.values) if self.values else True

    def _between(self, part: float, places: int | None = None) -> Value:
        low, high = self.ends
        number = low + part * (high - low) if part < 1 else high
        if places is not None:
            number = min(max(round(number, places), min(self.ends)), max(self.ends))
        content: Any
        if self.field.form == "whole number":
            content = round(number)
        elif self.field.form == "number":
            content = float(f"{number:.7g}")
        else:
            content = f"{number:.7g} {self.unit}" if self.unit else show(number, self.field.kind)
        return made_value(self.field, content)


def made_value(field: CaseField, content: Any) -> Value:
    """A value from what the file would hold; CaseError if it does not fit."""
    si = field.read(content)
    text = f"{content:g}" if isinstance(content, float) else content if isinstance(content, str) else ""
    return Value(text=text or (str(content) if isinstance(content, int) else str(si)), content=content, si=si)


def variation(field: CaseField, given: Any) -> Variation:
    """The values of a field from a text, "1.5mm:3.5mm:9" or "alnico-3,alnico-5", or a list of what files hold."""
    if isinstance(given, str):
        parts = [part.strip() for part in given.split(":")]
        if field.numeric and len(parts) > 1:
            return _range(field, given, parts)
        items = _split(given)
        if not all(items):
            raise CaseError(f"{field.path}: received {shown(given)}, with an empty place in the list; "
                            "write values with one comma between them")
        contents = [_content(field, item) for item in items]
    else:
        contents = list(given) if isinstance(given, list | tuple) else [given]
        if not contents:
            raise CaseError(f"{field.path}: received an empty list; write at least one value")
    values = tuple(made_value(field, content) for content in contents)
    seen: dict[float | str, str] = {}
    for value in values:
        if value.si in seen:
            raise CaseError(f"{field.path}: received {shown(seen[value.si])} and {shown(value.text)}, which are the "
                            "same; keep one of them")
        seen[value.si] = value.text
    return Variation(field=field, values=values)


def _range(field: CaseField, given: str, parts: list[str]) -> Variation:
    said = f"{field.path}: received the range {shown(given)}"
    if len(parts) > 3 or not all(parts):
        raise CaseError(f"{said}; write FROM:TO:N, for example 1.5mm:3.5mm:9")
    low, high = (made_value(field, _content(field, part)) for part in parts[:2])
    if low.si == high.si:
        raise CaseError(f"{said}, which is empty; write two different ends, or the one value alone")
    steps = 0
    if len(parts) == 3:
        if not re.fullmatch(r"[0-9]{1,9}", parts[2]) or int(parts[2]) < 2:
            raise CaseError(f"{said}; its last part says how many values, write a whole number from 2 on")
        steps = int(parts[2])
    ends, unit = (_number(low), _number(high)), ""
    written = [_PLAIN.fullmatch(part) for part in parts[:2]]
    if field.kind and written[0] and written[1] and written[0][2] == written[1][2]:
        # in the unit they were given in the values between come out as round as the ends
        ends, unit = (float(written[0][1]), float(written[1][1])), written[0][2]
    most = abs(ends[1] - ends[0]) + 1
    if field.form == "whole number" and steps > most:
        raise CaseError(f"{said}, but there are only {most:g} whole numbers; write at most that")
    return Variation(field=field, ends=ends, unit=unit, steps=steps)


def _number(value: Value) -> float:
    if not isinstance(value.si, float):
        raise CaseError(f"received {shown(value.text)} as the end of a range; write a number")
    return value.si


def _split(text: str) -> list[str]:
    """At the commas that stand in no bracket and no quotes."""
    items, depth, quote = [""], 0, ""
    for letter in text:
        if quote:
            quote = "" if letter == quote else quote
        elif letter == '"' and (depth or not items[-1].strip()):
            quote = letter  # elsewhere it is the sign for inches
        depth += 0 if quote else (letter in "[{") - (letter in "]}")
        if letter == "," and not depth and not quote:
            items.append("")
        else:
            items[-1] += letter
    return [item.strip() for item in items]


def _content(field: CaseField, text: str) -> Any:
    """What the file would hold for the text of an option."""
    if field.form in ("quantity", "text") and not text.startswith(("[", "{", '"')):
        return text
    try:
        read = tomllib.loads(f"value = {text}")
    except (ValueError, RecursionError):
        return text
    return read["value"] if len(read) == 1 else text
