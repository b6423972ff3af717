"""The field in a plane through a pickup, for any solver: what a solver gives, and the picture made of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import PlacedString, placed_strings
from stringflux.geometry.shapes.bodies import Revolved

from ..records.prediction import SliceRecord, StringRecord
from ..string.own_field import MagnetisedLine
from .flux_lines import LineSource, flux_lines
from .on_grid import on_grid

STEP = 0.25e-3
"""Between the points of a picture, m."""
_BESIDE, _OVER, _LEAST = 5e-3, 3e-3, 12e-3  # of air shown; more over the strings; of the strings' length each way
_NEAR, _WIDE = 4e-3, 1e-3  # about a string every point is computed, elsewhere fewer
_AXIS = {"along": 1, "side": 0}


@dataclass(frozen=True, kw_only=True, eq=False)
class PlaneField:
    """What a solver gives of a plane: as :class:`.FieldPicture`, and where its lines begin."""

    plane: str
    at: float
    u: Array
    z: Array
    b: Array
    inside: npt.NDArray[np.int64]
    names: tuple[str, ...]
    sources: tuple[LineSource, ...]
    endless: bool = False


def window(case: Case, plane: str) -> tuple[Array, Array]:
    """Places across and up that show all of a case in a plane, m."""
    k = _AXIS[plane]
    corners = [c for body in case.solid_bodies() for c in body.form.bounds]
    corners += [c for track in case.racetracks() for c in track.bounds]
    corners += [(0.0, s.y, s.shape.axis_height + s.shape.outer_radius) for s in placed_strings(case)]
    across, up = np.array([c[k] for c in corners]), np.array([c[2] for c in corners])
    middle = (across.min() + across.max()) / 2
    return (_steps(min(across.min() - _BESIDE, middle - _LEAST), max(across.max() + _BESIDE, middle + _LEAST)),
            _steps(up.min() - _BESIDE, up.max() + _BESIDE + _OVER))


def _steps(low: float, high: float) -> Array:
    return STEP * np.arange(np.floor(low / STEP), np.ceil(high / STEP) + 1)


def sliced(case: Case, cut: SliceRecord) -> PlaneField:
    """Of a build the plane that its slice shows; lines begin in the magnets."""
    shown = [(i, o) for i, o in enumerate(cut.outlines) if o.kind in ("magnet", "soft")]
    number = {i: n for n, (i, _) in enumerate(shown)}
    turned = {b.name: b.magnetisation for b in case.solid_bodies()}
    axes = [(b.form.x, b.form.y) for b in case.solid_bodies() if isinstance(b.form, Revolved)]
    sources = []
    for i, o in shown:
        (left, bottom), (right, top) = o.polygon.min(axis=1), o.polygon.max(axis=1)
        north, middle = turned.get(o.name), (left + right) / 2
        if o.kind != "magnet" or north is None or abs(north[1]) > 0.7:
            continue
        sources.append(LineSource(number=number[i], middle=middle, half=(right - left) / 2, bottom=bottom, top=top,
                              round=any(np.hypot(x - middle, y - cut.y) < 1e-6 for x, y in axes),
                              upright=abs(north[2]) > abs(north[0])))
    if not all(s.round for s in sources):
        sources = [LineSource(number=s.number, middle=s.middle, half=s.half, bottom=s.bottom, top=s.top, round=False,
                          upright=s.upright) for s in sources]
    inside = np.full(cut.region.shape, -1)
    for i, n in number.items():
        inside[cut.region == i] = n
    return PlaneField(plane="side", at=cut.y, u=cut.x, z=cut.z, b=cut.b, inside=inside,
                      names=tuple(o.name for _, o in shown), sources=tuple(sources), endless=cut.endless)


def lines_of(found: PlaneField) -> tuple[tuple[Array, ...], float]:
    """Lines (2, n) of u and z, m, and the flux between them."""
    return flux_lines((found.u, found.z), found.b[[_AXIS[found.plane], 2]], found.inside, found.sources)


def added_by(found: PlaneField, placed: Sequence[PlacedString], strings: Sequence[StringRecord]) -> Array:
    """What the strings add in a plane, T (3, nz, nu), nan inside one.

    Parameters
    ----------
    placed, strings : sequences
        The strings at rest, and what was found of each.
    """
    k = _AXIS[found.plane]
    added = np.zeros(found.b.shape)
    for place, record in zip(placed, strings, strict=True):
        line = MagnetisedLine(shape=place.shape, x=record.x, along=record.line_moment,
                              across=record.line_moment_across)

        def at(u: Array, z: Array, line: MagnetisedLine = line) -> Array:
            points = np.full((3, u.size), found.at)
            points[k], points[2] = u, z
            return line.field(points)

        added += on_grid(found.u, found.z, _about(place, found), _WIDE, at)
    return added


def _about(place: PlacedString, found: PlaneField) -> tuple[float, float, float, float] | None:
    """The box about a string in the plane, if it comes near."""
    z, room = place.shape.axis_height, _NEAR + place.shape.outer_radius
    if found.plane == "along":
        return place.y - room, place.y + room, z - room, z + room
    if abs(place.y - found.at) > room:
        return None
    rise = abs(place.shape.slope) * float(np.abs(found.u).max())
    return float(found.u[0]), float(found.u[-1]), z - room - rise, z + room + rise
