"""JSON schema of a case file, for editors that complete and check TOML."""

from __future__ import annotations

from typing import Any

from ..case.keys import KIND, QUANTITY
from ..case.model import Case
from ..units import KINDS, show


def case_schema() -> dict[str, Any]:
    """The schema as a dictionary; quantities are text, with range and units in their description."""
    schema: dict[str, Any] = _tidy(Case.model_json_schema())
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


def _tidy(node: Any) -> Any:
    if isinstance(node, list):
        return [_tidy(item) for item in node]
    if not isinstance(node, dict):
        return node
    options = node.get("anyOf")
    if isinstance(options, list) and {"type": "null"} in options:
        # a TOML file leaves a key out where the model has None
        left = [o for o in options if o != {"type": "null"}]
        option = left[0] if len(left) == 1 else {"anyOf": left}
        node = {**option, **{key: value for key, value in node.items() if key != "anyOf"}}
    # nor does it need a whole table as default, or a title that repeats the key
    idle: dict[str, tuple[type, ...]] = {"default": (dict, type(None)), "title": (str,)}
    if isinstance(node.get("default"), list) and "prefixItems" in node:
        items = zip(node["default"], node["prefixItems"], strict=True)
        node = {**node, "default": [_written(value, item) for value, item in items]}
    node = {k: _tidy(v) for k, v in node.items() if not isinstance(v, idle.get(k, ()))}
    return _quantity(node) if isinstance(node.get(KIND), str) else node


def _written(value: Any, item: dict[str, Any]) -> Any:
    """A default as the file would have it."""
    return show(value, item[KIND]) if KIND in item else value


def _quantity(node: dict[str, Any]) -> dict[str, Any]:
    kind, note = node.pop(KIND), node.pop(QUANTITY)
    described = node.get("description")
    node["description"] = f"{described} {note}" if described else note
    node.setdefault("examples", [KINDS[kind].example])
    if isinstance(node.get("default"), float):
        node["default"] = show(node["default"], kind)
    return node
