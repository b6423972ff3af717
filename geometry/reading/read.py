"""From the content of a case file to a `Case`, every fault told in one sentence.

A sentence begins with the place as the file writes it: ``string 2, gap: received …; write …``. Items of a
list of tables count from 1, ``[[pole.part]]`` is ``pole 1, part 2``.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, Annotated, Any, TypeVar, get_args, get_origin

from pydantic import TypeAdapter, ValidationError
from pydantic.fields import FieldInfo

from ..case.keys import ROUND, Table, UnknownKeyError, near
from ..case.model import Case
from ..errors import CaseError
from ..units import shown
from .changes import change_value
from .check_case import check_case

if TYPE_CHECKING:
    from pydantic_core import ErrorDetails

Whole = TypeVar("Whole", bound=Table)


def read_case(data: Mapping[str, Any], *, materials: Mapping[str, str] | None = None,
              without_strings: bool = False) -> Case:
    """Build and check a case.

    Parameters
    ----------
    data : mapping
        Tables and keys as a TOML reader gives them.
    materials : mapping of str to str, optional
        Built-in materials: name → use, "magnet", "soft" or "string". Without it names that the case does not
        define itself are taken on trust.
    without_strings : bool
        Whether a case without strings will do.

    Raises
    ------
    CaseError
        With the first fault, and how many more there are.
    """
    return _checked(data, materials, without_strings=without_strings)


def changed_case(case: Case, changes: Mapping[str, Any], *, materials: Mapping[str, str] | None = None) -> Case:
    """A case with some values changed, as if its file had said so.

    Parameters
    ----------
    changes : mapping of str to object
        As files write them, or floats in SI, by dotted path with items counted from 1:
        ``{"string.1.gap": "2 mm"}``.
    materials : mapping of str to str, optional
        As of :func:`read_case`.

    Raises
    ------
    CaseError
        With the first fault.
    """
    data = _lists(case.model_dump(exclude_unset=True))
    for dotted, value in changes.items():
        change_value(data, dotted, value)
    return _checked(data, materials, si=True, without_strings=not case.string)


def _lists(data: Any) -> Any:
    """Tables and lists, as a TOML reader gives them."""
    if isinstance(data, dict):
        return {key: _lists(value) for key, value in data.items()}
    return [_lists(value) for value in data] if isinstance(data, list | tuple) else data


def _checked(data: Mapping[str, Any], materials: Mapping[str, str] | None, *, si: bool = False,
             without_strings: bool) -> Case:
    case = read_table(Case, data, si=si)
    check_case(case, materials, without_strings=without_strings)
    return case


def read_table(whole: type[Whole], data: Mapping[str, Any], *, si: bool = False) -> Whole:
    """A whole file as one record, whatever kind of file it is.

    Parameters
    ----------
    whole : type
        Its record.
    data : mapping
        Tables and keys as a TOML reader gives them.
    si : bool
        Whether floats are SI numbers.

    Raises
    ------
    CaseError
        With the first fault, and how many more there are.
    """
    try:
        return whole.model_validate(dict(data), context={"si": si})
    except ValidationError as error:
        faults = _own(error.errors(include_url=False))
    sentence = _sentence(faults[0], data, whole)
    more = len(faults) - 1
    raise CaseError(
        sentence + (f" ({more} more {'fault' if more == 1 else 'faults'} after this)" if more else "")
    )


def read_key(table: type[Table], key: str, value: Any, *, where: str, item: bool = False) -> Any:
    """One key of a table, in SI as the model reads it, whatever the rest of a case says.

    Parameters
    ----------
    where : str
        What a sentence about it begins with.
    item : bool
        `value` is one item of the key's list.

    Raises
    ------
    CaseError
        The model's own sentence.

    Examples
    --------
    >>> from stringflux.geometry.case.strings import String
    >>> round(read_key(String, "pitch", "E2", where="string.1.pitch"), 3)
    82.407
    """
    try:
        return _reader(table, key, item).validate_python(value)
    except ValidationError as error:
        fault = error.errors(include_url=False)[0]
    inside = fault["loc"] if isinstance(value, list | dict) else ()
    sentence = _sentence({**fault, "loc": inside}, value)
    whole = sentence.startswith(("received ", '"', "'"))
    raise CaseError(_colon(where, sentence) if whole else _join(where, sentence))


@lru_cache(maxsize=256)
def _reader(table: type[Table], key: str, item: bool) -> TypeAdapter[Any]:
    info = table.model_fields[key]
    wanted: Any = get_args(info.annotation)[0] if item else Annotated[info.annotation, info]
    return TypeAdapter(wanted)


def _own(faults: list[ErrorDetails]) -> list[ErrorDetails]:
    """Without those that a list has only because its items have some: pydantic then counts the good items."""
    homes = {fault["loc"][:n] for fault in faults for n in range(len(fault["loc"]))}
    return [fault for fault in faults if fault["type"] != "too_short" or fault["loc"] not in homes]


def _sentence(fault: Mapping[str, Any], data: Any, whole: type[Table] = Case) -> str:
    where = _place(fault["loc"], data)
    kind, got, ctx = fault["type"], fault["input"], fault.get("ctx", {})
    if kind == "value_error":
        text = _elsewhere(ctx["error"], _head(fault["loc"]), whole) or str(ctx["error"])
        # a check of a whole table begins with the key it is about; one of a key begins with what it received
        return _join(where, text) if not text.startswith(("received ", '"', "'")) else _colon(where, text)
    return _colon(where, _plain(kind, got, ctx, _head(fault["loc"])))


def _head(loc: tuple[str | int, ...]) -> str:
    return ".".join(step for step in loc if isinstance(step, str) and step != ROUND)


def _elsewhere(error: ValueError, here: str, whole: type[Table]) -> str:
    """What to say of a key that not the table `here` but another one of the file has."""
    if not isinstance(error, UnknownKeyError) or error.mistyped:
        return ""
    homes = [home for home in _homes(whole).get(error.key, ()) if not here.startswith(home.strip("[]"))]
    if not homes:
        return ""
    *first, last = homes
    return f"{shown(error.key)} is not a key here; it belongs under {', '.join(first)}{' or ' if first else ''}{last}"


@lru_cache(maxsize=8)
def _homes(whole: type[Table]) -> dict[str, tuple[str, ...]]:
    """Where each key of a file belongs, "[coil]" or "a head of its own, [[pole.part]]", by its name."""
    found: dict[str, list[str]] = {}
    seen: set[type[Table]] = {whole}
    tables: list[tuple[str, type[Table]]] = [("", whole)]
    for head, table in tables:  # grows on the way
        for key, info in table.model_fields.items():
            kinds = [t for t in _parts(info.annotation) if isinstance(t, type) and issubclass(t, Table)]
            mark = "[[{}]]" if any(get_origin(t) is tuple for t in _parts(info.annotation)) else "[{}]"
            path = f"{head.strip('[]')}.{key}".strip(".")
            if kinds:
                found.setdefault(key, []).append(f"a head of its own, {mark.format(path)}")
            elif head:
                found.setdefault(key, []).append(head)
            for inner in kinds:
                if inner not in seen and not isinstance(inner.model_fields.get("kind"), FieldInfo):
                    seen.add(inner)
                    tables.append((mark.format(path), inner))
    return {key: tuple(dict.fromkeys(homes)) for key, homes in found.items() if len(set(homes)) <= 3}


def _parts(annotation: Any) -> Iterator[Any]:
    yield annotation
    for inner in get_args(annotation):
        yield from _parts(inner)


def _plain(kind: str, got: Any, ctx: Mapping[str, Any], head: str = "") -> str:
    """Sentences for pydantic's own faults; `head` is what the table's head would be."""
    if kind == "missing":
        return "it is missing; add it"
    if kind == "literal_error":
        wanted = str(ctx["expected"]).replace("'", '"')
        return f"received {shown(got)}; write {wanted}"
    if kind == "union_tag_invalid":
        wanted = str(ctx["expected_tags"]).replace("'", '"').replace(f'"{ROUND}", ', "")
        hint = near(str(ctx["tag"]), [w.strip(' "') for w in wanted.split(",")])
        return f"received {shown(str(ctx['tag']))}{hint}; write one of {wanted}"
    if kind == "union_tag_not_found":
        key = str(ctx["discriminator"]).strip("'")
        if isinstance(got, dict):
            return f"{key} is missing; write it, it says what this is"
        return f"received {shown(got)}; write a table with the key {key}"
    if kind == "too_short":
        length = ctx["min_length"]
        return f"received {ctx['actual_length']} items; write at least {length}"
    if kind == "too_long":
        length = ctx["max_length"]
        return f"received more than {length} items; write at most {length}"
    if kind == "string_too_short":
        return f"received a text that is too short; write at least {ctx['min_length']} character"
    if kind == "string_too_long":
        return f"received a text that is too long; write at most {ctx['max_length']} characters"
    if kind == "tuple_type" and not isinstance(got, dict):
        return f"received {shown(got)}; write a list, in square brackets"
    if kind in ("tuple_type", "model_type", "model_attributes_type") and head:
        one, many = f"[{head}]", f"[[{head}]]"
        if kind == "tuple_type":
            return f"received a table, {one}; write a list, each of its tables under double brackets, {many}"
        if isinstance(got, list):
            return f"received a list, {many}; write a table, once and under single brackets, {one}"
    return f"received {shown(got)}; write {_WANTED.get(kind, 'something that fits here')}"


_WANTED = {
    "string_type": "a text in quotes",
    "tuple_type": "a list; tables are listed by double brackets, as in [[string]]",
    "model_type": "a table",
    "dict_type": "a table",
    "bool_type": "true or false",
    "model_attributes_type": "a table",
}


def _place(loc: tuple[str | int, ...], data: Any) -> str:
    """The path of a fault as the file writes it."""
    words: list[str] = []
    node, told = data, False
    for step in loc:
        if isinstance(step, int):
            if isinstance(node, list | tuple):
                words[-1:] = [f"{words[-1]} {step + 1}" if words else str(step + 1)]
                node = node[step] if step < len(node) else None
            continue  # one text where a list may stand: no number
        if step == "[key]":
            continue  # what pydantic calls the name of a table of one's own
        if isinstance(node, dict) and not told and step == _kind(node):
            told = True
            continue  # pydantic names the chosen kind of table; the file has no such level
        told = False
        words.append(step if step.isidentifier() or "-" in step else shown(step))
        node = node.get(step) if isinstance(node, dict) else None
    return ", ".join(words)


def _kind(table: dict[str, Any]) -> Any:
    """The word that tells a table's kind; one with a file needs none, nor a round part."""
    return table.get("shape") or table.get("kind") or ("file" if "file" in table else ROUND)


def _colon(where: str, text: str) -> str:
    return f"{where}: {text}" if where else text


def _join(where: str, text: str) -> str:
    return f"{where}, {text}" if where else text
