"""A string's static curve through points: against the laws they are taken from, always rising, saturating."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stringflux.geometry.case.materials import StringTable
from stringflux.geometry.errors import CaseError
from stringflux.solver.constants import MU0
from stringflux.solver.materials import StringSteel, find_material, material_from_definition
from stringflux.solver.materials.b_of_h import soft_law
from stringflux.solver.materials.string_points import StringPoints

WIDE = np.geomspace(1e-3, 1e9, 2001)  # A/m: all that a string's layers and the tables of a wrap ask


def steel(law: str = "langevin") -> StringSteel:
    return StringSteel(name="test", saturation=1.55e6, chi_initial=700.0, chi_reversible=90.0,
                       law=law)  # type: ignore[arg-type]


def sampled(metal: StringSteel, lowest: float, highest: float, n: int) -> StringPoints:
    h = np.geomspace(lowest, highest, n)
    return StringPoints.of(list(zip(h.tolist(), metal.magnetisation(h)[0].tolist(), strict=True)), metal.saturation)


@pytest.mark.parametrize(("n", "close", "steep"), [(100, 3e-5, 1e-3), (50, 1e-4, 4e-3), (13, 7e-3, 0.06)])
@pytest.mark.parametrize("law", ["langevin", "frohlich"])
def test_points_of_a_law_give_the_law(law: str, n: int, close: float, steep: float) -> None:
    """The error of M falls as the cube of the steps; χ of Langevin's at no field is found from the first two."""
    metal = steel(law)
    ratio, slope = sampled(metal, 20.0, 1e5, n).by_modulus(WIDE)
    exact, exact_slope = metal.magnetisation(WIDE)
    inside = WIDE > 20.0
    assert np.max(np.abs(ratio * WIDE / exact - 1)[inside]) < close
    assert np.max(np.abs(slope - exact_slope)[inside]) / 700.0 < steep
    assert np.max(np.abs(ratio * WIDE / exact - 1)) < max(close, 0.01)  # Fröhlich's χ is not even in H
    if law == "langevin":
        assert ratio[0] == pytest.approx(700.0, rel=1e-6)


rising = st.lists(st.floats(0.05, 3.0), min_size=2, max_size=12)


@given(rising, rising, st.floats(1.001, 3.0), st.floats(1.0, 1e3))
def test_any_table_rises_to_saturation(fields: list[float], rises: list[float], over: float, scale: float) -> None:
    n = min(len(fields), len(rises))
    h, m = scale * np.cumsum(fields[:n]), 1e5 * np.cumsum(rises[:n])
    points = StringPoints.of(list(zip(h.tolist(), m.tolist(), strict=True)), float(over * m[-1]))
    ratio, slope = points.by_modulus(WIDE)
    assert np.all(slope >= 0)
    assert np.all(np.diff(ratio * WIDE) > -1e-9 * m[-1])
    assert points.by_modulus(h)[0] * h == pytest.approx(m)
    assert ratio[-1] * WIDE[-1] == pytest.approx(over * m[-1], rel=1e-3)
    assert np.all(ratio * WIDE < over * m[-1])
    middle = np.sqrt(WIDE[1:] * WIDE[:-1])
    step = 1e-6 * middle
    away = np.min(np.abs(middle[:, None] / h - 1), axis=1) > 1e-5  # the slope has corners at points
    up, down = (points.by_modulus(middle + s)[0] * (middle + s) for s in (step, -step))
    assert points.by_modulus(middle)[1][away] == pytest.approx(((up - down) / (2 * step))[away], rel=1e-3, abs=1e-3)


def table(points: np.ndarray, **more: object) -> StringTable:
    return StringTable.model_validate({"kind": "string BH table", "field_unit": "A/m", "flux_unit": "T",
                                       "points": points.tolist(), "reversible_susceptibility": 90, **more})


def test_a_table_of_a_case() -> None:
    """B in the file, M here; the saturation from the end where it is not said; the same law for finite elements."""
    shipped = find_material("string-steel")
    assert isinstance(shipped, StringSteel)
    h = np.geomspace(20.0, 1e5, 150)
    points = np.stack([h, MU0 * (h + shipped.magnetisation(h)[0])], axis=1)
    said, found = (material_from_definition("mine", table(points, **more))
                   for more in ({"saturation": "1.95 T", "pinning": "1000 A/m"}, {}))
    assert isinstance(said, StringSteel)
    assert isinstance(found, StringSteel)
    assert (said.pinning, said.pinning_range, found.pinning) == (1000.0, (1000.0, 1000.0), 1200.0)
    assert said.polarisation == pytest.approx(1.95)
    assert found.polarisation == pytest.approx(1.95, rel=1e-3)
    signed = np.array([-3e3, 0.0, 3e3])
    assert said.magnetisation(signed)[0] == pytest.approx(shipped.magnetisation(signed)[0], rel=1e-4)
    assert hash(said) != hash(found)
    field = np.array([[2e3, 1.0], [1e3, 0.0], [0.0, 2.0]])
    for own, exact in zip(soft_law(said)(field), soft_law(shipped)(field), strict=True):
        assert own == pytest.approx(exact, rel=1e-3, abs=1e-6)


GOOD = np.array([[0, 0], [1000, 0.6], [3000, 1.2], [20000, 1.8], [60000, 1.95]])


@pytest.mark.parametrize(("row", "point", "more", "says"), [
    (0, [0, 0.2], {}, "points: B is not 0 at H = 0"),
    (4, [60000, 1.85], {}, "points: B − μ0 H does not rise between H = 20000 and 60000 A/m"),
    (4, [60000, 1.7], {}, "points: B does not rise with H after B = 1.8 T"),
    (4, [60000, 1.95], {"saturation": "1.8 T"}, "saturation: received 1.8 T; the last point has B − μ0 H = 1.875 T"),
    (4, [20001, 1.9], {}, "points: the last one has B − μ0 H = 1.875 T, too far from saturation to tell it"),
    (1, [1000, 0.6], {"reversible_susceptibility": -1}, "reversible_susceptibility"),
])  # fmt: skip
def test_tables_that_cannot_be(row: int, point: list[float], more: dict[str, object], says: str) -> None:
    points = GOOD.copy()
    points[row] = point
    with pytest.raises(ValueError, match=re.escape(says)):
        table(points, **more)


def test_a_reversible_slope_over_the_first_is_refused() -> None:
    with pytest.raises(CaseError, match="reversible susceptibility: must not exceed the initial one"):
        material_from_definition("mine", table(GOOD, reversible_susceptibility=800))
