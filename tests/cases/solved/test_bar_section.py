"""The picture of a section of bars: B from the vector potential against the field of the bars' magnetisation."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest

from stringflux.cases.files.load import load_case
from stringflux.cases.solved.solve import solved_case
from stringflux.postprocess.pictures.bar_section import plane_record, section_field
from stringflux.solver.plane.solve import SolvedBars

# of the largest |B| over the bars, and of the mean |B| in each
AIR, BARS = 0.01, 0.005


@cache
def solved(magnetised: str, shift: str) -> tuple[Any, SolvedBars]:
    """The shipped blade with its magnet turned, or moved so that the section is no mirror image of itself."""
    case = load_case("blade-six", {"body.2.magnetised": magnetised, "body.2.centre": [shift, "0 mm"]})
    found = solved_case(case, "normal", solver="plane").solution()
    assert isinstance(found, SolvedBars)
    return case, found


@pytest.mark.parametrize(("magnetised", "shift", "half"), [("up", "0 mm", True), ("to +x", "0 mm", True),
                                                           ("up", "0.5 mm", False)])
def test_potential_and_magnetisation_make_one_field(magnetised: str, shift: str, half: bool) -> None:
    plane = solved(magnetised, shift)[1].section
    assert plane.half == half
    x, z = np.linspace(-9e-3, 9e-3, 13), np.linspace(3e-3, 9e-3, 7)
    b, inside = section_field(plane, x, z)
    assert not np.any(inside)
    exact = plane.bias(np.stack(np.meshgrid(x, z)))
    assert not np.any(b[1])
    assert np.max(np.abs(b[::2] - exact)) < AIR * np.max(np.abs(exact))


@pytest.mark.parametrize("magnetised", ["up", "to +x"])
def test_in_the_bars_it_is_what_the_curves_made_of_it(magnetised: str) -> None:
    plane = solved(magnetised, "0 mm")[1].section
    for k, part in enumerate(plane.section.parts):
        x, z = np.asarray(part.mesh.p[:, np.unique(part.mesh.t[:, part.tind])])
        x, z = (np.min(v) + np.ptp(v) * (np.arange(100) + 0.5) / 100 for v in (x, z))
        b, inside = section_field(plane, x, z)
        assert np.all(inside)
        weight = part.dx
        mean = np.sum(plane.bias_state.b[k] * weight, axis=(1, 2)) / np.sum(weight)
        assert b[::2].mean(axis=(1, 2)) == pytest.approx(mean, abs=BARS * float(np.linalg.norm(mean)))


def test_a_record_comes_of_it() -> None:
    case, found = solved("up", "0 mm")
    record = plane_record(case, case.magnetic_bodies(), found)
    assert record.endless
    assert {o.kind for o in record.outlines} == {"winding", "soft", "magnet"}
    assert set(np.unique(record.region)) == {-1, *(i for i, o in enumerate(record.outlines) if o.kind != "winding")}
