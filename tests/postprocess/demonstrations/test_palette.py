"""The two grounds of slides: what is written on the one is the other, and both are read."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure

from stringflux.cases.demonstrations.written import save_slide
from stringflux.postprocess.demonstrations.moving import Shape, View, box, label
from stringflux.postprocess.demonstrations.palette import DARK, LIGHT, Palette, recoloured
from stringflux.postprocess.demonstrations.parts import Slide
from stringflux.postprocess.demonstrations.slides import chart, drawn, view_panel

LEAST_CONTRAST = 4.5  # WCAG 2.2, 1.4.3


def _light(colour: str) -> float:
    part = np.array(to_rgb(colour))
    linear = np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_curves_and_text_stand_out(palette: Palette) -> None:
    ground = _light(palette.ground)
    for colour in (palette.ink, palette.soft, palette.lines, *palette.curves):
        a, b = sorted((_light(colour), ground))
        assert (b + 0.05) / (a + 0.05) >= LEAST_CONTRAST, colour


def test_recoloured_slide_is_the_slide_on_the_other_ground(tmp_path: Path) -> None:
    shapes = (*(Shape(role=role, outline=box(i * 1e-3, 0, (i + 1) * 1e-3, 1e-3))
                for i, role in enumerate(("magnet", "north", "south", "steel", "copper", "winding", "into", "out"))),
              Shape(role="accent", outline=box(0, 2e-3, 1e-3, 3e-3), filled=False), label("N", 3e-3, 2e-3))
    view = View(title="a view", window=(0, 1e-2, 0, 5e-3), shapes=shapes, phase=np.zeros(1, dtype=np.int64),
                lines=((np.array([np.linspace(0, 1e-2, 9), np.linspace(0, 4e-3, 9)]),),))

    def draw(figure: Figure, palette: Palette) -> None:
        left, right = figure.subplots(1, 2)
        chart(left, np.arange(3.0), [(f"curve {i}", np.arange(3.0) * i) for i in range(6)], palette, x_name="x",
              y_name="y", title="a title")
        view_panel(right, view, palette)

    slide = Slide(name="both", title="Both", under="under it", draw=draw)
    texts = []
    for palette, name in ((LIGHT, "light.svg"), (DARK, "dark.svg")):
        save_slide(drawn(slide, palette), tmp_path / name)
        # marks are named by a sum over their style
        texts.append(re.sub(r"(id=\"|#)m[0-9a-f]{10}", r"\1", (tmp_path / name).read_text(encoding="utf-8")))
    assert recoloured(texts[0]) == texts[1]
    assert recoloured(recoloured(texts[0]), DARK, LIGHT) == texts[0]
