r"""The demonstration "string": one string driven over its pole, λ by the steel's own loop, e = −dλ/dt.

The string goes z = A sin ωt; λ is computed at :data:`ROUND` places of the time round that counts, each by a solve of
the string's magnetisation with its memory. Between them stands their Fourier series, of which e is the derivative::

    λ(t) = Σ c_n e^{inωt}        e = −Σ i n ω c_n e^{inωt},   |n| ≤ HARMONICS

References
----------
Derived here.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.placed_strings import PlacedString
from stringflux.geometry.errors import CaseError
from stringflux.geometry.notes import pitch_words
from stringflux.geometry.shapes.row import StringShape
from stringflux.postprocess.demonstrations.record import Demonstration
from stringflux.postprocess.demonstrations.string_shown import StringPictures, string_shown
from stringflux.postprocess.demonstrations.swing import DrivenString
from stringflux.postprocess.pictures.flux_lines import flux_lines, lines_through
from stringflux.postprocess.results.each import numbered
from stringflux.postprocess.string.loop import SwungString
from stringflux.postprocess.string.neighbours import magnetised_line
from stringflux.postprocess.string.own_field import MagnetisedLine

from ..jobs.loop import swung_of
from ..pickup import Pickup
from ..pickup_fields import Progress, nobody
from ..solved.solve_row import one_thread
from .pictures import pickup_shapes
from .settings import LessonSettings

ROUND = 64
"""Places of a time round at which λ is computed."""
HARMONICS = 20
"""Of the Fourier series: by then they are under 1e-5 of the first (test_string.py)."""
SHOWN = 72
"""Samples of a period, of which two are shown."""
PHASES = 7
"""Places at which the field is drawn, from lowest to highest."""
_CLEAR = 0.4e-3  # m, of a string's surface, in whose cells of the picture no field is known
_USUAL, _SMALL, _LARGE, _MOVED = 0.5e-3, 0.1e-3, 1.2e-3, 1e-3  # m


def demonstrate(pickup: Pickup, asked: LessonSettings, progress: Progress = nobody) -> Demonstration:
    """One string over its pole.

    Raises
    ------
    InputError
        For a string that is not there.
    CaseError
        Without a magnet, or for an amplitude that there is no room for.
    """
    found, swung = driven(pickup, asked, progress)
    progress("pictures", 0.5)
    return string_shown(found, pictures(pickup, found.number, found.amplitude, swung))


def driven(pickup: Pickup, asked: LessonSettings, progress: Progress = nobody) -> tuple[DrivenString, SwungString]:
    """The series of a driven string, and the string itself."""
    solved = pickup.solved
    place = numbered(asked.string, solved.strings)
    progress("fields", 0.1)
    swung = swung_of(solved, asked.string)
    amplitude = amplitude_of(asked, swung) if asked.drive == "sine" else 0.0
    frequency = asked.frequency or place.pitch
    turns = abs(float(np.sum(solved.signed_turns)))
    if not turns:
        raise CaseError("the coils' turns cancel, so there is no flux per turn to show; demonstrate one coil alone")
    progress("string", 0.3)
    theta = 2 * np.pi * np.arange(1, ROUND + 1) / ROUND
    once_more = np.sin(np.concatenate([theta, theta]))
    with one_thread():
        twice = swung.along(amplitude * once_more) if asked.drive == "sine" else None
        widest = min(_LARGE, swung.reach)
        wide = np.stack([widest * np.sin(theta), swung.along(widest * once_more)[ROUND:]])
    if twice is None:
        time, at, linkage, emf = plucked(pickup, place, asked)
        amplitude = float(np.max(np.abs(at)))
    else:
        time = two_periods(frequency)
        at = amplitude * np.sin(2 * np.pi * frequency * time)
        linkage, emf = from_round(twice[ROUND:], frequency, time)
    near, far = _moved(place, swung)
    lightly = min(_SMALL, amplitude)
    loops = {name: pickup.loop(asked.string, a, moved=(0.0, z)) for name, a, z in (
        ("loop", min(amplitude, swung.reach), 0.0), ("small", lightly, 0.0), ("large", widest, 0.0),
        ("near", lightly, -near), ("far", lightly, far))}
    flux = solved.turn_flux()
    sense = 1 if float(np.sum(solved.signed_turns)) > 0 else -1
    found = DrivenString(
        title=solved.case.title, number=asked.string, pitch=pitch_words(place.pitch), gap=place.gap, turns=turns,
        sense=sense, frequency=frequency, amplitude=amplitude, plucked=asked.drive == "pluck", time=time, place=at,
        linkage=linkage, emf=emf, slope=_slope(wide, at), wide=wide,
        magnet_flux=None if flux is None else sense * flux, nearer=near, farther=far, **loops)
    return found, swung


def two_periods(frequency: float) -> Array:
    """Times (n,), s, that are shown."""
    return np.arange(2 * SHOWN + 1) / (SHOWN * frequency)


def amplitude_of(asked: LessonSettings, swung: SwungString) -> float:
    """How far a string is driven each way, m.

    Raises
    ------
    CaseError
        For more than there is room for.
    """
    amplitude = asked.amplitude or min(_USUAL, 0.5 * swung.reach)
    if amplitude > swung.reach:
        raise CaseError(f"amplitude: received {1e3 * amplitude:g} mm; over that pole swings up to "
                        f"{1e3 * swung.reach:.2g} mm are computed, so write less, or raise the string")
    return amplitude


def from_round(linkage: Array, frequency: float, time: Array) -> tuple[Array, Array]:
    """λ and e (n,) at times (n,), s, from λ (k,) at equal steps of one time round that ends where it began, t = 0."""
    n = np.arange(HARMONICS + 1)
    c = np.fft.rfft(np.roll(linkage, 1))[: HARMONICS + 1] / linkage.size
    c[1:] *= 2
    turning = np.exp(2j * np.pi * frequency * np.multiply.outer(time, n))
    return (np.asarray(np.real(turning @ c)), np.asarray(-np.real(turning @ (2j * np.pi * frequency * n * c))))


def plucked(pickup: Pickup, place: PlacedString, asked: LessonSettings) -> tuple[Array, Array, Array, Array]:
    """Time, place, λ and e over the first four periods of a plucked string; λ is the integral of e."""
    from stringflux.postprocess.plucked.modes import PLUCK

    pluck = PLUCK if asked.amplitude is None else replace(PLUCK, displacement=asked.amplitude)
    signal = pickup.signal(pluck)[asked.string - 1].signal
    count = min(signal.voltage.size, math.ceil(4 * signal.rate / place.pitch))
    time, emf = np.arange(count) / signal.rate, signal.voltage[:count]
    rest = float(np.mean(pickup.loop(asked.string).linkage))
    flux = -np.concatenate([[0.0], np.cumsum((emf[1:] + emf[:-1]) / 2)]) / signal.rate
    return time, signal.up[:count], rest + flux - float(np.mean(flux)), emf


def _moved(place: PlacedString, swung: SwungString) -> tuple[float, float]:
    """How much nearer and farther the string is put as well, m."""
    room = swung.reach - _SMALL
    return min(_MOVED, max(room, 0.1 * place.gap)), _MOVED


def _slope(wide: Array, at: Array) -> Array:
    """∂λ/∂z (n,) at places (n,): of the middle of the widest loop, as a polynomial."""
    middle = np.polynomial.Polynomial.fit(wide[0], wide[1], 5)
    return np.asarray(middle.deriv()(at))


def pictures(pickup: Pickup, number: int, amplitude: float, swung: SwungString, *,
             own: bool = True) -> StringPictures:
    """The section through the pole at every phase, with the string's own field, and that alone if `own`."""
    solved = pickup.solved
    place = solved.strings[number - 1]
    reach = min(amplitude, swung.reach)
    places = np.linspace(-reach, reach, PHASES)
    with one_thread():
        plane = solved.plane("side", place)
        course = swung.course(places)
        shown = (plane.u > -14e-3) & (plane.u < 14e-3)
        u, z = plane.u[shown], plane.z
        b, inside = plane.b[:, :, shown], plane.inside[:, shown]
        U, Z = np.meshgrid(u, z)
        points = np.stack([U.ravel(), np.full(U.size, plane.at), Z.ravel()])
        both, apart, steps = [], [], []
        for k, moved in enumerate(places):
            line = _line(swung, course.moment[k], course.moment_across[k], moved)
            added = np.nan_to_num(line.field(points)).reshape(b.shape)
            lines, step = flux_lines((u, z), (b + added)[[0, 2]], inside, plane.sources)
            both.append(lines)
            if not own:
                continue
            alone, fine = flux_lines((u, z), added[[0, 2]], inside, plane.sources)
            over = lines_through((u, z), added[[0, 2]], inside, _other_side(line.shape, alone))
            apart.append(alone + over)
            steps.append(step / fine if fine else math.nan)
    ends, thick = u[[0, -1]], place.shape.outer_radius
    axis = place.shape.axis_height + place.shape.slope * ends
    return StringPictures(
        window=(float(u[0]), float(u[-1]), float(z[0]), float(z[-1])), places=places, both=tuple(both),
        own=tuple(apart), finer=float(np.nanmedian(steps)) if own else math.nan,
        shapes=pickup_shapes(solved.case, plane.at),
        string=np.array([np.append(ends, ends[::-1]), np.append(axis + thick, axis[::-1] - thick)]))


def _other_side(shape: StringShape, lines: tuple[Array, ...]) -> Array:
    """Where lines (2, n) come close under a string, mirrored to above it, (2, k): about its own axis a string that
    is magnetised along itself has the same field on every side."""
    found = []
    for line in lines:
        under = shape.axis_height + shape.slope * line[0] - line[1]
        clear = np.flatnonzero(under > shape.outer_radius + _CLEAR)
        if clear.size:
            k = clear[np.argmin(under[clear])]
            found.append((line[0, k], line[1, k] + 2 * under[k]))
    return np.array(found).reshape(-1, 2).T


def _line(swung: SwungString, moment: Array, across: Array, moved: float) -> MagnetisedLine:
    """The string at a place, magnetised."""
    line = magnetised_line(swung.model, moment, across)
    return replace(line, shape=replace(line.shape, axis_height=line.shape.axis_height + moved))
