"""Metal round a winding: what of a case stands in its section, and what grounding, poles and covers add."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from stringflux.cases import load_case
from stringflux.cases.solved.windings import coil_windings
from stringflux.geometry import Case
from stringflux.geometry.case.bodies import BoxBody
from stringflux.geometry.case.poles import NO_ROW
from stringflux.postprocess.coil.surroundings import TAPE, bodies_add, metals, outside_capacitance
from stringflux.postprocess.coil.winding import winding
from stringflux.solver.capacitance.cell import EPSILON_0

COVER = {"shape": "cover", "material": "nickel-silver", "along": "18 mm", "across": "75 mm", "height": "18 mm",
         "wall": "0.5 mm", "top": "2.5 mm"}
PLATE = {"shape": "box", "material": "brass", "along": "30 mm", "across": "80 mm", "height": "1 mm", "top": "-17 mm"}


def case(*bodies: dict[str, Any], **changes: Any) -> Case:
    given = {key.replace("__", "."): value for key, value in changes.items()}
    return load_case("baritone-six", given | ({"body": list(bodies)} if bodies else {}))


def test_the_row_is_one_slab() -> None:
    (poles,) = metals(case(), 1)
    ((near, far, bottom, top),) = poles.boxes
    assert (near, bottom, top) == (0.0, pytest.approx(-15.5e-3), pytest.approx(1.5e-3))
    assert 2.0e-3 < far < 2.4e-3  # thinner than the rods, which leave room between them
    assert not poles.earthed
    assert metals(case(coil__poles="grounded"), 1)[0].earthed


def test_a_ceramic_magnet_is_no_metal() -> None:
    made = case()
    part = made.pole[0].part[0].model_copy(update={"material": "ceramic-5"})
    pole = made.pole[0].model_copy(update={"part": (part,)})
    assert metals(made.model_copy(update={"pole": (pole,)}), 1) == ()


def test_a_cover_has_a_lid_and_walls() -> None:
    cover = metals(case(COVER), 1)[1]
    assert cover.earthed
    lid, wall = cover.boxes  # the wall across the middle lies on the other side
    assert lid == pytest.approx((0.0, 9e-3, 2e-3, 2.5e-3))
    assert wall == pytest.approx((8.5e-3, 9e-3, -15.5e-3, 2e-3))


def test_a_body_beside_the_coil_counts_on_its_side() -> None:
    bar = {"shape": "box", "material": "steel-1008", "along": "3 mm", "across": "60 mm", "height": "8 mm",
           "top": "-2 mm", "centre": ["10 mm", "0 mm"]}
    assert len(metals(case(bar), 1)) == 2
    assert len(metals(case(bar), -1)) == 1
    short = bar | {"across": "10 mm"}
    assert len(metals(case(short), 1)) == 1


def test_tape_lies_between() -> None:
    """A blade as thick as the coil is wide inside touches nothing."""
    made = load_case("blade-six")
    wide = 2 * made.racetrack().inner_radius
    blade = made.body[0].model_copy(update={"along": wide, "magnetised": None})
    made = made.model_copy(update={"body": (blade,)})
    near, far, _, _ = metals(made, 1)[0].boxes[0]
    assert (near, far) == (0.0, pytest.approx(wide / 2 - TAPE))
    coil = made.coil.model_copy(update={"grounded_end": "outer", "poles": "grounded"})
    live = made.model_copy(update={"coil": coil})
    assert 10e-12 < outside_capacitance(live) < 1e-9


def test_what_adds() -> None:
    """The end at ground shields: poles by it add nothing, covers by the live one much."""
    alone = outside_capacitance(case())
    assert outside_capacitance(case(coil__poles="grounded")) == pytest.approx(alone, rel=0.1)
    covered = outside_capacitance(case(COVER))
    assert covered > 3 * alone
    assert outside_capacitance(case(COVER, coil__grounded_end="outer")) < 0.6 * covered
    live_inside = outside_capacitance(case(coil__grounded_end="outer", coil__poles="grounded"))
    assert live_inside > 20e-12  # rods a tenth of a millimetre from the wire
    assert live_inside > 8 * outside_capacitance(case(coil__grounded_end="outer"))


def test_a_second_coil_in_series() -> None:
    """The first at ground; the second lies above it as a whole, which a cover makes much of."""
    first, second = coil_windings(load_case("side-by-side-six"))
    assert second.capacitance_turns == pytest.approx(first.capacitance_turns)
    assert second.capacitance_outside > 2 * first.capacitance_outside
    one, other = coil_windings(load_case("side-by-side-six", {"connection.coils": "parallel"}))
    assert other.capacitance_outside == pytest.approx(one.capacitance_outside, rel=0.1)
    assert one.capacitance == first.capacitance
    assert outside_capacitance(case(COVER), below=1.0) > 3.5 * outside_capacitance(case(COVER))


def test_a_plate_below() -> None:
    floating, grounded = (outside_capacitance(case(PLATE, coil__poles=p)) for p in ("floating", "grounded"))
    assert floating < grounded


def test_it_goes_into_the_winding() -> None:
    plain, covered = winding(case()), winding(case(COVER))
    assert covered.capacitance_turns == plain.capacitance_turns
    more = covered.capacitance - plain.capacitance
    assert more == pytest.approx(covered.capacitance_outside - plain.capacitance_outside)
    assert more > 10e-12


def test_a_body_says_how_it_is_wired() -> None:
    assert not metals(case(PLATE), 1)[1].earthed
    assert metals(case(PLATE | {"electrically": "grounded"}), 1)[1].earthed
    assert not metals(case(COVER | {"electrically": "floating"}), 1)[1].earthed
    assert not metals(case(PLATE | {"electrically": "grounded"}), 1)[0].earthed  # the poles stay as they are
    apart = bodies_add(case(PLATE | {"electrically": "grounded"}))
    assert 0.5e-12 < apart < 5e-12
    assert bodies_add(case(PLATE)) < 0.5 * apart  # afloat it only joins one end of the coil to the other
    assert bodies_add(case()) == 0.0


def test_a_grounded_plate_close_under_the_winding() -> None:
    """Parallel plates: K_ij = (ε₀/d) ∫ ℓ(u) V_i V_j du, the voltages of either face running straight to nothing at
    the other. At the corners fields crowd where one of them is large; the product of both is small there."""
    coil, n = case().racetrack(), 2000
    u = (np.arange(n) + 0.5) / n
    length = 2 * coil.straight + 2 * math.pi * (coil.inner_radius + coil.build * u)
    distances, mixed = (0.10e-3, 0.16e-3), []
    for d in distances:
        plate = BoxBody.model_validate(PLATE | {"along": "40 mm", "across": "90 mm", "electrically": "grounded",
                                                "top": f"{(coil.bottom - d) * 1e3:.9g} mm"})
        alone = case().model_copy(update={"row": NO_ROW, "pole": (), "body": (plate,)})
        turned = alone.model_copy(update={"coil": alone.coil.model_copy(update={"grounded_end": "outer"})})
        inner, outer = outside_capacitance(turned), outside_capacitance(alone)
        mixed.append((outside_capacitance(alone, below=1.0) - inner - 4 * outer) / 4)
        assert outer > EPSILON_0 * np.mean(length * u**2) * coil.build / d  # and what lies to its sides
    expected = EPSILON_0 * np.mean(length * u * (1 - u)) * coil.build * (1 / distances[0] - 1 / distances[1])
    assert mixed[0] - mixed[1] == pytest.approx(expected, rel=0.01)
