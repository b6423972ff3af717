"""Files that a case names, `file` of a body and `curve_file` of a material: their paths count from its folder."""

from __future__ import annotations

import re
from collections.abc import Mapping
from os.path import normpath
from pathlib import Path
from typing import Any

_LINE = re.compile(r"""(\b(?:curve_)?file\s*=\s*)(?:"([^"\\\n]*)"|'([^'\n]*)')""")


def with_whole_paths(data: dict[str, Any], folder: Path) -> dict[str, Any]:
    """The content of a case with paths that hold anywhere; what is no table of a case stays as it is."""
    bodies, materials = data.get("body"), data.get("materials")
    if isinstance(bodies, list):
        data = data | {"body": [_whole(body, "file", folder) for body in bodies]}
    if isinstance(materials, Mapping):
        data = data | {"materials": {k: _whole(v, "curve_file", folder) for k, v in materials.items()}}
    return data


def text_with_whole_paths(text: str, folder: Path) -> str:
    """The text of a case with paths that hold anywhere; the rest of it is not touched.

    Examples
    --------
    >>> text_with_whole_paths('shape = "box"\\nfile = "parts/a.step"', Path("/home"))
    'shape = "box"\\nfile = "/home/parts/a.step"'
    """
    def put(match: re.Match[str]) -> str:
        return f'{match[1]}"{_path(match[2] or match[3] or "", folder)}"'

    return _LINE.sub(put, text)


def _whole(table: Any, key: str, folder: Path) -> Any:
    if isinstance(table, Mapping) and isinstance(table.get(key), str) and table[key]:
        return {**table, key: _path(table[key], folder)}
    return table


def _path(name: str, folder: Path) -> str:
    return Path(normpath(folder.absolute() / name)).as_posix() if name else name
