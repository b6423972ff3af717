"""The case as it was read: every key with its value in readable units, and whether the file gave it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, get_args

from stringflux.geometry.case.keys import Quantity, Table
from stringflux.geometry.case.model import Case
from stringflux.geometry.units import KINDS, printed_unit, show

from .page import ReportTable, numbers, words
from .words import minus, number_list

_MOST = 12  # items of a list that are written out
# Where the usual unit of a kind would show too many digits: from what value on which unit.
_LARGE = {"length": (1.0, "m"), "resistance": (1e6, "Mohm"), "capacitance": (1e-9, "nF")}


def input_tables(case: Case) -> tuple[ReportTable, ...]:
    """One table for each table of the case file; poles and strings with a row for each."""
    out = [_keys("General", case, ("title", "note", "probe_height"))]
    for i, row in enumerate(case.rows(), start=1):
        out.append(_keys("Row" if len(case.rows()) == 1 else f"Row {i}", row.row))
        for entry, pole in enumerate(row.pole):
            made = [row.before + n for n in row.numbers(entry)]
            plural = "s" if len(made) > 1 else ""
            head = f"Parts of pole{plural} {number_list(made)}, from the top down"
            if len({type(part) for part in pole.part}) == 1:
                out.append(_items(head, "Part", pole.part))
                continue
            out += [_keys(f"{head}: part {j}", part) for j, part in enumerate(pole.part, start=1)]
    for shape in dict.fromkeys(body.shape for body in case.body):
        out.append(_items(f"Bodies: {shape}", "No.", [body for body in case.body if body.shape == shape]))
    names = case.coil_names() if case.second_coil else ("",)
    out += [_keys(f"Coil {name}".strip(), coil) for name, coil in zip(names, case.coils(), strict=True)]
    if case.second_coil:
        out.append(_keys("Connection of the coils", case.connection))
    out += [_keys("Strings, what they share", case.strings),
            _items("Strings, one by one", "String", case.string)]
    if case.lead.model_fields_set:
        out.append(_keys("Lead", case.lead))
    out.append(_keys("Load", case.load))
    if case.height_screws is not None:
        out.append(_keys("Height screws", case.height_screws))
    if case.conditions.model_fields_set:
        out.append(_keys("Conditions", case.conditions))
    if case.scatter.model_fields_set:
        out.append(_keys("Scatter of the parts", case.scatter))
    out += [_keys(f"Material {name}", own) for name, own in case.materials.items()]
    return tuple(out)


def change_words(changes: Mapping[str, Any]) -> str:
    """What was changed on the command line."""
    return ", ".join(f"{key} = {value}" for key, value in changes.items())


def _keys(caption: str, table: Table, keys: Sequence[str] = ()) -> ReportTable:
    """A row for each key."""
    fields = type(table).model_fields
    names = [key for key in keys or fields if getattr(table, key) not in (None, "", ())]
    return ReportTable(caption=caption, columns=(
        words("Key", names),
        words("Value", [_value(table, key) for key in names]),
        words("Given", ["in the file" if key in table.model_fields_set else "usual value" for key in names]),
        words("What it is", [fields[key].description or "" for key in names]),
    ))


def _items(caption: str, head: str, items: Sequence[Table]) -> ReportTable:
    """A row for each item, a column for each key that any of them has."""
    keys = [key for key in type(items[0]).model_fields if any(getattr(item, key) not in (None, ()) for item in items)]
    columns = [numbers(key, [_value(item, key) for item in items]) for key in keys]
    return ReportTable(caption=caption, columns=(
        words(head, [str(i) for i in range(1, len(items) + 1)]), *columns),
        note="–: not given; what all share counts then." if head == "String" else "")


def _value(table: Table, key: str) -> str:
    info, value = type(table).model_fields[key], getattr(table, key)
    marks = (*info.metadata, *_marks(info.annotation))
    kind = next((m.kind for m in marks if isinstance(m, Quantity)), "")
    return _text(value, kind)


def _text(value: Any, kind: str) -> str:
    if value is None:
        return "–"
    if isinstance(value, Table):
        told = [f"{key} {_value(value, key)}" for key in type(value).model_fields
                if key not in ("shape", "kind") and getattr(value, key) not in (None, ())]
        named = getattr(value, "shape", getattr(value, "kind", ""))
        return ", ".join([named, *told] if named else told)
    if isinstance(value, tuple):
        if len(value) > 1 and not isinstance(value[0], tuple) and len(set(value)) == 1:
            return f"{_text(value[0], kind)} (all {len(value)})"
        items = [_pair(item, kind) if isinstance(item, tuple) else _text(item, kind) for item in value[:_MOST]]
        more = [f"… {len(value)} in all"] if len(value) > _MOST else []
        return ", ".join([*items, *more])
    if isinstance(value, float) and kind:
        return minus(_shown(value, kind))
    return minus(f"{value:g}") if isinstance(value, float) else str(value)


def _pair(item: tuple[Any, ...], kind: str) -> str:
    """A value at a place, or a list of such."""
    if item and isinstance(item[0], tuple):
        return f"[{_text(item, kind)}]"
    return " at ".join(_text(v, kind) for v in item)


def _shown(value: float, kind: str) -> str:
    size, unit = _LARGE.get(kind, (float("inf"), KINDS[kind].si))
    number, _, unit = (f"{value / size:.6g} {unit}" if abs(value) >= size else show(value, kind)).partition(" ")
    return f"{number} {printed_unit(unit)}"


def _marks(annotation: Any) -> list[Any]:
    """What stands inside the brackets of Annotated, tuple and union, all levels."""
    inner = get_args(annotation)
    return [mark for part in inner for mark in (part, *_marks(part))]
