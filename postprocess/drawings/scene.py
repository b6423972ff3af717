"""A picture in space: half of the first pole with its field, the row behind it, strings coloured by their flux.

The cut lies along the strings through pole 1; what stands before it is taken away. On the cut: |B| of that
pole alone and its field lines. The strings carry the axial flux density of their steel.
"""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import Sequence
from contextlib import closing, suppress
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.shapes.row import PartShape

from ..figures.section import LINES, Patch, Window, patch_of, window_of
from ..figures.style import INK
from ..records.prediction import SectionRecord, StringRecord
from .scene_build import add_build
from .surfaces import FACETS, race_track, string_tube

SIZE = (1600, 1100)
_MAGNET, _STEEL, _COPPER = "#b9523a", "#8fa3b8", "#d9a24a"


def write_scene(case: Case, strings: Sequence[StringRecord], section: SectionRecord | None,
                path: str | Path | BytesIO) -> str | None:
    """Write the picture as PNG.

    Parameters
    ----------
    case : Case
    strings : sequence of StringRecord
        Of its prediction.
    section : SectionRecord, optional
        The same; None of a build.
    path : path or BytesIO
        File to write.

    Returns
    -------
    str or None
        None when it was written, otherwise one sentence that says why not.
    """
    missing = why_no_renderer()
    if missing:
        return missing
    try:
        pv = _pyvista()
    except ImportError as error:
        return f"no 3-D picture: pyvista cannot be loaded ({error})"
    try:
        with closing(_plotter(pv, SIZE)) as plotter:
            _build(pv, plotter, case, strings, section)
            _save(plotter.screenshot(return_img=True), path)
    except RuntimeError as error:
        return f"no 3-D picture: the renderer failed ({error})"
    return None


def _save(picture: Array, path: str | Path | BytesIO) -> None:
    """As PNG, 9 % larger than it could be, in a third of the time."""
    from PIL import Image

    Image.fromarray(picture).save(path, format="PNG", compress_level=4)


def load_renderer() -> None:
    """Load what a picture needs, for who draws one later; :func:`write_scene` tells what is missing.

    A small picture is drawn of surfaces of every kind: their shaders are compiled then.
    """
    if why_no_renderer() is not None:
        return
    with suppress(ImportError, RuntimeError):
        pv = _pyvista()
        ball = pv.Sphere()
        with closing(_plotter(pv, (16, 11))) as plotter:
            for more in ({"color": _STEEL, "smooth_shading": True}, {"color": INK, "lighting": False},
                         {"color": _COPPER, "smooth_shading": True, "opacity": 0.38},
                         {"scalars": ball.points[:, 2], "smooth_shading": True},
                         {"scalars": ball.points[:, 2], "lighting": False}):
                plotter.add_mesh(ball, **more)
            plotter.screenshot(BytesIO())


def _pyvista() -> Any:
    if not os.environ.get("DISPLAY"):  # else VTK tries X first and complains on the terminal
        os.environ.setdefault("VTK_DEFAULT_OPENGL_WINDOW", "vtkEGLRenderWindow")
    import pyvista

    return pyvista


def _plotter(pv: Any, size: tuple[int, int]) -> Any:
    plotter = pv.Plotter(off_screen=True, window_size=list(size))
    plotter.set_background("white", top="#e9eef3")
    plotter.enable_anti_aliasing("msaa", multi_samples=8)
    return plotter


def why_no_renderer() -> str | None:
    """One sentence if there is nothing to draw with; VTK would end the process instead of saying so."""
    if not sys.platform.startswith("linux") or os.environ.get("DISPLAY"):
        return None
    try:
        ctypes.CDLL("libEGL.so.1")
    except OSError:
        return "no 3-D picture: there is neither a display nor libEGL; install the package libegl1"
    return None


def _build(pv: Any, plotter: Any, case: Case, strings: Sequence[StringRecord],
           section: SectionRecord | None) -> None:
    bar = {"title": "axial flux density in the strings (T)", "fmt": "%.1f", "position_x": 0.56}
    if section is None:
        add_build(pv, plotter, case, strings, {**_BAR, **bar})
        _camera(pv, plotter)
        return
    poles, coil = case.placed_poles(), case.racetrack()
    cut = poles[0].y
    behind: dict[str, Any] = {"normal": (0, 1, 0), "origin": (0, cut, 0), "invert": False}
    for place in poles:
        for part in place.shape.parts:
            body = revolved(pv, part).translate((0, place.y, place.face))
            if place is poles[0]:
                body = body.clip(**behind)
            plotter.add_mesh(body, color=_MAGNET if part.polarity else _STEEL, smooth_shading=True,
                             split_sharp_edges=True, ambient=0.25)
    winding = race_track(pv, coil).clip(**behind)
    plotter.add_mesh(winding, color=_COPPER, opacity=0.38, ambient=0.35, smooth_shading=True, split_sharp_edges=True)
    window = window_of(section)
    patches = [p for k in np.unique(section.region) if (p := patch_of(section, int(k), window)) is not None]
    at = (cut, poles[0].face)
    top = max(float(np.abs(s.line_flux_density).max()) for s in strings) or 1.0
    for string, record in zip(placed_strings(case), strings, strict=True):
        plotter.add_mesh(string_tube(pv, string.shape, record), scalars="flux density", cmap="coolwarm",
                         clim=(-top, top), smooth_shading=True, ambient=0.25, scalar_bar_args={**_BAR, **bar})
    _field(pv, plotter, patches, window, at)
    _camera(pv, plotter)


_BAR = {"width": 0.36, "height": 0.1, "position_y": 0.02, "title_font_size": 22, "label_font_size": 18,
        "vertical": False, "n_labels": 2, "color": "#1d2733"}


def revolved(pv: Any, part: PartShape) -> Any:
    """A part as a surface of revolution about z, face of its pole at z = 0."""
    line = np.array([(r, 0.0, z) for r, z in part.outline])
    profile = pv.lines_from_points(line)
    return profile.extrude_rotate(resolution=FACETS, angle=360.0, capping=False).clean().triangulate()


def _field(pv: Any, plotter: Any, patches: list[Patch], window: Window, at: tuple[float, float]) -> None:
    """|B| on the cut pole, and field lines that show at the size of the whole picture."""
    cut, face = at
    bar = {"title": "flux density in pole 1, alone (mT; 1 mT = 10 G)", "fmt": "%.0f", "position_x": 0.08}
    inside = [p for p in patches if p.inside]
    most = max((float(q.size.max()) for q in inside), default=0.0) or 1e-3
    for p in inside:
        for side in (1, -1):
            flat = np.column_stack([side * p.grid.x, np.full(p.grid.x.size, cut), p.grid.y + face])
            sheet = pv.PolyData.from_regular_faces(flat, p.grid.triangles)
            sheet["mT"] = 1e3 * p.size
            plotter.add_mesh(sheet, scalars="mT", cmap="viridis", clim=(0, 1e3 * most),
                             lighting=False, scalar_bar_args={**_BAR, **bar})
    thick = 6e-4 * max(50e-3, plotter.bounds[3] - plotter.bounds[2])
    before = cut - 1.2 * thick  # lines just before the cut, so that they show on it
    places = [np.column_stack([side * line[:, 0], np.full(len(line), before), line[:, 1] + face])
              for line in field_lines(patches) for side in (1, -1)]
    if not places:
        return  # nothing in this pole is magnetised
    box = (-window.r, window.r, cut - 1, cut + 1, window.bottom + face, window.top + face)
    lines = pv.merge([pv.lines_from_points(place) for place in places]).clip_box(box, invert=False)
    tubes = lines.extract_surface(algorithm=None).strip(join=True).tube(radius=thick, n_sides=6)
    plotter.add_mesh(tubes, color=INK, lighting=False)


def field_lines(patches: list[Patch]) -> list[Array]:
    """Field lines in (r, z), m, arrays (n, 2), with equal flux between them."""
    most = max(float(np.abs(p.flux).max()) for p in patches)
    if not most > 0:
        return []
    levels = (np.arange(-LINES, LINES) + 0.5) * most / LINES
    ax = Figure().subplots()
    found = []
    for p in patches:
        contours = ax.tricontour(p.grid, p.flux, levels=levels)
        found += [line for group in contours.allsegs for line in group if len(line) > 1]
    return found


def _camera(pv: Any, plotter: Any) -> None:
    """Look along the row from before the cut, a little from above and the side; fill the picture."""
    toward = np.array([0.62, -1.0, 0.5]) / np.linalg.norm([0.62, -1.0, 0.5])
    right = np.cross([0.0, 0.0, 1.0], toward)
    right /= np.linalg.norm(right)
    up = np.cross(toward, right)
    points = np.concatenate([a.mapper.dataset.points for a in plotter.actors.values() if isinstance(a, pv.Actor)])
    u, v = points @ right, points @ up
    wide, high = np.ptp(u), np.ptp(v)
    share = 0.16  # of the height, for the colour bars
    scale = max(high / (1 - share - 0.06), wide / 0.92 * SIZE[1] / SIZE[0])
    middle = right * (u.min() + u.max()) / 2 + up * ((v.min() + v.max()) / 2 - (share / 2) * scale)
    plotter.enable_parallel_projection()
    plotter.camera_position = [tuple(middle + toward), tuple(middle), (0, 0, 1)]
    plotter.camera.parallel_scale = scale / 2
    plotter.renderer.ResetCameraClippingRange()
