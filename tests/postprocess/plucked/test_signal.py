"""Signals: e = −dλ/dt, harmonics by hand, the comb, filters, sound files."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
import soundfile
from matplotlib.backends.backend_agg import FigureCanvasAgg

from rigs.fields.bench_rig import Wire, bench_row
from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError
from stringflux.postprocess.figures.signal import nodes, signal_figures
from stringflux.postprocess.plucked.memory import NONE
from stringflux.postprocess.plucked.modes import Damping, FreeVibration, Pluck, VibratingString
from stringflux.postprocess.plucked.sensed import PlayedString, SensedString, sensed_string
from stringflux.postprocess.plucked.signal import distortion, spectrum, string_signal, strum, through
from stringflux.postprocess.plucked.surface import Surface, surface
from stringflux.postprocess.plucked.wav import PEAK, write_sounds
from stringflux.solver.materials import find_material

WIRE = Wire(0.215e-3, 3e-3, find_material("string-steel"))
STRING = VibratingString(pitch=196.0, unit_mass=1.143e-3, length=0.648, diameter=0.43e-3)
SLOW = Damping(all_partials=50.0, at_1_khz=1e6)
LOBATTO = -np.cos(np.pi * np.arange(7) / 6)


@lru_cache
def sensed(place: float = 0.25, damping: Damping = SLOW) -> SensedString:
    string = replace(STRING, damping=damping)
    return sensed_string(bench_row().field, WIRE.shape, WIRE.layers, string, place * string.length)


def flat(S: float) -> Surface:
    """λ = S z."""
    y, z = 2e-3 * LOBATTO, 2e-3 * LOBATTO
    return surface(y, z, S * z * np.ones((7, 1)))


def one_mode(a: float, f: float, direction: tuple[float, float] = (0.0, 1.0)) -> FreeVibration:
    one = np.ones(1)
    return FreeVibration(amplitude=a * one, frequency_y=f * one, frequency_z=f * one, rate=1e-9 * one,
                         direction=direction)


def test_sine_over_a_straight_map() -> None:
    """e = S ω a: peak by hand."""
    made = string_signal(flat(0.05), one_mode(0.5e-3, 200.0), np.ones(1), seconds=0.1)
    assert made.peak == pytest.approx(0.05 * 2 * np.pi * 200 * 0.5e-3, rel=1e-4)
    assert made.rms == pytest.approx(made.peak / np.sqrt(2), rel=1e-3)
    assert made.excursion == pytest.approx(0.5e-3)


def test_voltage_is_the_rate_of_the_linkage() -> None:
    """∫ e dt = λ(0) − λ(t), both polarisations, on a real map; Simpson's rule at 48 kHz."""
    s = sensed()
    vibration = FreeVibration(amplitude=np.array([0.6e-3, 0.2e-3]), frequency_y=np.array([196.0, 392.5]),
                              frequency_z=np.array([195.0, 391.0]), rate=np.array([3.0, 5.0]), direction=(0.7, 0.7))
    made = string_signal(s.surface, vibration, np.ones(2), seconds=0.02)
    dt = 1 / made.rate
    e = made.voltage[:961] if made.voltage.size > 960 else made.voltage[:959]
    integral = dt / 3 * float(e[0] + e[-1] + 4 * np.sum(e[1:-1:2]) + 2 * np.sum(e[2:-1:2]))
    n = e.size - 1
    ends = s.surface.linkage(made.across[[0, n]], made.up[[0, n]])
    assert integral == pytest.approx(float(ends[0] - ends[1]), rel=1e-5, abs=1e-6 * float(np.max(np.abs(ends))))


def test_second_harmonic_by_hand() -> None:
    """λ = z + c z² + d z³: H2 = c a/(1 + ¾ d a²), H3 = ¾ d a²/(1 + ¾ d a²) in the voltage (exact)."""
    c, d, a = 150.0, 9e4, np.array([0.5e-3, 1e-3])
    z = 2e-3 * LOBATTO
    s = surface(2e-3 * LOBATTO, z, (z + c * z**2 + d * z**3) * np.ones((7, 1)))
    first = 1 + 0.75 * d * a**2
    assert distortion(s, a)[0] == pytest.approx(c * a / first)
    assert distortion(s, a)[1] == pytest.approx(0.75 * d * a**2 / first)


def test_distortion_depends_on_the_swing() -> None:
    """H2 grows as the swing, H3 as its square (J. Audio Eng. Soc. 65(9), 2017, 711–721: distortion depends mostly
    on amplitude)."""
    swings, H = replace(sensed(), memory=NONE).distortion()
    slope = np.log(H[:, 5] / H[:, 0]) / np.log(swings[5] / swings[0])
    assert slope == pytest.approx([1.0, 2.0], abs=0.05)
    # memory leaves H2 and adds an H3 that grows as the swing, as Rayleigh's law of weak fields has it
    swings, H = sensed().distortion()
    slope = np.log(H[:, 5] / H[:, 0]) / np.log(swings[5] / swings[0])
    assert slope[0] == pytest.approx(1.0, abs=0.05)
    assert 0.8 < slope[1] < 1.8


def test_motion_across_a_centred_string_is_heard_an_octave_higher() -> None:
    """λ is even in y, so a swing across makes only even harmonics."""
    f0 = 200.0
    made = string_signal(sensed().surface, one_mode(0.5e-3, f0, (1.0, 0.0)), np.ones(1), seconds=1.0)
    f, lines = spectrum(made.voltage, made.rate)
    level = [lines[np.argmin(np.abs(f - k * f0))] for k in (1, 2)]
    assert level[0] < 1e-4 * level[1]


def test_place_along_the_scale_shows_as_its_comb() -> None:
    """A pickup at a quarter of the string is deaf to partials 4, 8, 12 …; in between they follow n a_n φ̄_n."""
    s = sensed()
    tiny = Pluck(displacement=1e-6, at=1 / 7.3, angle=np.pi / 2)  # so small that the pickup adds no harmonics
    made = s.play(tiny)
    f, lines = spectrum(made.voltage, made.rate)
    # the power about each partial: the highest line alone depends on how it falls between the lines
    level = np.array([np.linalg.norm(lines[np.abs(f - p) < 20]) for p in s.string.frequencies()[:14]])
    n = np.arange(1, 15)
    expected = np.abs(np.sin(n * np.pi / 4) * np.sin(n * np.pi / 7.3)) / n  # ideal string, a pickup of no length
    heard = n % 4 != 0
    # the aperture lowers partial 14 (half-wave 46 mm) by some 1 %, stiffness as much
    assert level[heard] / level[0] == pytest.approx(expected[heard] / expected[0], rel=0.04)
    assert np.all(level[~heard] < 2e-3 * level[0])
    assert nodes(s)[0] == pytest.approx(s.string.frequencies()[3], rel=1e-9)


def test_aperture_weakens_short_waves() -> None:
    """Half-wave 20 mm: −0.1 to −0.5 dB against a point over the row."""
    s = sensed(place=0.26)
    n = round(0.648 / 20e-3)
    strongest = n - 1 + int(np.argmax(np.abs(s.point[n - 1:n + 1])))
    ratio = 20 * np.log10(s.means[strongest] / s.point[strongest])
    assert -0.6 < ratio < -0.05
    assert s.means[0] == pytest.approx(s.point[0], rel=1e-3)


def test_level_on_the_reversible_slope_is_that_of_the_stencil() -> None:
    assert -2.0 < sensed().reversible_level - sensed().curve_level < 0.5


def test_two_polarisations_beat() -> None:
    """The pull splits the fundamental: f_y above f_z."""
    ky, kz = sensed().springs
    assert kz < 0 < ky


def test_string_that_leaves_the_map_is_told() -> None:
    with pytest.raises(CaseError, match=r"string 3 swings .* mm down"):
        sensed().play(Pluck(displacement=6e-3, angle=np.pi / 2), name="string 3")


def test_filter_of_one_pole() -> None:
    """A sine through 1/(1 + jf/f_c) comes out smaller by the known factor and late by the known phase."""
    rate, f0 = 48000.0, 1000.0
    t = np.arange(48000) / rate
    out = through(np.sin(2 * np.pi * f0 * t), rate, lambda f: 1 / (1 + 1j * f / f0))
    late = out[24000:]
    expected = np.sin(2 * np.pi * f0 * t[24000:] - np.pi / 4) / np.sqrt(2)
    assert late == pytest.approx(expected, abs=2e-3)  # the cut end of the sine rings a little


def test_filters_follow_each_other() -> None:
    noise = np.random.default_rng(1).normal(size=4800)
    half = through(through(noise, 48e3, lambda f: 0.5 * np.ones_like(f)), 48e3, lambda f: 0.5 * np.ones_like(f))
    assert half == pytest.approx(noise / 4)
    assert through(noise, 48e3) is noise


def test_spectrum_of_a_sine_is_its_rms() -> None:
    t = np.arange(48000) / 48e3
    f, lines = spectrum(3.0 * np.sin(2 * np.pi * 1000 * t), 48e3)
    assert lines[np.argmin(np.abs(f - 1000))] == pytest.approx(3 / np.sqrt(2), rel=1e-3)


def test_polynomial_passes_through_the_map() -> None:
    rng = np.random.default_rng(2)
    values = rng.normal(size=(7, 7))
    y, z = 2e-3 * LOBATTO, 1.5e-3 * LOBATTO
    s = surface(y, z, values)
    Y, Z = np.meshgrid(y, z, indexing="ij")
    assert s.linkage(Y.ravel(), Z.ravel()) == pytest.approx(values.ravel())
    p, h = (np.array([0.4e-3]), np.array([-0.3e-3])), 1e-7
    by_y = (s.linkage(p[0] + h, p[1]) - s.linkage(p[0] - h, p[1])) / (2 * h)
    by_z = (s.linkage(p[0], p[1] + h) - s.linkage(p[0], p[1] - h)) / (2 * h)
    assert np.array(s.slopes(*p)) == pytest.approx(np.array([by_y, by_z]), rel=1e-5)


def test_strum_starts_the_strings_one_by_one() -> None:
    a, b = np.ones(100), 2 * np.ones(100)
    out = strum([a, b], 1000.0, 0.03)
    assert (out.size, out[10], out[50], out[120]) == (130, 1, 3, 2)


def test_sound_files_share_one_gain(tmp_path: Path) -> None:
    def tone(a: float) -> Array:
        return a * np.sin(2 * np.pi * 440 * np.arange(9600) / 48e3)

    paths = write_sounds(tmp_path, {"string-1": tone(0.1), "string-2": tone(0.02)}, 48e3)
    (loud, rate), (soft, _) = (soundfile.read(p) for p in paths)
    assert rate == 48000
    assert np.max(np.abs(loud)) == pytest.approx(PEAK, rel=1e-3)
    assert np.max(np.abs(soft)) == pytest.approx(PEAK / 5, rel=1e-3)
    assert loud[-1] == 0.0
    assert soundfile.info(paths[0]).subtype == "PCM_24"


def test_figures_of_one_string() -> None:
    s = sensed(damping=Damping())
    played = PlayedString(number=1, string=s, signal=s.play(Pluck(displacement=0.5e-3), seconds=0.3))
    made = signal_figures([played], "plucked", at=1 / 8)
    assert set(made) == {"waveform", "spectrum", "distortion"}
    lines = made["spectrum"].axes[0].get_lines()
    over = (s.bridge_distance - s.coils[0].middle) / s.string.length
    assert len(lines) == 1 + len(nodes(s, over)) + len(nodes(s, 1 / 8))
    assert "the first 0.3 s" in str([text.get_text() for text in made["spectrum"].texts])
    assert len(signal_figures([played], "driven")["spectrum"].axes[0].get_lines()) == 1


def test_words_of_a_low_figure_stay_on_it_and_clear_of_each_other() -> None:
    s = sensed(damping=Damping())
    played = PlayedString(number=1, string=s, signal=s.play(Pluck(displacement=0.5e-3), seconds=0.3))
    said = "plucked by 1 mm, 0.125 of the string from the bridge, 45° to the plate, at the amplifier"
    for name, fig in signal_figures([played], said).items():
        renderer = FigureCanvasAgg(fig).get_renderer()
        fig.draw(renderer)
        boxes = [t.get_window_extent(renderer) for t in fig.texts]
        for box in boxes:
            assert fig.bbox.contains(box.x0, box.y0), name
            assert fig.bbox.contains(box.x1, box.y1), name
        assert not any(a.overlaps(b) for a, b in combinations(boxes, 2)), name
