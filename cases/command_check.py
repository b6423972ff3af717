"""`stringflux check-case` and `stringflux schema`: what a case says, without computing it."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from stringflux.geometry.case import Case
from stringflux.geometry.errors import OutputError
from stringflux.geometry.shapes import PartShape
from stringflux.geometry.units import shown

from .load import find_case, load_case
from .notes import note_name
from .tables import Column, console, table


def run_check(which: str, *, out: str, changes: Mapping[str, Any]) -> None:
    """Read, build the materials, say what was understood, draw."""
    case = load_case(which, changes)
    name = find_case(which).stem
    folder = _drawing_folder(out)
    from .prediction import case_materials

    case_materials(case)  # curves are checked where they are built
    _print_case(case)
    from stringflux.postprocess.figures import drawing

    from .results import save_figure

    png, svg = (folder / f"{name}-drawing.{kind}" for kind in ("png", "svg"))
    try:
        save_figure(drawing(case), png, svg)
    except OSError as error:
        raise OutputError(f"--out: {shown(str(png))} cannot be written ({error.strerror})") from None
    print(f"The case is good. Drawing: {png} and {svg.name}")


def _drawing_folder(out: str) -> Path:
    folder = Path(out)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if os.access(folder, os.W_OK | os.X_OK):
            return folder
        reason = "no permission"
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", "") or "no possible name"
    raise OutputError(
        f"--out: received {shown(out)}, where no drawing can be written ({reason}); name another folder"
    )


def _print_case(case: Case) -> None:
    to = console()
    to.print(case.title or "Untitled case", style="bold", markup=False)
    poles = case.placed_poles()
    numbers = tuple(str(i) for i in range(1, len(poles) + 1))
    parts = (", ".join(_part(p) for p in pole.shape.parts) for pole in poles)
    to.print(
        table(
            "Poles",
            [
                Column(head="No.", cells=numbers),
                Column(head="Parts from the top down, mm", cells=tuple(parts)),
                Column(head="Across\nmm", cells=tuple(f"{p.y * 1e3:.2f}" for p in poles)),
                Column(head="Face at\nmm", cells=tuple(f"{p.face * 1e3:.2f}" for p in poles)),
            ],
            left=2,
        )
    )
    to.print(table("Strings", _strings(case)))
    coil, wire = case.racetrack(), case.coil.winding_wire()
    to.print(
        f"\nCoil: {coil.turns:g} turns of {wire.name} in a window of {coil.build * 1e3:.4g} by "
        f"{(coil.top - coil.bottom) * 1e3:.4g} mm, inside {coil.inner_radius * 2e3:.4g} by "
        f"{(coil.inner_radius * 2 + coil.straight) * 1e3:.4g} mm."
    )


def _part(part: PartShape) -> str:
    return f"{part.material} {part.radius * 2e3:.4g} × {(part.top - part.bottom) * 1e3:.4g}"


def _strings(case: Case) -> list[Column]:
    shapes, poles = case.string_shapes(), case.placed_poles()
    nearest = case.nearest_poles()
    gaps = [u - poles[i].face for u, i in zip(case.undersides(), nearest, strict=True)]
    columns: dict[str, list[str]] = {
        "No.": [str(i) for i in range(1, len(shapes) + 1)],
        "Pitch": [note_name(f) or f"{f:.1f} Hz" for f in case.frequencies()],
        "Size\nmm": [f"{s.outer_radius * 2e3:.3f}" for s in shapes],
        "Core\nmm": [f"{s.core_radius * 2e3:.3f}" if s.wrap_diameter else "" for s in shapes],
        "Across\nmm": [f"{s.y * 1e3:.2f}" for s in shapes],
        "Pole": [str(i + 1) for i in nearest],
        "Gap\nmm": [f"{gap * 1e3:.2f}" for gap in gaps],
        "Mass\ng/m": [f"{m * 1e3:.3g}" for m in case.unit_masses()],
        "Tension\nN": [f"{t:.1f}" for t in case.tensions()],
    }
    return [Column(head=head, cells=tuple(cells)) for head, cells in columns.items()]


def run_schema(out: str | None, *, force: bool) -> None:
    """Print the schema, or write it into a new file."""
    from stringflux.geometry.schema import case_schema

    from .start import write_new

    text = json.dumps(case_schema(), indent=2) + "\n"
    if out is None:
        sys.stdout.write(text)
        return
    path = write_new(out, text, argument="--out", force=force)
    print(f"Wrote {path}")
