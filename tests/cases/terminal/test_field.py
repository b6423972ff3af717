"""Fields for people: gauss and millitesla stand side by side, one alone on request, and JSON keeps tesla."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from matplotlib.figure import Figure

from stringflux.cases.cli import main
from stringflux.cases.terminal.field import band_cell, field_cell
from stringflux.postprocess.figures.style import gauss_beside

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


def test_readings_print_what_units_says(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    (tmp_path / "r.csv").write_text("quantity,pole,distance,value,uncertainty\nfield,1,0.5 mm,1310 G,3 mT\n",
                                    encoding="utf-8")
    run = ["readings", "bench-single", str(tmp_path / "r.csv"), "--quality", "draft"]
    for words, cell in (([], "1310 G (131 mT)"), (["--units", "si"], " 131 mT"), (["--units", "trade"], "1310 G ")):
        assert main([*run, *words]) == 0
        line = next(line for line in capsys.readouterr().out.splitlines() if "pole 1" in line)
        assert cell in line
        assert ("mT" in line, "G" in line) == ("trade" not in words, "si" not in words)


def test_a_scale_in_gauss_stands_beside_millitesla() -> None:
    ax = Figure().subplots()
    ax.set_ylim(-30, 60)
    gauss_beside(ax)
    (side,) = ax.child_axes
    ax.figure.draw_without_rendering()
    assert side.get_ylim() == pytest.approx((-300, 600))
    assert [t.get_text() for t in side.get_yticklabels()][-1] == "600 G"
