"""Records draw themselves: each panel on axes of one's own, with what the record says."""

from __future__ import annotations

from typing import Any

import matplotlib
import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from stringflux.cases import Pickup, load_case, solve
from stringflux.geometry.errors import InputError


@pytest.fixture(scope="module")
def pickup() -> Pickup:
    return solve(load_case("bench-single"), quality="draft")


def drawn(record: Any, what: str, **more: Any) -> Axes:
    """The record's panel on new axes, drawn to the end, the caller's settings untouched."""
    before = dict(matplotlib.rcParams)
    ax = Figure(layout="constrained").subplots()
    assert record.plot(ax, what, **more) is ax
    ax.figure.draw_without_rendering()
    assert dict(matplotlib.rcParams) == before
    return ax


def test_impedance(pickup: Pickup) -> None:
    found = pickup.impedance()
    line = drawn(found, "magnitude").lines[0]
    f = np.asarray(line.get_xdata(), float)
    assert 1e3 * np.asarray(line.get_ydata(), float) == pytest.approx(np.abs(found.circuit.impedance(f)))
    assert drawn(found, "phase").get_ylabel() == "phase of Z (°)"
    names = [t.get_text() for t in drawn(found, "response").get_legend().get_texts()]
    assert names == [*found.loads, "nothing connected"]
    assert list(found.figures()) == ["impedance"]


def test_signals(pickup: Pickup) -> None:
    found = pickup.signal()
    assert len(found) == 1
    assert found[0] is next(iter(found))
    shown = np.asarray(drawn(found, "waveform").lines[0].get_ydata(), float)
    assert shown == pytest.approx(1e3 * found[0].signal.voltage[: shown.size])
    assert drawn(found, "spectrum", string=1).get_xlabel() == "frequency (Hz)"
    assert drawn(found, "distortion").get_ylabel() == "part of the first harmonic (%)"
    assert list(found.figures()) == ["waveform", "spectrum", "distortion"]
    with pytest.raises(InputError, match="string: received 2; there are 1 to 1"):
        found.plot(string=2)


def test_hum(pickup: Pickup) -> None:
    found = pickup.hum()
    heights = [bar.get_height() for bar in drawn(found, "level", field=1e-6).patches]
    assert heights == pytest.approx([found.level(1e-6, 50.0)[0], found.level(1e-6, 60.0)[0]])


def test_pull(pickup: Pickup) -> None:
    found = pickup.pull()
    assert drawn(found, "force").patches[0].get_height() == pytest.approx(-1e3 * found[0].pull.force_z)
    shift = [bar.get_height() for bar in drawn(found, "shift").patches]
    assert shift == pytest.approx([found[0].detuning.cents_z, found[0].detuning.cents_y])


@pytest.mark.parametrize("name", ["prediction", "impedance", "signal", "hum", "pull"])
def test_another_panel_is_refused(pickup: Pickup, name: str) -> None:
    with pytest.raises(InputError, match='what: received "nought"; write '):
        getattr(pickup, name)().plot(what="nought")
