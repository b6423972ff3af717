"""Fields of a case by their path in its file: `strings.gap`, `pole.1.part.2.material`, `row.face.3`.

A number left out, as in `pole.part.material`, means every item that has the key: all parts, but only magnets for
`charge`, only wound strings for `wrap`.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, get_origin

from stringflux.geometry.case.bodies import BodyTable
from stringflux.geometry.case.bodies.of_a_pole import FormedPart
from stringflux.geometry.case.keys import Number, OneOrMany, Quantity, Table, near
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.poles import Part
from stringflux.geometry.case.strings import GapRule, String
from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.old_words import new_path
from stringflux.geometry.reading.read import read_key
from stringflux.geometry.reading.tables import chosen_table, tables_of
from stringflux.geometry.units import KINDS, mm, shown

from ...files.load import built_in_uses
from .paths import IDLE, flat, near_paths, poles_beside

Form = Literal["quantity", "number", "whole number", "text", "list", "table"]
_MAGNETS = ("polarity", "magnetised", "charge", "coercivity_scale", "remanence_scale")
_WOUND = ("wrap", "wrap_gap")
_RULES = tuple(GapRule.model_fields)
# What a string may have of its own instead of the common value.
_OWN = {**dict.fromkeys(_RULES, _RULES), "spacing": ("position",)}
_OWN |= {key: (key,) for key in ("scale", "steel", "wrap", "wrap_gap")}


@dataclass(frozen=True, kw_only=True)
class FieldPlace:
    """Where a field stands: steps from the top of the file, the table it is a key of, an item of the key's list, and
    what that list is where the file leaves it out."""

    steps: tuple[str, ...]
    table: type[Table]
    item: bool = False
    left_out: tuple[str, ...] = ()

    @property
    def key(self) -> str:
        return self.steps[-2 if self.item else -1]


@dataclass(frozen=True, kw_only=True)
class CaseField:
    """A field of a case.

    Attributes
    ----------
    path : str
        As it was typed.
    places : tuple of Place
        Everywhere it stands in the file.
    form : str
        What is written there.
    kind : str
        Key of `KINDS` for a quantity, otherwise "".
    poles : int
        In the row; a height given once for all is written out for as many when one of them changes.
    materials : tuple of str
        Known names.
    note : str
        What to mind, a sentence or "".
    """

    path: str
    places: tuple[FieldPlace, ...]
    form: Form
    kind: str = ""
    poles: int = 1
    materials: tuple[str, ...] = ()
    note: str = ""

    @property
    def unit(self) -> str:
        """SI unit, or ""."""
        return KINDS[self.kind].si if self.kind else ""

    @property
    def numeric(self) -> bool:
        """Whether its values are numbers in SI."""
        return self.form in ("quantity", "number", "whole number")

    def read(self, content: Any) -> float | str:
        """SI number of a value as the file would hold it; of what is no number, its text.

        Raises
        ------
        CaseError
            The model's own sentence if it does not fit.
        """
        first = self.places[0]
        value = read_key(first.table, first.key, content, where=self.path, item=first.item)
        if first.key in ("material", "steel", "wrap") and value not in self.materials:
            raise CaseError(f"{self.path}: received {shown(value)}, which is no known material"
                            f"{near(value, self.materials)}; `stringflux materials` lists them")
        if self.numeric and isinstance(content, list):
            return _words(content)  # a height for each pole
        if self.numeric:
            return float(value[0] if isinstance(value, tuple) else value)
        return _words(content)

    def put(self, document: dict[str, Any], content: Any) -> None:
        """Write a value into the content of a case file, at every place."""
        for place in self.places:
            *path, last = place.steps
            node: Any = document
            for left, step in zip(range(len(path) - 1, -1, -1), path, strict=True):
                if isinstance(node, list):
                    node = node[int(step) - 1]
                    continue
                if place.item and not left:
                    held = node.get(step, list(place.left_out))
                    held = held if isinstance(held, list) else [held]
                    node[step] = held * self.poles if len(held) == 1 else held
                node = node.setdefault(step, {})
            node[int(last) - 1 if isinstance(node, list) else last] = copy.deepcopy(content)


def find_field(path: str, document: Mapping[str, Any], case: Case) -> CaseField:
    """The field of a path.

    Parameters
    ----------
    path : str
        "coil.turns", "string.2.gap", "pole.part.material".
    document : mapping
        Content of the case's file.
    case : Case
        The same, read.

    Raises
    ------
    CaseError
        If the case has no such field, or it would change nothing; with near matches.

    Examples
    --------
    >>> from stringflux.cases.files.load import find_case, load_case, read_toml
    >>> bench = read_toml(find_case("bench-single")), load_case("bench-single")
    >>> find_field("string.gauge", *bench).places[0].steps
    ('string', '1', 'gauge')
    >>> find_field("strings.gap", *bench).unit
    'm'
    """
    path = new_path(path)
    steps = path.split(".")
    try:
        places = _walk(Case, document, steps, ())
    except _UnknownError:
        raise CaseError(f"{shown(path)} is no field of this case{near_paths(path, case)}; write its path in the "
                        "file, such as coil.turns, strings.gap or pole.part.material") from None
    except CaseError as error:
        raise CaseError(f"{path}: {error}") from None
    if steps[0] in IDLE or steps[-1] == "thread":
        raise CaseError(f"{path}: no figure here depends on it, so it would change nothing; "
                        "name a field of the pickup")
    form, kind = _form(places[0])
    return CaseField(path=path, places=tuple(places), form=form, kind=kind, poles=poles_beside(places[0].steps, case),
                     materials=(*built_in_uses(), *case.materials),
                     note=_common_note(places[0], case) if steps[0] == "strings" else "")


class _UnknownError(Exception):
    """A step that the model does not have."""


def _walk(table: type[Table], node: Mapping[str, Any], steps: list[str], done: tuple[str, ...],
          every: bool = False) -> list[FieldPlace]:
    key, *rest = steps
    info = table.model_fields.get(key)
    if info is None:
        raise _UnknownError
    here = (*done, key)
    below: Any = node.get(key)
    listed, tables = tables_of(info.annotation)
    magnets = "part" if issubclass(table, Part | FormedPart) else "body" if issubclass(table, BodyTable) else ""
    if every and not below and magnets and key in _MAGNETS and "polarity" not in node and "magnetised" not in node:
        raise CaseError(f"no {magnets} is a magnet")
    if every and not below and table is String and key in _WOUND and "core" not in node:
        raise CaseError("no string is wound")
    if not tables:
        return _value_place(FieldPlace(steps=here, table=table), info.metadata, below, rest)
    if listed == "dict":
        if len(rest) < 2 or rest[0] not in (below or {}):
            raise _UnknownError
        return _walk(chosen_table(tables, below[rest[0]]), below[rest[0]], rest[1:], (*here, rest[0]), every)
    if listed == "list":
        return _items(tables, below or [], rest, here, every)
    if not rest:
        if len(tables) == 1:
            raise CaseError(f"it is a table; add one of its keys: {', '.join(tables[0].model_fields)}")
        return [FieldPlace(steps=here, table=table)]
    chosen = chosen_table(tables, below or {})
    if rest[0] not in chosen.model_fields and any(rest[0] in t.model_fields for t in tables):
        raise CaseError(f"this {key} is of another kind and has the keys {', '.join(chosen.model_fields)}")
    return _walk(chosen, below or {}, rest, here, every)


def _items(
    tables: list[type[Table]], items: list[Any], rest: list[str], here: tuple[str, ...], every: bool
) -> list[FieldPlace]:
    """In a list of tables: the item whose number is given, else all in which the rest of the path is found."""
    if rest and rest[0].isascii() and rest[0].isdigit():
        number = int(rest[0][:4])
        if not 1 <= number <= len(items):
            raise CaseError(_numbers(here[-1], len(items)))
        table = chosen_table(tables, items[number - 1])
        if len(rest) == 1:
            raise CaseError(f"it is a table; add one of its keys: {', '.join(table.model_fields)}")
        return _walk(table, items[number - 1], rest[1:], (*here, rest[0]), every)
    if not rest:
        keys = dict.fromkeys(key for table in tables for key in table.model_fields)
        raise CaseError(f"it is a list of tables; add one of their keys: {', '.join(keys)}")
    found: list[FieldPlace] = []
    fault: Exception = _UnknownError()
    for number, item in enumerate(items, start=1):
        try:
            found += _walk(chosen_table(tables, item), item, rest, (*here, str(number)), True)
        except (_UnknownError, CaseError) as error:
            fault = error
    if not found:
        raise fault
    return found


def _value_place(place: FieldPlace, marks: list[Any], held: Any, rest: list[str]) -> list[FieldPlace]:
    """A key that holds a value, or one item of the list it holds."""
    if not rest:
        return [place]
    info = place.table.model_fields[place.key]
    if len(rest) > 1 or get_origin(info.annotation) is not tuple:
        raise _UnknownError
    once = any(isinstance(m, OneOrMany) for m in marks) and not (isinstance(held, list) and len(held) > 1)
    left_out: tuple[str, ...] = ()
    if held is None and place.key == "centre":  # the one list of lengths that a file may leave out
        left_out = tuple(mm(x) for x in info.default)
    most = 12 if once else len(held) if isinstance(held, list) else len(left_out)
    if not (rest[0].isascii() and rest[0].isdigit() and 1 <= int(rest[0][:4]) <= most):
        raise CaseError(_numbers(place.key, most))
    return [FieldPlace(steps=(*place.steps, rest[0]), table=place.table, item=True, left_out=left_out)]


def _numbers(key: str, most: int) -> str:
    if most < 2:
        return f"this case has {'only one' if most else 'no'} {key}"
    return f"{key} has the numbers 1 to {most} in this case"


def _form(place: FieldPlace) -> tuple[Form, str]:
    info = place.table.model_fields[place.key]
    if not place.item:
        if tables_of(info.annotation)[1]:
            return "table", ""
        one_or_many = any(isinstance(m, OneOrMany) for m in info.metadata)
        if any(get_origin(a) is tuple for a in flat(info.annotation)) and not one_or_many:
            return "list", ""
    for mark in (*info.metadata, *flat(info.annotation)):
        if isinstance(mark, Quantity):
            return "quantity", mark.kind
        if isinstance(mark, Number):
            return ("whole number" if mark.whole else "number"), ""
    return "text", ""


def _common_note(place: FieldPlace, case: Case) -> str:
    """Which strings a value of [strings] counts for, if not for all; refused if for none."""
    key = place.key
    own = _OWN.get(key, ())
    if not own:
        return ""
    strings = [s for s in case.string if key not in _WOUND or s.core is not None]
    if not strings:
        raise CaseError(f"strings.{key}: no string of this case is wound, so it would change nothing")
    takes = [i for i, s in enumerate(case.string, start=1)
             if s in strings and all(getattr(s, k) is None for k in own)]
    if not takes:
        raise CaseError(f"strings.{key}: every string has its own {' or '.join(own)}, so it would change nothing; "
                        f"write string.{own[0] if key == 'spacing' else key} for all of them, or string.1.… for one")
    if len(takes) == len(strings):
        return ""
    return f"strings.{key} counts for string {', '.join(map(str, takes))} alone; the others have their own."


def _words(content: Any) -> str:
    """A value of the file as the text of a table's cell."""
    if isinstance(content, dict):
        return " ".join(f"{k} {_words(v)}" if k not in ("shape", "kind") else _words(v) for k, v in content.items())
    if isinstance(content, list):
        return ", ".join(_words(v) for v in content)
    return str(content)
