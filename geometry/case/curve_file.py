"""Curves of materials in CSV: two columns with the units in their heads, H (kA/m), B (T)."""

from __future__ import annotations

import csv
import re
from pathlib import Path
from typing import Any

from ..units import shown

LARGEST = 200_000  # bytes
FIELD, FLUX = ("A/m", "kA/m", "Oe", "kOe"), ("T", "mT", "G", "kG")
_HEAD = re.compile(r"\s*([HB])\s*[\s(\[,/]?\s*([A-Za-z]+(?:/m)?)\s*[)\]]?\s*")


def curve_of(path: str) -> dict[str, Any]:
    """The points [H, B] of a file with their units, as a table of the case file has them.

    Raises
    ------
    ValueError
        One sentence, which begins with the key.
    """
    rows = _rows(path)
    name, heads = Path(path).name, rows[0][1] if rows else []
    found = [_HEAD.fullmatch(cell) for cell in heads]
    column = {match[1]: (i, match[2]) for i, match in enumerate(found) if match}
    if set(column) != {"H", "B"} or column["H"][1] not in FIELD or column["B"][1] not in FLUX:
        raise ValueError(f"curve_file: {name} has the heads {shown(', '.join(heads))}; write H and B with their "
                         f"units, such as H (kA/m), B (T); for H {', '.join(FIELD)}, for B {', '.join(FLUX)}")
    points = []
    for line, cells in rows[1:]:
        try:
            points.append([float(cells[column["H"][0]]), float(cells[column["B"][0]])])
        except (ValueError, IndexError):
            raise ValueError(f"curve_file: {name}, line {line}: received {shown(', '.join(cells))}; write two "
                             "numbers with a point for decimals") from None
    return {"points": points, "field_unit": column["H"][1], "flux_unit": column["B"][1]}


def _rows(path: str) -> list[tuple[int, list[str]]]:
    """Lines with anything in them, by commas, semicolons or tabs, with their numbers; those with # are remarks."""
    try:
        if Path(path).stat().st_size > LARGEST:
            raise ValueError(f"curve_file: {Path(path).name} is larger than {LARGEST // 1000} kB; a curve is far "
                             "smaller")
        text = Path(path).read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise ValueError(f"curve_file: there is no {Path(path).name} in {Path(path).parent}; a path counts from the "
                         "folder of the case file") from None
    except (OSError, UnicodeDecodeError) as error:
        raise ValueError(f"curve_file: {Path(path).name} cannot be read as text: "
                         f"{getattr(error, 'strerror', None) or 'it is not UTF-8'}") from None
    lines = [(i, line) for i, line in enumerate(text.splitlines(), start=1)
             if line.strip() and not line.lstrip().startswith("#")]
    mark = max(",;\t", key=lambda sign: sum(line.count(sign) for _, line in lines))
    return [(i, [cell.strip() for cell in row]) for (i, line) in lines
            for row in csv.reader([line], delimiter=mark)]
