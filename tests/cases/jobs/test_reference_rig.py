"""The whole job from a case file, on the rig that independent 3-D solves were made for."""

from __future__ import annotations

from pathlib import Path

import pytest

from stringflux.cases import load_case, predict

RIG = Path(__file__).parents[2] / "reference_rig.toml"


@pytest.mark.parametrize(("gap", "nWb"), [("2.285 mm", 44.16), ("2.785 mm", 32.95), ("3.285 mm", 25.05)])
def test_linear_string_by_case_file(gap: str, nWb: float) -> None:
    """λ of a ∅ 0.43 mm string of constant permeability: independent edge elements, 0.3 %."""
    result = predict(load_case(RIG, {"string.1.gap": gap}), maps=False)
    assert result.strings[0].linkage * 1e9 == pytest.approx(nWb, rel=7e-3)
    assert result.coil.inductance == pytest.approx(7.132e-9, rel=3e-3)
    assert result.strings[0].sensitivity_band == pytest.approx((result.strings[0].sensitivity,) * 2, rel=1e-6)
