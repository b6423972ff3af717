"""Pictures of the forms in docs/forms.md, made from the tables of that page: docs/forms/*.png.

With --out DIR they go there.
"""

from __future__ import annotations

import os
import re
import sys
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
from pydantic import TypeAdapter

from stringflux.cases.files.named_files import with_whole_paths
from stringflux.geometry.case.bodies import Body, with_shapes
from stringflux.geometry.shapes.bodies import SolidBody
from stringflux.postprocess.drawings.scene import why_no_renderer
from stringflux.postprocess.drawings.scene_build import surfaces

PAGE = Path(__file__).parents[2] / "docs" / "forms.md"
SIZE = (640, 400)
_COLOURS = {True: "#b9523a", False: "#8fa3b8"}


def sections(text: str) -> dict[str, list[dict[str, Any]]]:
    """The bodies of every section that has some, by the name of its picture."""
    found = {}
    for part in re.split(r"^## ", text, flags=re.MULTILINE)[1:]:
        name = re.sub(r"[^a-z0-9]+", "-", part.splitlines()[0].lower()).strip("-")
        blocks = [tomllib.loads(block) for block in re.findall(r"```toml\n(.*?)```", part, flags=re.DOTALL)]
        bodies = [table for block in blocks for table in with_whole_paths(block, PAGE.parent).get("body", ())]
        for block in re.findall(r"```text\n(\[\[pole\.part\]\].*?)```", part, flags=re.DOTALL):
            bodies += in_a_row(tomllib.loads(block)["pole"]["part"][0])
        if bodies:
            found[name] = bodies
    return found


def in_a_row(part: dict[str, Any]) -> list[dict[str, Any]]:
    """Three poles of one part, faces at one height."""
    return [{**part, "centre": ["0 mm", f"{y} mm"], "top": "0 mm"} for y in (-10.4, 0, 10.4)]


def read(tables: list[dict[str, Any]]) -> list[SolidBody]:
    """Bodies as the program sees them."""
    reader: TypeAdapter[Any] = TypeAdapter(Body)
    return [reader.validate_python(t).solid_body(t.get("name", "body")) for t in with_shapes(tables)]


def picture(bodies: list[SolidBody], path: Path) -> None:
    """From above and aside, its edges drawn."""
    if not os.environ.get("DISPLAY"):
        os.environ.setdefault("VTK_DEFAULT_OPENGL_WINDOW", "vtkEGLRenderWindow")
    import pyvista as pv

    plotter = pv.Plotter(off_screen=True, window_size=SIZE)
    plotter.background_color = "white"
    for body in bodies:
        for piece in surfaces(pv, body.form):
            plotter.add_mesh(piece.scale(1e3), color=_COLOURS[bool(body.polarity)], ambient=0.3, smooth_shading=True,
                             split_sharp_edges=True)
            edges = piece.scale(1e3).extract_feature_edges(25)
            if edges.n_points:
                plotter.add_mesh(edges, color="#1c2733", line_width=2)
    corners = 1e3 * np.array([b.form.bounds for b in bodies])
    middle = (corners[:, 0].min(axis=0) + corners[:, 1].max(axis=0)) / 2
    plotter.camera_position = [tuple(middle + [60.0, -75.0, 60.0]), tuple(middle), (0, 0, 1)]
    plotter.camera.parallel_projection = True
    plotter.reset_camera()
    plotter.camera.zoom(1.05)
    plotter.enable_anti_aliasing("ssaa")
    path.parent.mkdir(parents=True, exist_ok=True)
    plotter.screenshot(path)
    plotter.close()


def main() -> None:
    folder = Path(sys.argv[sys.argv.index("--out") + 1]) if "--out" in sys.argv else PAGE.with_suffix("")
    if missing := why_no_renderer():
        sys.exit(missing)
    for name, tables in sections(PAGE.read_text(encoding="utf-8")).items():
        picture(read(tables), folder / f"{name}.png")
        print(folder / f"{name}.png")


if __name__ == "__main__":
    main()
