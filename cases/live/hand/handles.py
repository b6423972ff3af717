"""Handles: values of a case at places of the drawing, by which a hand changes them.

Lengths in mm. A handle moved by 1 mm along its axis, "u" across the view or "v" up in it, changes its value by
`rate` mm.
"""

from __future__ import annotations

from typing import Any

from stringflux.geometry.case.bodies.of_a_pole import FormedPart
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import PlacedString
from stringflux.geometry.case.poles import Part
from stringflux.geometry.shapes.row import PartShape, PlacedPole

MM = 1e3


def handles(case: Case, strings: tuple[PlacedString, ...]) -> list[dict[str, Any]]:
    """All handles of a case.

    Returns
    -------
    list of dict
        "path" of the value, "item" that it belongs to, "view", "at" (u, v), "axis", "value", "label", "rate".
    """
    return [*_string_handles(case, strings), *_pole_handles(case), *_coil_handles(case), *_body_handles(case)]


def row_prefixes(case: Case) -> list[str]:
    """Paths before the keys of each row, as `case.rows()` counts them."""
    own = [""] if case.row.places() else []
    others = enumerate(case.second_coil, start=1)
    return own + [f"second_coil.{i}." for i, other in others if other.row is not None and other.row.places()]


def coil_paths(case: Case) -> list[str]:
    return ["coil", *(f"second_coil.{i}.coil" for i in range(1, len(case.second_coil) + 1))]


def _handle(path: str, view: str, at: tuple[float, float], axis: str, value: float, label: str, *,
            rate: float = 1.0, item: str = "") -> dict[str, Any]:
    return {"path": path, "view": view, "at": [MM * at[0], MM * at[1]], "axis": axis, "value": MM * value,
            "label": label, "rate": rate, "item": item or path.rpartition(".")[0]}


def _string_handles(case: Case, strings: tuple[PlacedString, ...]) -> list[dict[str, Any]]:
    found = []
    for placed, own in zip(strings, case.string, strict=True):
        rule = (own.rules() or case.strings.rules() or ["gap"])[0]
        value = {"gap": placed.gap, "height": placed.underside}.get(rule)
        if value is None:
            value = own.fretted_gap if own.fretted_gap is not None else case.strings.fretted_gap or 0.0
        path, z = f"string.{placed.number}", placed.shape.axis_height
        label = f"string {placed.number}"
        words = {"gap": "gap", "height": "height", "fretted_gap": "gap when fretted"}[rule]
        found += [_handle(f"{path}.{rule}", "along", (placed.y, z), "v", value, f"{label}, {words}"),
                  _handle(f"{path}.position", "along", (placed.y, z), "u", placed.y, f"{label}, place across"),
                  _handle(f"{path}.{rule}", "side", (0.0, z), "v", value, f"{label}, {words}")]
    return found


def _pole_handles(case: Case) -> list[dict[str, Any]]:
    found = []
    for prefix, row in zip(row_prefixes(case), case.rows(), strict=True):
        entry_of = {n: e for e in range(len(row.pole)) for n in row.numbers(e)}
        for n, pole in enumerate(row.placed(), start=1):
            number, x, entry = row.before + n, row.row.x, f"{prefix}pole.{entry_of[n] + 1}"
            face = f"{prefix}row.face.{n}"
            label = f"pole {number}"
            for view, u in (("along", pole.y), ("side", x)):
                found.append(_handle(face, view, (u, pole.face), "v", pole.face, f"{label}, height of the face",
                                     item=f"pole.{number}"))
            tables, owner = row.pole[entry_of[n]].part, row.tables(n)
            for j, table in enumerate(tables, start=1):
                own = [part for part, of in zip(pole.shape.parts, owner, strict=True) if of == j]
                where = f"{label}, part {j}" if len(tables) > 1 else label
                found += _part_handles(f"{entry}.part.{j}", table, pole, own, where, f"pole.{number}")
    return found


def _part_handles(path: str, table: Part | FormedPart, pole: PlacedPole, own: list[PartShape], where: str,
                  item: str) -> list[dict[str, Any]]:
    """How thick and how long a part is; of one of any form how high it is, where its table says that itself."""
    low, high = pole.face + min(p.bottom for p in own), pole.face + max(p.top for p in own)
    if isinstance(table, Part):
        return [_handle(f"{path}.diameter", "along", (pole.y + own[0].radius, (low + high) / 2), "u", table.diameter,
                        f"{where}, diameter", rate=2.0, item=item),
                _handle(f"{path}.length", "along", (pole.y, low), "v", table.length, f"{where}, length", rate=-1.0,
                        item=item)]
    if not (key := table.tall_key):
        return []
    return [_handle(f"{path}.{key}", "along", (pole.y, low), "v", table.tall, f"{where}, {key}", rate=-1.0,
                    item=item)]


def _coil_handles(case: Case) -> list[dict[str, Any]]:
    found = []
    every = zip(case.coil_names(), coil_paths(case), case.coils(), case.racetracks(), strict=True)
    for name, path, coil, track in every:
        (x0, y0), (x1, y1) = track.inner_bounds
        middle, half = (track.bottom + track.top) / 2, (y1 - y0) / 2 - track.inner_radius
        inner = track.inner_radius if not coil.path else (x1 - x0) / 2
        outer = inner + coil.thickness  # the window's, wound full or not
        width = ("outer_width", coil.outer_width, 2.0) if coil.outer_width is not None else ("build", coil.build, 1.0)
        label = name if name.startswith("coil") else f"coil {name}"
        amid = (inner + outer) / 2
        for view, u in (("along", track.y_centre + half + amid), ("side", track.x_centre + amid)):
            found += [_handle(f"{path}.{edge}", view, (u, level), "v", level, f"{label}, {edge} of the winding")
                      for edge, level in (("top", track.top), ("bottom", track.bottom))]
        words = "outside width" if width[0] == "outer_width" else "thickness of the winding"
        found.append(_handle(f"{path}.{width[0]}", "side", (track.x_centre + outer, middle), "u", width[1] or 0.0,
                             f"{label}, {words}", rate=width[2]))
        if coil.inner_width is not None:
            found.append(_handle(f"{path}.inner_width", "side", (track.x_centre - inner, middle), "u",
                                 coil.inner_width, f"{label}, inside width", rate=-2.0))
        if coil.inner_length is not None:
            found.append(_handle(f"{path}.inner_length", "along", (track.y_centre + half + inner, middle), "u",
                                 coil.inner_length, f"{label}, inside length", rate=2.0))
    return found


def _body_handles(case: Case) -> list[dict[str, Any]]:
    found = []
    for i, body in enumerate(case.body, start=1):
        path, (x, y), (low, high) = f"body.{i}", body.centre, body.levels()
        name = body.name or f"body {i}"
        level, value = ("bottom", low) if body.bottom is not None else ("top", high)
        sizes = {"along": ("side", x, 0), "across": ("along", y, 1)}
        for view, u in (("along", y), ("side", x)):
            found.append(_handle(f"{path}.{level}", view, (u, value), "v", value, f"{name}, {level}"))
        for k, (view, u) in enumerate((("side", x), ("along", y))):
            found.append(_handle(f"{path}.centre.{k + 1}", view, (u, (low + high) / 2), "u", u,
                                 f"{name}, place {'along' if k == 0 else 'across'} the strings", item=path))
        for key, (view, u, _) in sizes.items():
            size = getattr(body, key, None)
            if size is not None:
                found.append(_handle(f"{path}.{key}", view, (u + size / 2, (low + high) / 2), "u", size,
                                     f"{name}, size {key} the strings", rate=2.0))
        if getattr(body, "height", None) is not None:
            other, rate = (high, 1.0) if level == "bottom" else (low, -1.0)
            found.append(_handle(f"{path}.height", "along", (y, other), "v", body.tall, f"{name}, height", rate=rate))
    return found
