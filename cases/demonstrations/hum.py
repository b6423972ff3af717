"""The demonstration "hum": the coil in a field of the mains, N·A·ωB in numbers, and two coils that cancel.

The areas are those of :meth:`..pickup.Pickup.hum`, poles and bodies in place. Of one coil the pair is itself and its
mirror image beside it, whose area is exactly the opposite; of several coils it is the case's own.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np

from stringflux.geometry.case.model import Case
from stringflux.geometry.notes import pitch_words
from stringflux.geometry.shapes.row import Racetrack
from stringflux.postprocess.coil.hum import HOME_MEAN, HOME_RANGE, PUBLIC_LIMIT
from stringflux.postprocess.demonstrations.hum_shown import HumPicture, hum_shown
from stringflux.postprocess.demonstrations.mains import MainsHum
from stringflux.postprocess.demonstrations.record import Demonstration
from stringflux.postprocess.pictures.plane import window
from stringflux.postprocess.plucked.sensed import SWING
from stringflux.postprocess.results.each import numbered
from stringflux.solver.coil.air import mean_area

from ..pickup import Pickup
from ..pickup_fields import Progress, nobody
from .pictures import pickup_shapes
from .settings import LessonSettings

SHOWN = 72
"""Samples of a period, of which two are shown."""
BESIDE = 2e-3
"""Between the coil and the one thought beside it, m."""


def demonstrate(pickup: Pickup, asked: LessonSettings, progress: Progress = nobody) -> Demonstration:
    """The coil in a field of the mains.

    Raises
    ------
    InputError
        For a string that is not there.
    """
    found = mains_hum(pickup, asked, progress)
    progress("pictures", 0.8)
    case, y = pickup.case, _middle(pickup.case)
    u, z = window(case, "side")
    names = case.coil_names()
    one = pickup_shapes(case, y, only=names.index(found.coil) if found.several else None)
    return hum_shown(found, HumPicture(window=(float(u[0]), float(u[-1]), float(z[0]), float(z[-1])), one=one,
                                       both=pickup_shapes(case, y) if found.several else None))


def mains_hum(pickup: Pickup, asked: LessonSettings, progress: Progress = nobody) -> MainsHum:
    """What one coil and two hear of the mains, beside a string."""
    solved = pickup.solved
    place = numbered(asked.string, solved.strings)
    hum = pickup.hum(progress)
    areas = solved.hum_areas().areas
    tracks, names = pickup.case.racetracks(), pickup.case.coil_names()
    several = len(areas) > 1
    shares = list(pickup.shares().values()) if several else [1.0]
    each = np.array([w * a.total for w, a in zip(shares, areas, strict=True)])
    loudest = int(np.argmax(np.linalg.norm(each, axis=1)))
    n = each[loudest] / np.linalg.norm(each[loudest])
    n = n if n[2] >= 0 else -n
    along = each @ n
    against = min(range(len(along)), key=lambda i: float(along[i] * along[loudest])) if several else loudest
    whole = float(hum.area.total @ n) if several else 0.0
    field, frequency = asked.field or HOME_MEAN, asked.mains
    w = 2 * np.pi * frequency
    time = np.arange(2 * SHOWN + 1) / (SHOWN * frequency)
    density = np.sqrt(2) * field * np.sin(w * time)
    rising = -w * np.sqrt(2) * field * np.cos(w * time)  # −dB/dt
    turns = abs(float(solved.signed_turns[loudest]))
    fields = np.array([HOME_MEAN, HOME_RANGE[1], PUBLIC_LIMIT])
    return MainsHum(
        title=pickup.case.title, several=several, coil=names[loudest], connection=hum.connection,
        other=names[against] if several else "its mirror image", turns=turns,
        sense=int(np.sign(solved.signed_turns[loudest])), field=field, frequency=frequency, direction=n,
        turn_area=mean_area(tracks[loudest]), turns_area=float(shares[loudest] * areas[loudest].turns @ n),
        poles_area=float(shares[loudest] * areas[loudest].poles @ n), time=time, flux_density=density,
        per_turn=along[loudest] * density / turns, linkage=along[loudest] * density, emf=along[loudest] * rising,
        other_emf=along[against] * rising if several else -along[loudest] * rising, left_emf=whole * rising,
        voltage=w * abs(float(along[loudest])) * field, left=w * abs(whole) * field,
        apart=_apart([tracks[i] for i in sorted({loudest, against})]), string=asked.string,
        pitch=pitch_words(place.pitch), signal=hum.signal[asked.string - 1], swing=SWING, fields=fields,
        hums=w * abs(float(along[loudest])) * fields)


def _apart(tracks: list[Racetrack]) -> float:
    """How far the middles of two coils are from each other, m; of one alone, from the one thought beside it."""
    if len(tracks) == 1:
        return 2 * (tracks[0].inner_radius + tracks[0].build) + BESIDE
    return max(float(np.hypot(a.x_centre - b.x_centre, (a.bottom + a.top - b.bottom - b.top) / 2))
               for a, b in combinations(tracks, 2))


def _middle(case: Case) -> float:
    """y of the plane that is shown: through the pole nearest to the middle, m."""
    return min((p.y for p in case.placed_poles()), key=abs, default=0.0)
