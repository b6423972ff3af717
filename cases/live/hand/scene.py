"""What the drawing shows: outlines of everything in three views, and what can be chosen in it.

Lengths in mm. "along" looks along the strings (across, up), "above" from the strings (across, away from the
bridge: with the bridge up it would be a mirror image), "side" across the strings (towards the bridge, up).
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import PlacedString, placed_strings
from stringflux.geometry.kernel.measure import facets
from stringflux.geometry.kernel.views import silhouette
from stringflux.geometry.notes import pitch_words
from stringflux.geometry.shapes.bodies import Cover, Cylinder, Form, Plain, Revolved, SolidBody
from stringflux.geometry.shapes.coil_path import PathCoil
from stringflux.geometry.shapes.pieces import Shaped
from stringflux.geometry.shapes.row import Racetrack

from ...files.changed import inline
from ..moved import unmoved
from .design import written_value
from .handles import MM, coil_paths, handles, row_prefixes
from .tables import tables

VIEWS: Mapping[str, tuple[int, int]] = {"along": (1, 2), "above": (1, 0), "side": (0, 2)}
_ARC = 24


@dataclass(frozen=True, kw_only=True)
class Piece:
    """A body, the thing that a person sees in it ("pole.3"), and the table of the case that makes it."""

    body: SolidBody
    item: str
    path: str


def scene(case: Case, text: str) -> dict[str, Any]:
    """The drawing of a case.

    Parameters
    ----------
    case : Case
    text : str
        Of its file, whose own words a handle shows.

    Returns
    -------
    dict
        "title", "note", "shapes" by view, "handles", "strings", "poles", "coils", "bounds" (low and high of x, y, z),
        and for the view in space "solids" and "windings".
    """
    content = tomllib.loads(text)
    pieces, strings = (*_row_pieces(case), *_own_pieces(case)), placed_strings(case)
    return {
        "title": case.title, "note": case.note,
        "shapes": {view: [_turned(s) for s in found] if view == "above" else found for view, found in
                   ((view, _shapes(case, pieces, strings, pair)) for view, pair in VIEWS.items())},
        "handles": [h | {"written": _words(written_value(content, h["path"]))} for h in handles(case, strings)],
        "strings": [_string(s) for s in strings],
        "coils": [{"name": n, "turns": c.turns, "wire": c.wire, "path": p, "moves": c.moves_with_turns}
                  for n, c, p in zip(case.coil_names(), case.coils(), coil_paths(case), strict=True)],
        "items": _items(case, strings), "unmoved": unmoved(case), "load": case.load.model_dump(),
        "tables": tables(case, content),
        "bounds": _bounds(case, pieces, strings), "solids": [_solid(case, piece) for piece in pieces],
        "windings": [_winding(path, t) for path, t in zip(coil_paths(case), case.racetracks(), strict=True)],
    }


def _winding(path: str, t: Racetrack) -> dict[str, Any]:
    """A winding for the view in space, mm; one on a path of its own by points of its outer and its inner edge."""
    made = {"item": path, "x": MM * t.x_centre, "y": MM * t.y_centre, "inner": MM * t.inner_radius,
            "outer": MM * (t.inner_radius + t.build), "half": MM * t.straight / 2, "bottom": MM * t.bottom,
            "top": MM * t.top}
    if isinstance(t, PathCoil):
        made |= {"rim": MM * np.array(t.outline(t.build)), "hole": MM * np.array(t.outline(0.0))}
    return made


def _use(case: Case, body: SolidBody) -> str:
    return "magnet" if body.polarity else "soft" if case.is_magnetic(body.material) else "inert"


def _solid(case: Case, piece: Piece) -> dict[str, Any]:
    """A body for the view in space: its kind, and what its form is made of, mm."""
    form, said = piece.body.form, {"kind": _use(case, piece.body), "item": piece.item, "label": piece.body.name}
    if isinstance(form, Revolved):
        return said | {"form": "revolved", "outline": MM * np.array(form.outline), "x": MM * form.x, "y": MM * form.y}
    if isinstance(form, Cylinder):
        return said | {"form": "cylinder", "base": [MM * c for c in form.base], "along": form.along,
                       "length": MM * form.length, "radius": MM * form.radius}
    if isinstance(form, Shaped):
        f = facets(form)
        return said | {"form": "facets", "points": MM * f.points, "triangles": f.triangles.ravel().tolist()}
    low, high = ([MM * c for c in corner] for corner in form.bounds)
    wall = {"wall": MM * form.wall} if isinstance(form, Cover) else {}
    return said | {"form": "box", "low": low, "high": high} | wall


def _items(case: Case, strings: tuple[PlacedString, ...]) -> dict[str, dict[str, Any]]:
    """What a person may choose: its name, and the tables that make it, the nearest first."""
    found: dict[str, dict[str, Any]] = {f"string.{s.number}": {"title": f"string {s.number}, {pitch_words(s.pitch)}",
                                    "tables": [f"string.{s.number}", "strings"]} for s in strings}
    for prefix, row in zip(row_prefixes(case), case.rows(), strict=True):
        for entry, pole in enumerate(row.pole):
            parts = [f"{prefix}pole.{entry + 1}.part.{j}" for j in range(1, len(pole.part) + 1)]
            for n in row.numbers(entry):
                found[f"pole.{row.before + n}"] = {
                    "title": f"pole {row.before + n}",
                    "tables": [*parts, f"{prefix}pole.{entry + 1}", f"{prefix}row"]}
    for name, path in zip(case.coil_names(), coil_paths(case), strict=True):
        found[path] = {"title": name if name.startswith("coil") else f"coil {name}", "tables": [path]}
    for i, body in enumerate(case.body, start=1):
        found[f"body.{i}"] = {"title": body.name or f"body {i}", "tables": [f"body.{i}"]}
    whole = {"title": "whole pickup", "tables": ["", "strings", "connection", "load", "conditions"]}
    return found | {"pickup": whole}


def _words(value: Any) -> str:
    return "" if value is None else value if isinstance(value, str) else inline(value)


def _string(placed: PlacedString) -> dict[str, Any]:
    shape = placed.shape
    return {"number": placed.number, "y": MM * placed.y, "z": MM * shape.axis_height, "gap": MM * placed.gap,
            "radius": MM * shape.outer_radius, "slope": shape.slope, "pole": placed.pole,
            "over": f"body.{placed.face.body}" if placed.face.body else f"pole.{placed.face.pole}",
            "pitch": pitch_words(placed.pitch), "frequency": placed.pitch, "wound": bool(shape.wrap),
            "path": f"string.{placed.number}"}


def _row_pieces(case: Case) -> tuple[Piece, ...]:
    found = []
    for prefix, row in zip(row_prefixes(case), case.rows(), strict=True):
        entry_of = {n: e for e in range(len(row.pole)) for n in row.numbers(e)}
        for n in range(1, len(row.row.places()) + 1):
            found += [Piece(body=body, item=f"pole.{row.before + n}", path=f"{prefix}pole.{entry_of[n] + 1}.part.{j}")
                      for body, j in zip(row.standing(n), row.tables(n), strict=True)]
    return tuple(found)


def _own_pieces(case: Case) -> tuple[Piece, ...]:
    return tuple(Piece(body=b, item=f"body.{i}", path=f"body.{i}") for i, b in enumerate(case.own_bodies(), start=1))


def _shapes(case: Case, pieces: tuple[Piece, ...], strings: tuple[PlacedString, ...],
            pair: tuple[int, int]) -> list[dict[str, Any]]:
    """Outlines, what lies behind first."""
    hidden = 3 - pair[0] - pair[1]
    depth = -1.0 if hidden == 1 else 1.0  # seen from above, from the bridge, and from the side of −y
    order: list[tuple[float, dict[str, Any]]] = []
    for piece in pieces:
        low, high = piece.body.form.bounds
        nearest = high[hidden] if depth > 0 else -low[hidden]
        order.append((nearest, {"kind": _use(case, piece.body), "item": piece.item, "path": piece.path,
                                "label": piece.body.name,
                                "material": piece.body.material, "north": _north(piece.body, pair),
                                **_rim(piece.body.form, pair)}))
    shapes = [s for _, s in sorted(order, key=lambda item: item[0])]
    for name, path, track in zip(case.coil_names(), coil_paths(case), case.racetracks(), strict=True):
        coil = {"kind": "coil", "item": path, "path": path, "label": name, "rings": _coil(track, pair)}
        shapes = [coil, *shapes]  # from the strings too it hides nothing that stands in it
    return shapes


def _turned(shape: dict[str, Any]) -> dict[str, Any]:
    """The same with the bridge down."""
    outlines = {"outline": np.array([1, -1]) * shape["outline"]} if "outline" in shape else {}
    rings = {"rings": [np.array([1, -1]) * ring for ring in shape["rings"]]} if "rings" in shape else {}
    north = shape.get("north")
    return shape | outlines | rings | ({"north": [north[0], -north[1]]} if north else {})


def _north(body: SolidBody, pair: tuple[int, int]) -> list[float] | None:
    return [body.magnetisation[i] for i in pair] if body.magnetisation else None


def _rim(form: Form, pair: tuple[int, int]) -> dict[str, Any]:
    """The outline of a body in mm; of what is made of pieces the rims of its silhouette too, filled by winding."""
    if not isinstance(form, Shaped):
        return {"outline": _outline(form, pair)}
    return {"outline": _box(form, pair), "rings": [MM * rim for rim in silhouette(form, pair)], "rule": "nonzero"}


def _outline(form: Plain, pair: tuple[int, int]) -> Array:
    """(n, 2) closed outline in mm."""
    if isinstance(form, Revolved):
        return _revolved(form, pair)
    if isinstance(form, Cylinder) and form.along not in pair:
        middle = [form.base[i] for i in pair]
        return MM * (np.array(middle) + form.radius * _circle())
    return _box(form, pair)


def _box(form: Form, pair: tuple[int, int]) -> Array:
    (a, b), (c, d) = ([corner[i] for i in pair] for corner in form.bounds)
    return MM * np.array([[a, b], [a, d], [c, d], [c, b]])


def _revolved(form: Revolved, pair: tuple[int, int]) -> Array:
    if 2 not in pair:
        return MM * (np.array([form.y, form.x]) + max(r for r, _ in form.outline) * _circle())
    r, z = np.array(form.outline).T
    middle = form.x if pair[0] == 0 else form.y
    if np.min(r) > 0:  # a ring: what is seen of it is as wide as it is
        r, z = np.array([0.0, np.max(r), np.max(r), 0.0]), np.array([np.min(z), np.min(z), np.max(z), np.max(z)])
    right = [(middle + a, b) for a, b in zip(r, z, strict=True)]
    left = [(middle - a, b) for a, b in zip(r[::-1], z[::-1], strict=True)]
    start = next((i for i in range(len(r)) if r[i] <= 0 and r[(i + 1) % len(r)] > 0), 0)
    right, left = right[start:] + right[:start], left[len(r) - start:] + left[:len(r) - start]
    return MM * np.array(right + left)


def _circle() -> Array:
    angle = np.linspace(0, 2 * np.pi, 2 * _ARC, endpoint=False)
    return np.stack([np.cos(angle), np.sin(angle)], axis=1)


def _coil(track: Racetrack, pair: tuple[int, int]) -> list[Array]:
    """Closed outlines (n, 2) in mm: from above the outer and the inner edge, else both sides that are cut."""
    if isinstance(track, PathCoil):
        if 2 not in pair:
            return [MM * np.array(track.outline(u))[:, ::-1] for u in (track.build, 0.0)]
        k, z = pair[0], (track.bottom, track.top)
        (a, b), (c, d) = ([p[k] for p in ends] for ends in (track.bounds, track.inner_bounds))
        return [MM * np.array([[p, z[0]], [q, z[0]], [q, z[1]], [p, z[1]]]) for p, q in ((a, c), (d, b))]
    inner, outer, half = track.inner_radius, track.inner_radius + track.build, track.straight / 2
    if 2 not in pair:
        return [_stadium(track, r, half) for r in (outer, inner)]
    middle = track.x_centre if pair[0] == 0 else track.y_centre
    near = inner if pair[0] == 0 else half + inner
    return [MM * np.array([[middle + s * (near + w), z] for w, z in track.corners]) for s in (-1, 1)]


def _stadium(track: Racetrack, radius: float, half: float) -> Array:
    angle = np.linspace(0, np.pi, _ARC)
    end = radius * np.stack([np.sin(angle), np.cos(angle)], axis=1)  # from +x to −x round the end at +y
    points = np.concatenate([end + [half, 0], -end - [half, 0]])
    return MM * (points + [track.y_centre, track.x_centre])


def _bounds(case: Case, pieces: tuple[Piece, ...], strings: tuple[PlacedString, ...]) -> dict[str, list[float]]:
    corners = [c for p in pieces for c in p.body.form.bounds]
    corners += [c for track in case.racetracks() for c in track.bounds]
    corners += [(0.0, s.y, s.shape.axis_height + s.shape.outer_radius) for s in strings]
    return {"low": [MM * min(c[i] for c in corners) for i in range(3)],
            "high": [MM * max(c[i] for c in corners) for i in range(3)]}
