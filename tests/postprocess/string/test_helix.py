"""The wrap's law against a real helix in 3-D by another code (`tests/measure/helix.py`), linear metals."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest

from stringflux.postprocess.string.wrap import metal_area, wrap_law
from stringflux.solver.materials import StringSteel
from stringflux.solver.wrap_turn import wrap_susceptibility

CELL = 1.5e-3  # of the helical cell; one stored case stands within 1e-4 of finer meshes
LAW = 0.025  # of the wrap's law, which puts the path along the wire beside rings
STRING = 3e-3  # of the axial moment of core and wrap by that law
RINGS = (0.01, 0.06)  # of that moment: what rings leave out
ALONG = (0.7, 1.05)  # of χ sin and χ sin²: the wire's turns are not magnetised quite as a wire without neighbours
STORED = json.loads(Path(__file__).with_name("helix3d.json").read_text(encoding="utf-8"))


def _law(case: dict[str, Any], *, helix: bool) -> float:
    chi = case["wire_mu"] - 1
    metal = StringSteel(name="linear", saturation=math.inf, chi_initial=chi, chi_reversible=chi, law="linear")
    return float(wrap_law(metal, case["gap"], case["curvature"], helix=helix).magnetisation(1.0)[0])


def _string(case: dict[str, Any], wire: float) -> float:
    """Axial moment per length of core and wrap over H₀."""
    c = case["curvature"]
    return float(case["core_area"] * case["core"] + metal_area(1 / c - 1, 2.0, case["gap"]) * wire)


@pytest.mark.parametrize("case", STORED, ids=lambda c: f"{c['name']} {c['gap']} {c['wire_mu']:.0f}")
def test_wrap_is_a_helix(case: dict[str, Any]) -> None:
    cell = wrap_susceptibility(case["wire_mu"], case["gap"], case["curvature"], core_mu=case["core_mu"])
    assert cell == pytest.approx(case["wire"], rel=CELL)
    law = _law(case, helix=True)
    assert law == pytest.approx(case["wire"], rel=LAW)
    assert _string(case, law) == pytest.approx(_string(case, case["wire"]), rel=STRING)


@pytest.mark.parametrize("case", STORED, ids=lambda c: f"{c['name']} {c['gap']} {c['wire_mu']:.0f}")
def test_what_rings_leave_out(case: dict[str, Any]) -> None:
    """Flux along the wire: χ sin of the slope round the string, and what of it points along the string."""
    chi = case["wire_mu"] - 1
    sin = case["curvature"] / (math.pi * (1 - case["gap"]))
    rings = _law(case, helix=False)
    assert RINGS[0] < 1 - _string(case, rings) / _string(case, case["wire"]) < RINGS[1]
    assert ALONG[0] < case["wire_turning"] / (chi * sin) < ALONG[1]
    assert ALONG[0] < (case["wire"] - rings) / (chi * sin**2) < ALONG[1]
    assert case["core"] == pytest.approx(case["core_mu"] - 1, rel=1e-4)  # the wrap changes nothing of the core's
    assert abs(case["core_turning"]) < 1e-4 * case["wire_turning"]


@pytest.mark.parametrize("case", STORED, ids=lambda c: f"{c['name']} {c['gap']} {c['wire_mu']:.0f}")
def test_volume_of_the_metal(case: dict[str, Any]) -> None:
    radius = 1 / case["curvature"]
    sin = case["curvature"] / (math.pi * (1 - case["gap"]))
    pitch = 2 / ((1 - case["gap"]) * math.sqrt(1 - sin**2))
    assert case["wire_volume"] / pitch == pytest.approx(metal_area(radius - 1, 2.0, case["gap"]), rel=1e-3)


@pytest.mark.parametrize("case", STORED, ids=lambda c: f"{c['name']} {c['gap']} {c['wire_mu']:.0f}")
def test_across_the_string(case: dict[str, Any]) -> None:
    """Core and wrap taken as cylinders in the same field across, χ/(1 + χ/2) each, have 10 to 15 % too little."""
    metal = metal_area(1 / case["curvature"] - 1, 2.0, case["gap"])
    helix = case["core_area"] * case["core_across"] + metal * case["wire_across"]
    cylinders = sum(area * 2 * (mu - 1) / (mu + 1)
                    for area, mu in ((case["core_area"], case["core_mu"]), (metal, case["wire_mu"])))
    assert 0.10 < 1 - cylinders / helix < 0.15
