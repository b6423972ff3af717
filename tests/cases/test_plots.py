"""Records draw themselves: each panel on axes of one's own, with what the record says."""

from __future__ import annotations

import numpy as np
import pytest

from rigs.cases.drawn import drawn, line_of
from stringflux.cases import Pickup, load_case, material, solve
from stringflux.geometry.errors import InputError
from stringflux.solver.materials import find_material, string_metal
from stringflux.solver.materials.string_memory import StringMemory

pytestmark = pytest.mark.usefixtures("shared_solutions")


@pytest.fixture(scope="module")
def pickup() -> Pickup:
    return solve(load_case("bench-single"), quality="draft")


def test_impedance(pickup: Pickup) -> None:
    found = pickup.impedance()
    line = drawn(found, "magnitude").lines[0]
    f = np.asarray(line.get_xdata(), float)
    assert 1e3 * np.asarray(line.get_ydata(), float) == pytest.approx(np.abs(found.circuit.impedance(f)))
    assert drawn(found, "phase").get_ylabel() == "phase of Z (°)"
    names = [t.get_text() for t in drawn(found, "response").get_legend().get_texts()]
    assert names == [*(f"{i}  {name}" for i, name in enumerate(found.loads, start=1)), "nothing connected"]
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
    # the string that it is held against swings 1 mm, and its steel remembers that
    pitch = pickup.prediction(maps=False).strings[0].pitch
    assert found.signal[0] == pytest.approx(pickup.loop(1, 1e-3).sensitivity * 2 * np.pi * pitch * 1e-3 / 2**0.5)


def test_pull(pickup: Pickup) -> None:
    found = pickup.pull()
    assert drawn(found, "force").patches[0].get_height() == pytest.approx(-1e3 * found[0].pull.force_z)
    shift = [bar.get_height() for bar in drawn(found, "shift").patches]
    assert shift == pytest.approx([found[0].detuning.cents_z, found[0].detuning.cents_y])


def test_linkage_is_the_prediction(pickup: Pickup) -> None:
    found, string = pickup.linkage(1), pickup.prediction().strings[0]
    assert found.at(string.map_y[:, None], string.map_z) == pytest.approx(string.map_linkage, rel=1e-9)
    assert abs(found.at()) == pytest.approx(abs(string.linkage), rel=1e-3)  # the map's polynomial, not the stencil
    assert abs(found.slopes()[1]) == pytest.approx(string.sensitivity_curve, rel=1e-3)
    step = 1e-5
    differences = (found.at(z=step) - found.at(z=-step)) / (2 * step)
    assert found.slopes()[1] == pytest.approx(differences, rel=1e-4)
    line = np.asarray(drawn(found, "up").lines[0].get_ydata(), float)
    assert 1e-6 * line[0] == pytest.approx(abs(float(found.at(z=found.reach[1][0]))), rel=1e-6)
    for what in ("across", "beside"):
        assert drawn(found, what).lines
    with pytest.raises(InputError, match="z: received 5 mm; the map goes from -2 to 2 mm"):
        found.at(z=[0.0, 5e-3])


@pytest.mark.parametrize("what", ["linkage", "aperture"])
def test_no_such_string(pickup: Pickup, what: str) -> None:
    with pytest.raises(InputError, match="string: received 2; there are 1 to 1"):
        getattr(pickup, what)(2)


def test_aperture_hears_what_the_string_has_on_its_reversible_slope(pickup: Pickup) -> None:
    found, string = pickup.aperture(1), pickup.prediction().strings[0]
    assert abs(found.weights.slope_z) == pytest.approx(string.sensitivity_reversible, rel=5e-3)
    assert float(np.trapezoid(found.weights.up, found.weights.x)) == pytest.approx(found.weights.slope_z, rel=1e-2)
    assert f"{1e3 * found.width:.3g} mm" in drawn(found, "up").get_title(loc="left")
    drawn(found, "across")


@pytest.mark.slow
@pytest.mark.parametrize("name", ["bench-single", "stacked-six"])
def test_fields_are_fields(name: str) -> None:
    """At the string they are the prediction's; B₀ and b have neither sources nor curls in air."""
    pickup = solve(load_case(name), quality="draft")
    string, pole = pickup.prediction(maps=False).strings[0], pickup.prediction(maps=False).poles[0]
    at = np.array([0.0, string.y, string.height])
    assert pickup.field(at).values[2, 0] == pytest.approx(string.bias[2])
    assert pickup.reciprocal(at).values[2, 0] == pytest.approx(string.reciprocal[2])
    middle, h = np.array([2e-3, pole.y + 1.5e-3, pole.face + 4e-3]), 0.1e-3
    about = middle[:, None] + h * np.concatenate([np.eye(3), -np.eye(3)], axis=1)
    for found in (pickup.field(about), pickup.reciprocal(about)):
        slope = (found.values[:, :3] - found.values[:, 3:]) / (2 * h)  # [i, j] = ∂_j B_i
        size = np.abs(slope).max()
        assert abs(np.trace(slope)) < 1e-3 * size
        assert np.abs(slope - slope.T).max() < 1e-3 * size


def test_field_on_the_axis_is_the_solution_itself(pickup: Pickup) -> None:
    """The tables against what the solver reads off its own mesh."""
    row, face = pickup.solved.solution(), pickup.prediction(maps=False).poles[0].face
    heights = np.array([0.5e-3, 1e-3, 2e-3, 4e-3])
    found = pickup.field([0 * heights, 0 * heights, face + heights])
    for height, b in zip(heights, found.values[2], strict=True):
        assert b == pytest.approx(row.face_field(height)[0], rel=2e-3)
    far = pickup.field([0.0, 0.0, face + 30e-3])  # over the strings' tables: solved for anew
    assert 0 < far.size[0] < 0.05 * found.size[-1]
    assert drawn(found, "size").get_xlabel() == "up from the top plate, z (mm)"
    slanted = pickup.field(np.array([[0.0, 0.0, face + 2e-3], [1e-3, 1e-3, face + 3e-3]]).T)
    assert drawn(slanted, "components").get_xlabel() == "way along the points (mm)"


@pytest.mark.parametrize(("points", "words"), [
    ([0.0, 0.0, -1e-3], "points: received .0, 0, -1. mm; the fields hold over the faces, there from z = "),
    ([0.0, 90e-3, 20e-3], "points: received .0, 90, 20. mm; the fields are computed up to 60 mm from every pole's"),
    ([0.0, 20e-3], r"points: received an array of shape \(2,\); write x, y and z in m"),
    ([0.0, np.nan, 20e-3], "all finite"),
])
def test_points_out_of_the_fields(pickup: Pickup, points: list[float], words: str) -> None:
    with pytest.raises(InputError, match=words):
        pickup.field(points)


def test_points_in_a_build() -> None:
    pickup = solve(load_case("stacked-six"), quality="draft")
    rod = pickup.solved.poles()[0]
    with pytest.raises(InputError, match="in a magnetic body or too close to one; the fields hold some two mill"):
        pickup.reciprocal([rod.x, rod.y, -5e-3])


def test_materials(pickup: Pickup) -> None:
    assert list(pickup.materials()) == ["alnico-5", "string-steel"]
    steel = material("steel-1008")
    shown = drawn(steel, "curve").lines[0]
    assert np.interp(0.5, 1e-3 * steel.h, steel.b) == pytest.approx(
        np.interp(0.5, np.asarray(shown.get_xdata(), float), np.asarray(shown.get_ydata(), float)), rel=1e-3)
    assert drawn(steel, "reversible").get_ylabel() == "reversible μr (1)"
    assert list(steel.figures()) == ["steel-1008"]
    with pytest.raises(InputError, match='what: received "reversible", but only a soft steel has one drawn'):
        material("alnico-5").plot(what="reversible")


def test_loop_of_a_string(pickup: Pickup) -> None:
    """Closed, through what was computed, about the slope S; its area is of the lag: π A² S sin φ."""
    found = pickup.loop(1, 1e-3)
    ax = drawn(found, "linkage")
    z, flux = line_of(ax)
    assert (z[0], flux[0]) == (pytest.approx(z[-1], abs=1e-12), flux[-1])
    places, computed = line_of(ax, 1)
    assert places == pytest.approx(1e3 * found.moved)
    unit = 1e6 if "µWb" in ax.get_ylabel() else 1e9
    assert computed == pytest.approx(unit * found.linkage)
    np.testing.assert_allclose(flux[30::30], computed, rtol=1e-9)  # the line goes through the eight
    area = abs(np.trapezoid(flux, z)) / (1e3 * unit)
    expected = np.pi * found.amplitude**2 * found.sensitivity * np.sin(found.lag)
    assert area == pytest.approx(expected, rel=0.01)
    (low, high), ends = (np.asarray(v) for v in line_of(ax, 2))
    assert abs(ends[1] - ends[0]) / unit / (high - low) * 1e3 == pytest.approx(found.sensitivity, rel=2e-3)
    rest = line_of(drawn(found, "opening"))[1]
    assert np.ptp(rest) < 0.3 * np.ptp(flux) * (1 if unit == 1e6 else 1e3)


def test_loop_of_a_string_metal() -> None:
    """What is drawn is closed, and cuts B = 0 near the coercivity of the memory."""
    loop, first, curve = drawn(material("string-steel"), "curve").lines[:3]
    h, b = (np.asarray(data, float) for data in loop.get_data())
    assert (h[0], b[0]) == (h[-1], pytest.approx(b[-1], rel=1e-3))
    down = slice(0, h.size // 2)
    coercivity = StringMemory.of(string_metal({"wire": find_material("string-steel")}, "wire")).coercivity
    assert np.interp(0.0, -b[down], -h[down]) == pytest.approx(1e-3 * coercivity, rel=0.1)
    assert first.get_label() == "from no field"
    assert np.all(np.diff(np.asarray(curve.get_ydata(), float)) > 0)
    assert drawn(material("string-bronze"), "curve").lines


def test_drawing(pickup: Pickup) -> None:
    assert pickup.drawing().axes


@pytest.mark.parametrize("name", ["prediction", "impedance", "signal", "hum", "pull", "linkage", "aperture"])
def test_another_panel_is_refused(pickup: Pickup, name: str) -> None:
    with pytest.raises(InputError, match='what: received "nought"; write '):
        getattr(pickup, name)().plot(what="nought")
