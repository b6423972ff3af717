"""The case that is written of what was fitted."""

from __future__ import annotations

import tomllib
from types import SimpleNamespace
from typing import Any

import pytest

from stringflux.cases.files.load import built_in_uses, shipped_cases
from stringflux.cases.readings.fitted_case import fitted_case
from stringflux.geometry.reading.read import read_case


def test_fitted_turns_lie_where_they_were_fitted() -> None:
    """R goes as N and L as N² in one space; a case that says how full it is gets as much fuller."""
    text = shipped_cases()["bench-single"].read_text(encoding="utf-8").replace("[coil]", "[coil]\nfill = 0.6")
    data = tomllib.loads(text)
    case = read_case(data, materials=built_in_uses())
    found = SimpleNamespace(parameter=SimpleNamespace(name="turns"), value=5400.0)
    fit: Any = SimpleNamespace(fitted=[found], state={})
    written = fitted_case(text, data, case, SimpleNamespace(), fit, ohms=False, remark="")  # type: ignore[arg-type]
    fitted = read_case(tomllib.loads(written), materials=built_in_uses())
    assert (fitted.coil.turns, fitted.coil.fill) == (5400, pytest.approx(0.648))
    assert fitted.coil.wound == pytest.approx(case.coil.wound, rel=1e-3)
