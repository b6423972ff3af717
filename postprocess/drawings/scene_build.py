"""A picture in space of bodies and several coils, strings coloured by their flux; whole, nothing is cut away."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.kernel.measure import facets
from stringflux.geometry.shapes.bodies import Box, Cover, Cylinder, Form
from stringflux.geometry.shapes.pieces import Shaped

from ..records.prediction import StringRecord
from .surfaces import FACETS, race_track, string_tube

_MAGNET, _SOFT, _OTHER, _COPPER = "#b9523a", "#8fa3b8", "#dcdcd4", "#d9a24a"


def add_build(pv: Any, plotter: Any, case: Case, strings: Sequence[StringRecord], bar: dict[str, Any]) -> None:
    """Put everything into the plotter."""
    for body in case.solid_bodies():
        colour = _MAGNET if body.polarity else _SOFT if case.is_magnetic(body.material) else _OTHER
        for piece in surfaces(pv, body.form):
            plotter.add_mesh(piece, color=colour, smooth_shading=True, split_sharp_edges=True, ambient=0.25,
                             opacity=0.3 if isinstance(body.form, Cover) else 1.0)
    for track in case.racetracks():
        # the track is made about x = 0
        winding = race_track(pv, replace(track, x_centre=0.0)).translate((track.x_centre, 0.0, 0.0))
        plotter.add_mesh(winding, color=_COPPER, opacity=0.38, ambient=0.35, smooth_shading=True,
                         split_sharp_edges=True)
    top = max(float(np.abs(s.line_flux_density).max()) for s in strings)
    for string, record in zip(placed_strings(case), strings, strict=True):
        plotter.add_mesh(string_tube(pv, string.shape, record), scalars="flux density", cmap="coolwarm",
                         clim=(-top, top), smooth_shading=True, ambient=0.25, scalar_bar_args=bar)


def surfaces(pv: Any, form: Form) -> list[Any]:
    """A form's surface, a cover as its five plates."""
    if isinstance(form, Box):
        return [_box(pv, form.low, form.high)]
    if isinstance(form, Cylinder):
        middle = [c + (form.length / 2 if i == form.along else 0.0) for i, c in enumerate(form.base)]
        return [pv.Cylinder(center=middle, direction=np.eye(3)[form.along], radius=form.radius, height=form.length,
                            resolution=FACETS)]
    if isinstance(form, Cover):
        (x0, y0, z0), (x1, y1, z1), w = form.low, form.high, form.wall
        return [_box(pv, *ends) for ends in (
            ((x0, y0, z1 - w), (x1, y1, z1)), ((x0, y0, z0), (x0 + w, y1, z1 - w)),
            ((x1 - w, y0, z0), (x1, y1, z1 - w)), ((x0 + w, y0, z0), (x1 - w, y0 + w, z1 - w)),
            ((x0 + w, y1 - w, z0), (x1 - w, y1, z1 - w)))]
    if isinstance(form, Shaped):
        f = facets(form)
        return [pv.PolyData.from_regular_faces(f.points, f.triangles)]
    line = np.array([(r, 0.0, z) for r, z in (*form.outline, form.outline[0])])
    turned = pv.lines_from_points(line).extrude_rotate(resolution=FACETS, angle=360.0, capping=False)
    return [turned.clean().triangulate().translate((form.x, form.y, 0.0))]


def _box(pv: Any, low: tuple[float, ...], high: tuple[float, ...]) -> Any:
    return pv.Box([v for pair in zip(low, high, strict=True) for v in pair])
