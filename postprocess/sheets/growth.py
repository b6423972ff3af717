r"""A winding while it grows: resistance and thickness after n of its N turns, laid evenly from the inside out.

    b(n) = b n/N,      R(n) = R n ℓ(a + ū n/N) / (N ℓ(a + ū)),      ℓ(r) = 2 s + 2 π r

a the inner radius of the round ends, b the winding's thickness, ū the mean distance of its turns from the inside, b/2
where the thickness is the same everywhere, s the straight side, all in m. A thickness that changes along the height
grows in proportion at all heights. R at the winding's temperature in Ω. R(N) = R: the whole coil is that of
:mod:`stringflux.postprocess.coil.winding`.

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stringflux.geometry.shapes.row import Racetrack

from ..coil.packing import turn_length
from ..coil.winding import Winding

MOST_ROWS = 16
MOST_HEIGHTS = 6
THIRDS = (1 / 3, 2 / 3, 1.0)


@dataclass(frozen=True, kw_only=True)
class Grown:
    """A winding after some of its turns.

    Attributes
    ----------
    turns : int
    build : float
        Thickness on one side, where it is greatest, m.
    across, along : float
        Outside of the winding along the strings, and across them, m.
    resistance : float
        Ω.
    """

    turns: int
    build: float
    across: float
    along: float
    resistance: float


def grown(made: Winding, track: Racetrack, turns: float) -> Grown:
    """The winding after so many turns."""
    share = turns / made.turns
    build = track.build * share
    mean, whole = (turn_length(track, track.inner_radius + track.mean_distance * b) for b in (share, 1.0))
    (x0, y0), (x1, y1) = track.inner_bounds
    return Grown(turns=round(turns), build=build, across=x1 - x0 + 2 * build, along=y1 - y0 + 2 * build,
                 resistance=made.resistance * share * mean / whole)


def thirds(made: Winding, track: Racetrack) -> tuple[Grown, ...]:
    """After a third of the turns, after two, and at the end."""
    return tuple(grown(made, track, made.turns * share) for share in THIRDS)


def along_height(track: Racetrack) -> tuple[tuple[float, ...], ...]:
    """Where the thickness changes along the height: heights over the lower edge with the thickness there at every
    third, m, from the lowest up; () where it does not.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from stringflux.cases import load_case
    >>> track = load_case("bench-single").racetrack()
    >>> cone = replace(track, build=3e-3, builds=((track.bottom, 1.5e-3), (track.top, 3e-3)))
    >>> along_height(track), [round(1e3 * x, 6) for x in along_height(cone)[-1]]
    ((), [11.0, 1.0, 2.0, 3.0])
    """
    if not track.builds:
        return ()
    builds = [w for _, w in track.builds]
    first = [0, len(builds) - 1, builds.index(max(builds)), builds.index(min(builds))]  # of many these stay
    even = [round(i) for i in np.linspace(0, len(builds) - 1, MOST_HEIGHTS)]
    places = sorted(list(dict.fromkeys(first + even))[:MOST_HEIGHTS])
    return tuple((z - track.bottom, *(w * share for share in THIRDS)) for z, w in (track.builds[i] for i in places))


def by_thousands(made: Winding, track: Racetrack) -> tuple[Grown, ...]:
    """Every 1000 turns and the end; closer where there are not even two thousand, wider where rows are many.

    Examples
    --------
    >>> from stringflux.cases import load_case
    >>> from stringflux.postprocess.coil.winding import winding
    >>> case = load_case("baritone-six")
    >>> [g.turns for g in by_thousands(winding(case), case.racetrack())]
    [1000, 2000, 3000, 4000, 5000, 6000, 7000]
    """
    step = 1000.0
    while made.turns < 2 * step and step > 1:
        step /= 10
    for by in (2, 2.5, 2) * 3:
        if made.turns / step > MOST_ROWS:
            step *= by
    step = max(step, 1.0)
    full = [k * step for k in range(1, int(made.turns / step + 1e-9) + 1)]
    rows = full if full and abs(full[-1] - made.turns) < 1e-6 else [*full, made.turns]
    return tuple(grown(made, track, n) for n in rows)
