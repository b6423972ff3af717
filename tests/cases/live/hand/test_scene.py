"""Outlines against the bodies that they are of."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from rigs.live import EVERY
from stringflux.cases.files.load import find_case
from stringflux.cases.live.hand.design import read_design
from stringflux.cases.live.hand.scene import VIEWS, _own_pieces, _row_pieces, scene
from stringflux.geometry.kernel.solids import exact_volume
from stringflux.geometry.shapes.bodies import Box, Cylinder, Revolved
from stringflux.geometry.shapes.pieces import Shaped

MM2, MM3 = 1e6, 1e9


def area(outline: np.ndarray) -> float:
    u, v = outline.T
    return float(abs(np.sum(u * np.roll(v, -1) - np.roll(u, -1) * v)) / 2)


def turned(outline: np.ndarray, middle: float) -> float:
    """Volume of the outline's right half turned about the axis, as a sum of cones, mm³."""
    r, z = np.maximum(outline[:, 0] - middle, 0.0), outline[:, 1]
    s, t = np.roll(r, -1), np.roll(z, -1)
    return float(abs(np.sum((t - z) * (r * r + r * s + s * s)) * np.pi / 3))


def height_at(rim: np.ndarray, y: float) -> float:
    """The highest of a closed rim (across, up) at a place across, mm."""
    ends = zip(rim, np.roll(rim, -1, axis=0), strict=True)
    over = [(a, b) for a, b in ends if min(a[0], b[0]) <= y <= max(a[0], b[0]) and a[0] != b[0]]
    return max(float(a[1] + (b[1] - a[1]) * (y - a[0]) / (b[0] - a[0])) for a, b in over)


@pytest.mark.parametrize("file", EVERY, ids=lambda f: f.stem)
def test_outlines(file: Path) -> None:
    """Extents are those of the body; a box has its sides' product, a turned body its volume, a circle its area."""
    text = file.read_text(encoding="utf-8")
    case = read_design(text)
    shown = scene(case, text)
    pieces = [*_row_pieces(case), *_own_pieces(case)]
    for view, pair in VIEWS.items():
        drawn = [s for s in shown["shapes"][view] if s["kind"] != "coil"]
        assert len(drawn) == len(pieces)
        for piece in pieces:
            shape = next(s for s in drawn if (s["item"], s["path"]) == (piece.item, piece.path))
            outline, form = shape["outline"], piece.body.form
            low, high = (np.array([corner[i] for i in pair]) * 1e3 for corner in form.bounds)
            if view == "above":  # the bridge is below
                low, high = np.array([low[0], -high[1]]), np.array([high[0], -low[1]])
            seen = [outline.min(axis=0), outline.max(axis=0)]
            np.testing.assert_allclose(seen, [low, high], atol=0.01 * high.max())  # a circle has 48 corners
            if isinstance(form, Box):
                assert area(outline) == pytest.approx(np.prod(high - low))
            elif isinstance(form, Revolved) and 2 in pair and min(r for r, _ in form.outline) == 0:
                volume = MM3 * exact_volume(form)
                assert turned(outline, float(low[0] + high[0]) / 2) == pytest.approx(volume, rel=1e-9)
            elif (isinstance(form, Revolved) and 2 not in pair) or (
                    isinstance(form, Cylinder) and form.along not in pair):
                radius = (high - low)[0] / 2
                assert area(outline) == pytest.approx(np.pi * radius**2, rel=0.004)  # 48 corners: 0.3 % less


@pytest.mark.parametrize("file", EVERY, ids=lambda f: f.stem)
def test_coils(file: Path) -> None:
    """From above the winding's area, across it both its sections."""
    text = file.read_text(encoding="utf-8")
    case = read_design(text)
    shown = scene(case, text)["shapes"]
    for path, track in zip([s["path"] for s in shown["above"] if s["kind"] == "coil"][::-1], case.racetracks(),
                           strict=True):
        outer, inner = next(s["rings"] for s in shown["above"] if s["path"] == path)
        r, R = track.inner_radius, track.inner_radius + track.build
        exact = np.pi * (R**2 - r**2) + 2 * track.straight * track.build
        assert area(outer) - area(inner) == pytest.approx(MM2 * exact, rel=0.004)
        for view in ("along", "side"):
            for ring in next(s["rings"] for s in shown[view] if s["path"] == path):
                assert area(ring) == pytest.approx(MM2 * track.area)


@pytest.mark.parametrize("file", EVERY, ids=lambda f: f.stem)
def test_strings_lie_over_something(file: Path) -> None:
    """The gap is that between the string and the top of what it is said to lie over, at that thing's place."""
    text = file.read_text(encoding="utf-8")
    case = read_design(text)
    shown = scene(case, text)
    for string in shown["strings"]:
        boxes = [s["outline"] for s in shown["shapes"]["side"] if s["item"] == string["over"]]
        top = max(float(outline[:, 1].max()) for outline in boxes)
        if any(p.item == string["over"] and isinstance(p.body.form, Shaped) for p in _own_pieces(case)):
            rims = [ring for s in shown["shapes"]["along"] if s["item"] == string["over"] for ring in s["rings"]]
            top = max(height_at(rim, string["y"]) for rim in rims)
        x = np.mean([outline[:, 0].min() + outline[:, 0].max() for outline in boxes]) / 2
        under = string["z"] - string["radius"] + string["slope"] * x
        assert under - top == pytest.approx(string["gap"], abs=1e-6)


@pytest.mark.parametrize("file", EVERY, ids=lambda f: f.stem)
def test_everything_is_in_the_picture(file: Path) -> None:
    """Nothing is drawn outside the bounds, and what can be taken hold of can be chosen."""
    text = file.read_text(encoding="utf-8")
    shown = scene(read_design(text), text)
    low, high = np.array(shown["bounds"]["low"]), np.array(shown["bounds"]["high"])
    for view, pair in VIEWS.items():
        for shape in shown["shapes"][view]:
            for outline in shape.get("rings", [shape.get("outline")]):
                assert np.all(outline >= low[list(pair)] - 1e-9)
                assert np.all(outline <= high[list(pair)] + 1e-9)
            assert shape["item"] in shown["items"]
    known = {t["path"] for t in shown["tables"]}
    for handle in shown["handles"]:
        assert handle["item"] in shown["items"]
    for item in shown["items"].values():
        assert set(item["tables"]) & known


def test_from_above_the_bridge_is_below() -> None:
    """Across to the right and the bridge up would be a mirror image, seen from under the pickup."""
    text = find_case("side-by-side-six").read_text(encoding="utf-8")
    shown = scene(read_design(text), text)
    middle = {s["item"]: s["outline"].mean(axis=0) for s in shown["shapes"]["above"] if s["kind"] == "soft"}
    along = {item: s["outline"][:, 0].mean() for s in shown["shapes"]["side"] if (item := s["item"]) in middle}
    assert middle["pole.1"] == pytest.approx([-26.0, -9.0])  # the screws, by the bridge
    assert middle["pole.7"] == pytest.approx([-26.0, 9.0])
    assert {item: -v for item, (_, v) in middle.items()} == pytest.approx(along)
    bar = next(s for s in shown["shapes"]["above"] if s["item"] == "body.1")
    assert bar["north"] == [0.0, -1.0]  # towards the screws


def test_what_is_made_of_pieces_is_drawn_by_its_rims() -> None:
    """A plate with a hole: its silhouette from above, the surface in space, and handles that do not mind."""
    text = find_case("blade-six").read_text(encoding="utf-8").replace("[coil]", '''[[body]]
shape = "plate"
material = "brass"
along = "10 mm"
across = "40 mm"
height = "1 mm"
screw_holes = [{ at = ["2 mm", "5 mm"], diameter = "4 mm" }]
top = "-17 mm"

[coil]''', 1)
    shown = scene(read_design(text), text)
    rims = next(s for s in shown["shapes"]["above"] if s["path"] == "body.3")
    assert rims["rule"] == "nonzero"
    assert sum(abs(area(rim)) * (1 if len(rim) < 6 else -1) for rim in rims["rings"]) == pytest.approx(
        400 - 4 * np.pi, rel=1e-3)
    hole = next(rim for rim in rims["rings"] if len(rim) > 6)
    assert hole.mean(axis=0) == pytest.approx([5, -2], abs=1e-6)  # the bridge is below
    solid = next(s for s in shown["solids"] if s["label"] == "body 3")
    a, b, c = (solid["points"][solid["triangles"][k::3]] for k in range(3))
    assert np.einsum("ij,ij->", a, np.cross(b, c)) / 6 == pytest.approx(400 - 4 * np.pi, rel=1e-3)
    assert any(h["path"] == "body.3.height" for h in shown["handles"])


def test_what_is_nearer_to_the_eye_is_drawn_later() -> None:
    """Along the strings from the bridge the screws there hide the slugs; from above the higher; aside the least y."""
    text = find_case("side-by-side-six").read_text(encoding="utf-8")
    shapes = scene(read_design(text), text)["shapes"]
    order = {view: [s["item"] for s in shapes[view] if s["kind"] == "soft"] for view in shapes}
    assert order["along"].index("pole.1") > order["along"].index("pole.7")
    assert order["side"].index("pole.1") > order["side"].index("pole.6")
    assert order["above"][-1] in {f"pole.{n}" for n in range(1, 7)}  # 1.6 mm over the plate, the slugs 1.0
