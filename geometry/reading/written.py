"""A case as the content of a file: the way back from :func:`.read.read_case`, for a case that no file says."""

from __future__ import annotations

from typing import Any, get_args

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from ..case.keys import Quantity
from ..case.model import Case
from ..errors import CaseError
from ..units import KINDS, parse, readable


def written_case(case: Case) -> dict[str, Any]:
    """Tables and keys as a TOML reader would give them; what the case leaves out stays out.

    Returns
    -------
    dict
        Quantities are text with a unit, read back to fifteen digits, as many as a file gives.
    """
    written: dict[str, Any] = _written(case, None)
    return written


def _written(value: Any, quantity: Quantity | None) -> Any:
    if isinstance(value, BaseModel):
        return {key: _written(getattr(value, key), marked(field, Quantity))
                for key, field in type(value).model_fields.items()
                if key in value.model_fields_set and getattr(value, key) is not None}
    if isinstance(value, dict):
        return {key: _written(item, None) for key, item in value.items()}
    if isinstance(value, tuple):
        return [_written(item, quantity) for item in value]
    return _text(value, quantity.kind) if quantity is not None and isinstance(value, float) else value


def _text(value: float, kind: str) -> str:
    """A quantity in the fewest digits that are read back to the same number, if a text has it."""
    size, unit = readable(kind)
    texts = [f"{value / size:.{digits}g} {unit}" for digits in (6, 12, 15, 16, 17)]
    for text in (*texts, f"{value!r} {KINDS[kind].si}"):
        try:
            if parse(text, kind) == value:
                return text
        except CaseError:  # a temperature has no unit in SI that is read
            continue
    return f"{value / size:.17g} {unit}"


def marked(field: FieldInfo, kind: type) -> Any:
    """The mark of that kind on a field, or on what it may be; None where there is none."""
    for mark in field.metadata:
        if isinstance(mark, kind):
            return mark
    return _within(field.annotation, kind)


def _within(annotation: Any, kind: type) -> Any:
    for part in get_args(annotation):
        if isinstance(part, kind):
            return part
        inner = None if isinstance(part, FieldInfo) else _within(part, kind)
        if inner is not None:
            return inner
    return None
