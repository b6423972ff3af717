"""A build's mesh that follows its bodies: volumes, smooth places of the nodes, and what is refused."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from stringflux.geometry.case.bodies import BoxBody, PrismBody, RevolvedBody, ScrewBody, WedgeBody
from stringflux.geometry.kernel.solids import exact_volume
from stringflux.geometry.mesh.solid_quality import SolidQuality
from stringflux.geometry.shapes.bodies import SolidBody
from stringflux.geometry.shapes.symmetry import WHOLE, Symmetry
from stringflux.solver.shape.following_mesh import FoldedMeshError
from stringflux.solver.shape.following_solid import FollowingSolid
from stringflux.solver.solid.space import solid_space

COARSE = SolidQuality(divisions=2.0, largest=3e-3, tip=1.5e-3, edge=0.6, growth=0.5, far=4.0, least=1.5e-3)
FINER = replace(COARSE, divisions=2.6)  # a coarser mesh may follow 0.4 mm or not, as its worst element happens to be
FLAT, ROUND = 1e-12, 1e-3  # relative, of volumes: parabolas on arcs of 50 degrees miss the latter
BAR = BoxBody(shape="box", name="bar", material="ceramic-8", along="10 mm", across="24 mm", height="3 mm",
              top="-6 mm", magnetised="up").solid_body("bar")  # type: ignore[arg-type]


def _body(kind: Any, **keys: Any) -> SolidBody:
    body: SolidBody = kind(material="steel-1008", bottom="-6 mm", **keys).solid_body("steel")
    return body


def _blade(*heights: float) -> SolidBody:
    places = np.linspace(-10, 10, len(heights))
    edge = [[f"{y} mm", f"{z} mm"] for y, z in zip(places, heights, strict=True)]
    return _body(PrismBody, shape="prism", outline=[["-10 mm", "0 mm"], *edge, ["10 mm", "0 mm"]], length="3 mm",
                 lies="along the strings")


def _chisel(width: float, height: float) -> SolidBody:
    return _body(WedgeBody, shape="wedge", along="3 mm", across="20 mm", height="7 mm", tip_along=f"{width} mm",
                 tip_height=f"{height} mm")


def _chamfered(size: float) -> SolidBody:
    return _body(BoxBody, shape="box", along="4 mm", across="20 mm", height="7 mm", chamfer=f"{size} mm")


def _slotted(depth: float, width: float) -> SolidBody:
    return _body(ScrewBody, shape="screw", head="dome", head_diameter="7 mm", head_height="2.5 mm", diameter="3.4 mm",
                 length="8 mm", drive="slot", drive_width=f"{width} mm", drive_depth=f"{depth} mm")


def _turned(shoulder: float, radius: float, top: float) -> SolidBody:
    outline = [["0 mm", "0 mm"], ["2.5 mm", "0 mm"], ["2.5 mm", f"{shoulder} mm"], [f"{radius} mm", f"{top} mm"],
               ["0 mm", f"{top} mm"]]
    return _body(RevolvedBody, shape="revolved", outline=outline)


FORMS: dict[str, tuple[Callable[..., SolidBody], tuple[float, ...], tuple[float, ...], Symmetry, float]] = {
    "edge": (_blade, (7.0, 7.0, 7.0, 7.0, 7.0), (6.6, 7.2, 6.5, 7.1, 6.9), Symmetry(x=True), FLAT),
    "chisel": (_chisel, (1.0, 3.0), (1.5, 4.0), Symmetry(x=True, y=True), FLAT),
    "chamfer": (_chamfered, (0.8,), (1.1,), Symmetry(x=True, y=True), FLAT),
    "slot": (_slotted, (1.2, 1.0), (0.9, 1.2), WHOLE, ROUND),
    "turned": (_turned, (6.0, 1.5, 7.0), (5.6, 1.7, 7.2), Symmetry(x=True, y=True), ROUND),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", FORMS)
def test_the_bodies_have_the_volume_of_the_other_form(name: str) -> None:
    make, start, other, symmetry, within = FORMS[name]
    following = FollowingSolid(bodies=(make(*start), BAR), quality=FINER, symmetry=symmetry)
    assert np.abs(following.nodes(following.bodies) - following.places.nodes).max() == 0.0
    bodies = (make(*other), BAR)
    space = solid_space(following.moved(bodies))
    for body, elements in zip(bodies, space.bodies, strict=True):
        assert elements.weight.sum() * symmetry.copies == pytest.approx(exact_volume(body.form), rel=within)


def test_a_node_on_a_round_face_stays_on_it() -> None:
    make, start, other, symmetry, _ = FORMS["turned"]
    following = FollowingSolid(bodies=(make(*start),), quality=COARSE, symmetry=symmetry)
    nodes, before = following.nodes((make(*other),)), following.places.nodes
    bottom, shoulder = -6e-3, 0.0
    side = (following.places.held & (np.abs(np.hypot(*before[:2]) - 2.5e-3) < 1e-9)
            & (before[2] > bottom) & (before[2] < shoulder))
    assert np.sum(side) > 20
    assert np.hypot(*nodes[:2, side]) == pytest.approx(2.5e-3, abs=1e-9)
    assert nodes[2, side].max() == pytest.approx(-6e-3 + 5.6e-3, abs=1e-3)


def test_places_are_linear_in_small_changes_of_an_edge() -> None:
    """Half the step, half the displacement: corners of a flat form go in straight lines, and all else with them."""
    make, start, _, symmetry, _ = FORMS["edge"]
    following = FollowingSolid(bodies=(make(*start),), quality=COARSE, symmetry=symmetry)
    step, before = np.array([0.0, 0.1, -0.2, 0.05, 0.0]), following.places.nodes
    whole, half = (following.nodes((make(*(np.array(start) + s * step)),)) - before for s in (1.0, 0.5))
    assert np.abs(whole - 2 * half).max() < 1e-12
    assert np.abs(whole).max() == pytest.approx(0.2e-3, rel=1e-9)


def test_too_far_is_refused_and_other_faces_too() -> None:
    make, start, _, symmetry, _ = FORMS["edge"]
    following = FollowingSolid(bodies=(make(*start),), quality=COARSE, symmetry=symmetry)
    with pytest.raises(FoldedMeshError, match="cannot follow so far"):
        following.moved((make(7.0, 7.0, 0.1, 7.0, 7.0),))
    with pytest.raises(FoldedMeshError, match="another way"):
        following.moved((make(7.0, 7.0, 7.0, 7.0),))
