"""The plane through a build: outlines have the areas that geometry says, and the figure shows what it should."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.bodies import Box, Cover, Cylinder, Form, Revolved
from stringflux.geometry.shapes.row import Racetrack
from stringflux.postprocess.figures.slice import slice_figure
from stringflux.postprocess.figures.style import house_style
from stringflux.postprocess.pictures.outlines import body_outline, winding_outlines
from stringflux.postprocess.records.prediction import SliceOutline, SliceRecord, StringRecord

ROD = Revolved(outline=((0.0, -1e-2), (2e-3, -1e-2), (2e-3, 0.0), (0.0, 0.0)), x=3e-3, y=1e-3)
BOX = Box(low=(-1e-3, -2e-3, -3e-3), high=(1e-3, 2e-3, 0.0))
COVER = Cover(low=(-5e-3, -5e-3, -4e-3), high=(5e-3, 5e-3, 0.0), wall=1e-3)
CHORD = 2 * np.sqrt(2e-3**2 - 1e-3**2)  # of a circle of 2 mm radius, 1 mm from its middle


def area(polygon: Array) -> float:
    x, z = polygon
    return float(abs(x @ np.roll(z, -1) - z @ np.roll(x, -1))) / 2


@pytest.mark.parametrize(("form", "y", "expected"), [
    (BOX, 0.0, 6e-6),
    (COVER, 0.0, 10e-6 + 2 * 3e-6),
    (COVER, 4.5e-3, 40e-6),  # along a wall
    (ROD, 1e-3, 4e-3 * 1e-2),
    (ROD, 2e-3, CHORD * 1e-2),
    (Cylinder(base=(0.0, 1e-3, 0.0), along=2, length=5e-3, radius=2e-3), 0.0, CHORD * 5e-3),
    (Cylinder(base=(0.0, 1e-3, 0.0), along=0, length=5e-3, radius=2e-3), 0.0, CHORD * 5e-3),
])  # fmt: skip
def test_area_of_what_is_cut(form: Form, y: float, expected: float) -> None:
    polygon = body_outline(form, y)
    assert polygon is not None
    assert area(polygon) == pytest.approx(expected, rel=1e-9)


def test_nothing_is_cut_beside_a_body() -> None:
    assert all(body_outline(form, 0.02) is None for form in (BOX, COVER, ROD))


def test_a_coil_shows_two_sides_then_its_end() -> None:
    coil = Racetrack(inner_radius=2e-3, straight=40e-3, build=3e-3, bottom=-8e-3, top=0.0, turns=1.0, x_centre=9e-3)
    assert [area(p) for p in winding_outlines(coil, 0.0)] == pytest.approx([24e-6, 24e-6])
    assert len(winding_outlines(coil, 23e-3)) == 1
    assert winding_outlines(coil, 26e-3) == ()


def test_figure_names_what_it_shows() -> None:
    x, z = np.linspace(-8e-3, 8e-3, 33), np.linspace(-14e-3, 8e-3, 45)
    polygon = body_outline(replace(ROD, x=0.0), 1e-3)
    assert polygon is not None
    inside = (np.abs(x) < 2e-3)[None, :] & ((z > -1e-2) & (z < 0))[:, None]
    b = np.stack([0.01 * x[None, :] / 8e-3 + 0 * z[:, None], 0 * inside, np.where(inside, 0.5, 0.02)])
    cut = SliceRecord(
        y=0.0, x=x, z=z, b=b, region=np.where(inside, 0, -1), string=1,
        string_line=np.array([x[[0, -1]], [4e-3, 4.2e-3]]),
        outlines=(SliceOutline(name="rod", material="alnico-5", kind="magnet", polygon=polygon),),
    )  # fmt: skip
    string = SimpleNamespace(number=1, diameter=0.43e-3)  # all that the figure asks of a string

    with house_style():
        fig = slice_figure(cut, (), (cast(StringRecord, string),))
    fig.draw_without_rendering()
    box, (width, height) = fig.get_tightbbox(), fig.get_size_inches()
    assert box.x0 >= 0
    assert box.y0 >= 0
    assert box.x1 <= width
    assert box.y1 <= height
    words = [t.get_text() for t in fig.axes[0].texts]
    assert words == ["alnico-5", "string 1 at rest"]
    assert "(mm)" in fig.axes[0].get_xlabel()
    assert "(mT; 1 mT = 10 G)" in fig.axes[1].get_ylabel()
