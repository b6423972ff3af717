"""Every line has its number, on it, wherever the ends meet."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.figure import Figure

from stringflux.postprocess.figures.numbered import number_lines

X = np.linspace(1.0, 100.0, 60)
CURVES = {
    "ends apart": [X * k for k in (1.0, 2.0, 3.0)],
    "ends meet": [k * np.exp(-(((X - 50) / 15) ** 2)) for k in (1.0, 1.3, 1.35, 2.0)],
    "all as one": [X, X + 0.01, X + 0.02],
    "one leaves the picture": [X, X + 500 * (X > 60)],
}


@pytest.mark.parametrize("scale", ["linear", "log"])
@pytest.mark.parametrize("name", CURVES)
def test_a_number_lies_on_its_line_and_on_no_other_number(name: str, scale: str) -> None:
    ax = Figure(figsize=(6, 4)).subplots()
    lines = [ax.plot(X, y)[0] for y in CURVES[name]]
    ax.set(xscale=scale, xlim=(1, 100), ylim=(0, 1.05 * min(float(np.max(CURVES[name])), 320)))
    number_lines(ax, lines, [str(i) for i in range(1, len(lines) + 1)])
    found = {t.get_text(): t for t in ax.texts}
    assert sorted(found) == [str(i) for i in range(1, len(lines) + 1)]
    places = []
    for i, line in enumerate(lines, start=1):
        text = found[str(i)]
        at = np.array(getattr(text, "xy", text.get_position()))  # of the axes
        points = ax.transLimits.transform(ax.transScale.transform(line.get_xydata()))
        assert np.interp(at[0], points[:, 0], points[:, 1]) == pytest.approx(at[1], abs=0.02)
        places.append(at)
    for a, b in np.array([(a, b) for k, a in enumerate(places) for b in places[k + 1:]]):
        assert abs(a[0] - b[0]) > 0.04 or abs(a[1] - b[1]) > 0.04


def test_what_has_no_place_on_a_logarithm_has_no_number() -> None:
    ax = Figure().subplots()
    with np.errstate(divide="ignore"):
        lines = [ax.plot(X, y)[0] for y in (np.log10(0 * X), X, 50 + 0.2 * X)]
    ax.set(xlim=(1, 100), ylim=(0, 110))
    number_lines(ax, lines, ["1", "2", "3"])
    assert sorted(t.get_text() for t in ax.texts) == ["2", "3"]


def test_one_line_needs_no_number() -> None:
    ax = Figure().subplots()
    number_lines(ax, ax.plot(X, X), ["1"])
    assert not ax.texts
