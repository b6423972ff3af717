"""Fields for people: gauss and millitesla stand side by side, one alone on request, and JSON keeps tesla."""

from __future__ import annotations

import json

import pytest

from stringflux.cases.cli import main
from stringflux.cases.terminal.field import band_cell, field_cell

pytestmark = pytest.mark.usefixtures("shared_solutions")


@pytest.mark.parametrize(("units", "plain", "banded"), [
    ("both", "-1265 (-126.5)", "-1265 (-126.5), -1300 to -1200 G"), ("si", "-126.5", "-126.5 (-130.0 to -120.0)"),
    ("trade", "-1265", "-1265 (-1300 to -1200)")])
def test_cells(units: str, plain: str, banded: str) -> None:
    assert field_cell(-0.1265, units) == band_cell(-0.1265, None, units) == plain
    assert band_cell(-0.1265, (-0.12, -0.13), units) == banded
    assert "-0" not in field_cell(-1e-9, units)


def test_predict_prints_what_units_says(capsys: pytest.CaptureFixture[str]) -> None:
    run = ["predict", "bench-single", "--quality", "draft"]
    assert main([*run, "--json"]) == 0
    tesla = json.loads(capsys.readouterr().out)["result"]["poles"][0]["field"]
    gauss, milli = f"{tesla * 1e4:.0f}", f"{tesla * 1e3:.1f}"
    for words, cell, head in (([], f"{gauss} ({milli})", "G (mT)"), (["--units", "si"], milli, "mT"),
                              (["--units", "trade"], gauss, "G")):
        assert main([*run, *words]) == 0
        poles = capsys.readouterr().out.split("Poles")[1]
        assert cell in poles
        assert head in poles
        assert ("mT" in poles) == ("trade" not in words)
    assert main([*run, "--units", "oersted"]) == 2
    assert '--units: received "oersted"; write both, si, trade' in capsys.readouterr().err
