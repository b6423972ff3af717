"""The drawing of a build: seen from the strings nothing is mirrored, and every pole says which end is up."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.patches import Polygon

from stringflux.cases import load_case
from stringflux.postprocess.drawings.to_scale import drawing
from stringflux.postprocess.pictures.outlines import winding_outlines


def test_seen_from_the_strings_is_no_mirror_image() -> None:
    axes = drawing(load_case("side-by-side-six")).axes
    view = next(ax for ax in axes if ax.get_title(loc="left") == "Seen from the strings")
    (left, right), (low, high) = view.get_xlim(), view.get_ylim()
    # z towards who looks: x, y, z are right-handed, so with y to the right x goes down
    assert right > left
    assert low > high
    letters = {(t.get_text(), round(t.get_position()[1]) > 0) for t in view.texts if t.get_text() in {"N", "S"}}
    assert letters == {("N", True), ("S", False)}


BUILDS = [{"height": "0 mm", "build": "4.2 mm"}, {"height": "4 mm", "build": "3.4 mm"},
          {"height": "7.6 mm", "build": "4.2 mm"}]


@pytest.mark.parametrize("name", ["baritone-six", "stacked-six"])
def test_a_waisted_winding_is_drawn_as_it_is(name: str) -> None:
    case = load_case(name, {"coil.wound_builds": BUILDS})
    corners = np.array(case.racetrack().corners)
    wanted = 1e3 * np.ptp(corners, axis=0)
    found = [patch.get_xy() for ax in drawing(case).axes for patch in ax.patches if isinstance(patch, Polygon)]
    shapes = [xy for xy in found if len(xy) == len(corners) + 1 and np.allclose(np.ptp(xy, axis=0), wanted)]
    assert len(shapes) == 4  # on either side, in both sections
    assert "3.4 to 4.2 mm thick" in " ".join(t.get_text() for t in drawing(case).legends[0].get_texts())


def test_a_waisted_winding_in_a_plane_is_two_pieces_beyond_its_hole() -> None:
    coil = replace(load_case("stacked-six", {"coil.wound_builds": BUILDS}).racetrack(), y_centre=0.0)
    through = winding_outlines(coil, 0.0)
    assert len(through) == 2
    assert 1e3 * through[1].max(axis=1) == pytest.approx([1e3 * coil.inner_radius + 4.2, 1e3 * coil.top])
    beyond = coil.straight / 2 + coil.inner_radius + 3.8e-3
    assert [len(winding_outlines(coil, y)) for y in (beyond - 1e-3, beyond, beyond + 1e-3)] == [1, 2, 0]
    area = [float(abs(np.sum(np.roll(x, -1) * z - x * np.roll(z, -1)) / 2)) for x, z in through]
    assert area == pytest.approx([coil.area] * 2, rel=1e-9)
