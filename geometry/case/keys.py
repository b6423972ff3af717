"""Kinds of keys a case file has: quantities with units, plain numbers, and tables that know their keys."""

from __future__ import annotations

import difflib
import math
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    ValidationInfo,
    model_validator,
)
from pydantic_core import CoreSchema, core_schema

from ..errors import CaseError
from ..units import KINDS, TURNING, parse, show, shown, within

_MISTYPED = 0.8  # a key so near to one of its table is that one, mistyped
QUANTITY, KIND = "x-quantity", "x-kind"
ROUND = "round"
"""What a part of a pole is that names no shape; no file writes it."""


def near(word: str, known: Iterable[str]) -> str:
    """`` (did you mean "x"?)`` for the nearest of `known`, or nothing."""
    found = difflib.get_close_matches(word[:100].lower(), sorted(known), n=2, cutoff=0.6)
    return f" (did you mean {' or '.join(shown(f) for f in found)}?)" if found else ""


COUNTER_CLOCKWISE: Literal["counter-clockwise (from above)"] = "counter-clockwise (from above)"


def _whole_words(value: Any) -> Any:
    return f"{value} (from above)" if value in ("clockwise", "counter-clockwise") else value


Way = Annotated[
    Literal["counter-clockwise (from above)", "clockwise (from above)"],
    BeforeValidator(_whole_words),
]
"""Which way a coil's wire goes round, seen from where the strings are; the words in brackets may be left out."""


def sense_of(winding: str) -> int:
    """1 for a coil wound counter-clockwise as seen from above, whose flux counts positive up; -1 for the other."""
    return 1 if winding == COUNTER_CLOCKWISE else -1


class UnknownKeyError(ValueError):
    """A key that its table does not have."""

    def __init__(self, key: str, known: Iterable[str]) -> None:
        super().__init__(f"{shown(key)} is not a key here{near(key, known)}; the keys are {', '.join(known)}")
        self.key = key
        self.mistyped = bool(difflib.get_close_matches(key[:100].lower(), sorted(known), n=1, cutoff=_MISTYPED))


class Table(BaseModel):
    """A table of the case file: frozen, and no key but its own."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    @model_validator(mode="before")
    @classmethod
    def _only_known_keys(cls, data: Any) -> Any:
        if isinstance(data, dict):
            for key in data:
                if key not in cls.model_fields:
                    raise UnknownKeyError(str(key), cls.model_fields)
        return data


@dataclass(frozen=True)
class Quantity:
    """Marks a float that is text with a unit in the file and SI in the model, between two bounds.

    With ``context={"si": True}`` a model also takes SI numbers back, so that a dump can be read again.
    """

    kind: str
    low: float
    high: float

    def read(self, value: Any, info: ValidationInfo) -> float:
        if isinstance(value, float) and (info.context or {}).get("si"):
            number = value
        else:
            try:
                number = parse(value, self.kind)
            except CaseError as error:
                raise ValueError(str(error)) from None
        if not within(number, self.low, self.high):
            raise ValueError(f"received {shown(value)}; write {self._range()}")
        return number

    def _range(self) -> str:
        low, high = show(self.low, self.kind), show(self.high, self.kind)
        return f"{KINDS[self.kind].name} from {low} to {high}"

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.with_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        # two notes for case_schema, which joins them to the key's own description and default
        said = self._range()
        note = f"{said[0].upper()}{said[1:]}; units: {', '.join(KINDS[self.kind].units)}."
        return {"type": "string", QUANTITY: note, KIND: self.kind}


@dataclass(frozen=True)
class Number:
    """Marks a plain number without a unit between two bounds; `whole` asks for a whole one."""

    low: float
    high: float
    whole: bool = False

    def read(self, value: Any) -> float:
        kinds = (int,) if self.whole else (int, float)
        good = isinstance(value, kinds) and not isinstance(value, bool)
        if not good or not self.low <= value <= self.high or not math.isfinite(value):
            noun = "a whole number" if self.whole else "a number without a unit"
            raise ValueError(f"received {shown(value)}; write {noun} from {self.low:g} to {self.high:g}")
        return int(value) if self.whole else float(value)

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        kind = "integer" if self.whole else "number"
        return {"type": kind, "minimum": self.low, "maximum": self.high}


@dataclass(frozen=True)
class Printed:
    """Marks text that is printed as it stands: no sign in it may move a terminal's cursor or hide another.

    With `lines` it may have several lines and tabs.
    """

    lines: bool = False

    def read(self, value: str) -> str:
        allowed, one = ("\n\r\t", "") if self.lines else ("", ", in one line")
        for sign in value:
            if sign not in allowed and (unicodedata.category(sign) in _UNPRINTED or sign in TURNING):
                raise ValueError(f"received {shown(value)}, with the control character U+{ord(sign):04X} in it; "
                                 f"write plain text{one}")
        return value

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_after_validator_function(self.read, handler(source))


_UNPRINTED = ("Cc", "Cs", "Zl", "Zp")  # of Unicode's categories: controls, half characters, separators of lines


class OneOrMany:
    """Marks a list that may also be written as its only item: ``face = "2 mm"``."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_before_validator_function(_listed, handler(source))

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        many: dict[str, Any] = handler(schema)
        return {"anyOf": [many["items"], many]}


def _listed(value: Any) -> Any:
    return [value] if isinstance(value, str | int | float) else value
