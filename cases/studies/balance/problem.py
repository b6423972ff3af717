r"""The balance as a problem of bounded movements: what may move, how far, and what is wanted.

Unknowns x (m), positive towards the strings: the bass and the treble side of the whole pickup, the pole of each
string, or both. With the frame on the pickup::

    faces_j = faces_j⁰ + x_pole(j)
    lows_i  = lows_i⁰ − x_side(y_i)            (straight between the outermost strings, or the pickup's screws)
    gap_i   = lows_i + lift − faces_own(i)     (lift: from x = 0 to the row along strings that rise)

Of a build with several rows the poles of one of them move. The turn of the pickup by which one side comes up (some
degree) is left out of the fields: only gaps change.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings, side_names
from stringflux.geometry.case.rows import PoleRow
from stringflux.geometry.case.threads import Screw
from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import mm, shown, within

from .limits_bodies import least_gaps_over_other_rows, limits_of_build
from .limits_row import Bound, limits_of_bodies
from .moving_row import lift, moving_row

WAYS = ("tilt", "poles", "both")
MEASURES = ("output", "sensitivity")
STEP = 0.05e-3
"""What a setting is rounded to, m."""
TRAVEL, SIDE_TRAVEL, LEAST_GAP = 1.5e-3, 2e-3, 1.5e-3
LEAST_TRAVEL, MOST_TRAVEL = 0.05e-3, 10e-3
CLOSEST = 0.6e-3
"""The smallest gap that may be asked for, m: below, the strings' fields are not tabulated."""


@dataclass(frozen=True, kw_only=True)
class BalanceRequest:
    """What setting is looked for.

    Attributes
    ----------
    by : {"tilt", "poles", "both"}
    measure : {"output", "sensitivity", ""}
        At equal pluck, or at equal speed; "" is the first where the case has a `bridge_distance`, else the second.
    profile : tuple of float
        Wanted level of every string, dB; only differences count. Empty: all equal.
    travel, side_travel : float
        How far a pole, and a side of the pickup, may move either way, m.
    least_gap : float
        Underside of a string to the face of its pole, m. A string that is closer may stay, but come no closer.
    pull : float or None
        Largest shift of a fundamental by the magnets, either way, cent.
    keep_level : bool
        Whether the mean level of the strings is to stay too.
    row : str
        Name of the coil whose poles may move; "" for the first row.
    """

    by: str = "poles"
    measure: str = ""
    profile: tuple[float, ...] = ()
    travel: float = TRAVEL
    side_travel: float = SIDE_TRAVEL
    least_gap: float = LEAST_GAP
    pull: float | None = None
    keep_level: bool = False
    row: str = ""

    def __post_init__(self) -> None:
        for name, value, known in (("by", self.by, WAYS), ("measure", self.measure or MEASURES[0], MEASURES)):
            if value not in known:
                raise CaseError(f"{name}: received {shown(value)}; write {', '.join(known)}")
        if self.pull is not None and not 0.01 <= self.pull <= 100:
            raise CaseError(f"pull: received {self.pull:g}; write a number of cents from 0.01 to 100")
        for name, low in (("travel", LEAST_TRAVEL), ("side_travel", LEAST_TRAVEL), ("least_gap", CLOSEST)):
            if not within(value := getattr(self, name), low, MOST_TRAVEL):
                raise CaseError(f"{name}: received {mm(value)}; write a length from {mm(low)} to {mm(MOST_TRAVEL)}, "
                                "in m")

    def of_case(self, case: Case) -> BalanceRequest:
        """The same with its measure settled."""
        known = self.measure or MEASURES[0 if case.strings.bridge_distance is not None else 1]
        return replace(self, measure=known)


@dataclass(frozen=True, kw_only=True)
class Unknown:
    """One thing that can be set.

    Attributes
    ----------
    kind : {"side", "pole"}
    number : int
        Of the pole in its row; for a side that of the string there. From 1.
    name : str
        "pole 3", "bass side"; poles count on through the rows of a case.
    start : float
        What is read off now, m: the face's height over the top plate; for a side the gap of its outermost string,
        or 0 where the pole under it moves as well, or where a screw sets it.
    sign : int
        By which a movement towards the strings changes what is read off.
    travel : float
        Largest movement either way, m.
    screw : Screw, optional
        What it is set by, if the case gives its thread.
    """

    kind: str
    number: int
    name: str
    start: float
    sign: int
    travel: float
    screw: Screw | None = None

    @property
    def told_by_movement(self) -> bool:
        """Whether it is a side of which nothing is read off: the poles move as well, or its screw says it."""
        return self.kind == "side" and self.sign > 0

    @property
    def step(self) -> float:
        """To multiples of what it is set, m: of its reading, or of an eighth of a turn from where it stands."""
        return STEP if self.screw is None else self.screw.step

    def turns(self, movement: float) -> float | None:
        """Turns of its screw, positive clockwise; None where it has none."""
        return None if self.screw is None else self.screw.turns(movement)

    def reading(self, movement: float) -> float:
        """What is read off after a movement, m."""
        return self.start + self.sign * movement


@dataclass(frozen=True, kw_only=True, eq=False)
class SettingProblem:
    """Unknowns, geometry as a linear function of them, and limits.

    Attributes
    ----------
    unknowns : tuple of Unknown (k)
    faces, lows : arrays (p,), (n,)
        Faces of the row's poles and undersides of the strings above x = 0, m, as they are; of a build by tilt the
        face under each string, as if it stood at x = 0.
    face_map, low_map : arrays (p, k), (n, k)
        Their change with x.
    own : int array (n,)
        Pole of each string, from 0.
    nearness : array (n, k)
        What of a string's change a moved pole is to be blamed for, by their distance across; a side by how far it
        takes the string, and only for output: a string's curve over its gap is that of its sensitivity.
    wanted : array (n,)
        dB.
    limits : tuple of Limit
    request : BalanceRequest
    still : tuple of int
        Numbers of poles without a string, which stay.
    row : PoleRow, optional
        The row of the faces; none of a build by tilt.
    lift : float
        How much higher strings are over that row than above x = 0, m.
    fixed : bool
        Whether no pole can be moved: the case has no row of poles.
    solid : bool
        Whether every other height of a pole is another 3-D solution.
    """

    unknowns: tuple[Unknown, ...]
    faces: Array
    lows: Array
    face_map: Array
    low_map: Array
    own: Array
    nearness: Array
    wanted: Array
    limits: tuple[Bound, ...]
    request: BalanceRequest
    still: tuple[int, ...] = field(default=())
    row: PoleRow | None = None
    lift: float = 0.0
    fixed: bool = False
    solid: bool = False

    @property
    def gap_map(self) -> Array:
        """Change of the gaps with x, (n, k)."""
        return np.asarray(self.low_map - self.face_map[self.own])

    def faces_at(self, x: Array) -> Array:
        return np.asarray(self.faces + self.face_map @ x)

    def lows_at(self, x: Array) -> Array:
        return np.asarray(self.lows + self.low_map @ x)

    def gaps_at(self, x: Array) -> Array:
        return np.asarray(self.lows + self.lift - self.faces[self.own] + self.gap_map @ x)


def balance_problem(case: Case, request: BalanceRequest) -> SettingProblem:
    """Set up the problem of a case.

    Raises
    ------
    CaseError
        When there is nothing to balance, or the request does not fit the case.
    """
    n = len(case.string)
    if n < 2:
        raise CaseError("string: the case has one string, and a balance needs two or more to hold against each other")
    if request.profile and len(request.profile) != n:
        raise CaseError(f"--profile: received {len(request.profile)} levels for {n} strings; write one for each, "
                        'or "flat"')
    plain = case.is_plain_row
    row = moving_row(case, request.row) if plain or request.by != "tilt" else None
    strings = placed_strings(case)
    places, lows = np.array([s.y for s in strings]), np.array([s.underside for s in strings])
    if row is not None:
        faces, own = np.array(row.row.faces()), np.array([row.nearest(y) for y in places])
        gaps = np.array([s.gap_over(row.face_under(s.y)) for s in strings])
    else:  # what each string's gap counts from, as if it stood at x = 0
        gaps = np.array([s.gap for s in strings])
        faces, own = lows - gaps, np.arange(n)
    unknowns, face_map, low_map = _movements(case, request, row, places, faces, own, gaps)
    gap_map = low_map - face_map[own]
    limits = [
        Bound(row=-gap_map[i], most=float(gaps[i] - min(request.least_gap, gaps[i])),
              words=f"string {i + 1} is at the smallest gap, {mm(round(min(request.least_gap, float(gaps[i])), 8))}")
        for i in range(n)
    ]
    limits += limits_of_bodies(case, face_map, low_map) if plain else [
        *least_gaps_over_other_rows(case, row, request.least_gap, low_map),
        *limits_of_build(case, row, face_map, low_map)]
    moved = row if request.by != "tilt" else None
    still = () if moved is None else tuple(moved.before + j + 1 for j in range(len(faces)) if j not in own)
    return SettingProblem(unknowns=tuple(unknowns), faces=faces, lows=lows, face_map=face_map, low_map=low_map,
                          own=own, nearness=_nearness(row, unknowns, places, low_map * (request.measure == "output")),
                          wanted=np.array(request.profile or (0.0,) * n),
                          # a body that touches by the case's tolerance has no room, not less than none
                          limits=tuple(replace(k, most=max(k.most, 0.0)) for k in limits if np.any(k.row)),
                          request=request, still=still, row=row, lift=0.0 if row is None else lift(case, row),
                          fixed=not case.rows(), solid=moved is not None and not plain)


def _movements(case: Case, request: BalanceRequest, row: PoleRow | None, places: Array, faces: Array, own: Array,
               gaps: Array) -> tuple[list[Unknown], Array, Array]:
    """Unknowns, and how faces and undersides go with them."""
    unknowns, face_columns, low_columns = [], [], []
    if request.by in ("tilt", "both"):
        first, last = int(np.argmin(places)), int(np.argmax(places))
        screws = case.height_screws
        low, high = (places[first], places[last]) if screws is None else screws.places()
        share = (places - low) / (high - low)
        names = side_names(case)
        for i, name, part in ((first, names[0], 1 - share), (last, names[1], share)):
            alone = request.by == "tilt" and screws is None
            unknowns.append(Unknown(kind="side", number=i + 1, name=name, start=float(gaps[i]) if alone else 0.0,
                                    sign=-1 if alone else 1, travel=request.side_travel,
                                    screw=None if screws is None else screws.screw()))
            face_columns.append(np.zeros(len(faces)))
            low_columns.append(-part)
    if row is not None and request.by in ("poles", "both"):
        for j in sorted({int(p) for p in own}):
            unknowns.append(Unknown(kind="pole", number=j + 1, name=f"pole {row.before + j + 1}",
                                    start=float(faces[j]), sign=1, travel=request.travel, screw=row.screws()[j]))
            face_columns.append(np.eye(len(faces))[j])
            low_columns.append(np.zeros(len(own)))
    return unknowns, np.array(face_columns).T, np.array(low_columns).T


def _nearness(row: PoleRow | None, unknowns: Sequence[Unknown], places: Array, low_map: Array) -> Array:
    """Of poles by their distance across; of sides by how far they take a string, 0 where the curves tell all."""
    poles = np.array(row.row.places() if row is not None else ())
    pitch = float(np.min(np.diff(np.sort(poles)))) if poles.size > 1 else 1.0
    columns = [np.exp(-3 * np.abs(places - poles[u.number - 1]) / pitch) if u.kind == "pole" else -low_map[:, j]
               for j, u in enumerate(unknowns)]
    return np.array(columns).T


def read_profile(text: str, count: int) -> tuple[float, ...]:
    """ "flat", one level in dB for each string, or FROM:TO from the first string to the last.

    Examples
    --------
    >>> read_profile("0, 0, -1.5", 3), read_profile("0:1", 3), read_profile("flat", 3)
    ((0.0, 0.0, -1.5), (0.0, 0.5, 1.0), (0.0, 0.0, 0.0))
    """
    said = f"--profile: received {shown(text)}"
    if text.strip().lower() == "flat":
        return (0.0,) * count
    ends = text.split(":")
    levels = tuple(_level(t, said) for t in (ends if len(ends) == 2 else text.split(",")))
    if len(ends) == 2:
        return tuple(float(v) for v in np.linspace(levels[0], levels[1], count))
    if len(levels) != count:
        raise CaseError(f'{said}, {len(levels)} {"levels" if len(levels) > 1 else "level"} for {count} strings; '
                        'write one in dB for each, such as "0,0,0.5", or FROM:TO, or flat')
    return levels


def _level(text: str, said: str) -> float:
    word = text.strip().lower().removesuffix("db").replace("−", "-").strip()
    try:
        value = float(word) if len(word) < 20 and not set(word) - set("+-.0123456789") else np.nan
    except ValueError:
        value = np.nan
    if not abs(value) <= 20:
        raise CaseError(f'{said}; write levels in dB from -20 to 20, such as "0,0,0.5", or FROM:TO, or flat')
    return float(value)
