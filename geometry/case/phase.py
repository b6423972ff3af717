"""How two coils stand to each other: whether strings add, whether hum cancels, from senses, ends and magnets.

With w the sense of the winding (1 counter-clockwise from above), s = −1 for ends exchanged, p the upper ends in it ::

    hum of coil i ∝ w_i s_i,      string in coil i ∝ w_i s_i p_i

Two coils cancel hum where the first differ in sign, and are in phase where the second are alike.

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

from .model import Case
from .second_coils import CONNECTIONS
from .upper_ends import UpperEnd, upper_ends


@dataclass(frozen=True, kw_only=True)
class Pair:
    """Two coils that are connected.

    Attributes
    ----------
    names : (str, str)
    in_phase : bool or None
        Whether the strings' voltages add; None where poles of one coil differ, or none is a magnet.
    hum_cancels : bool
        Whether those of a uniform field oppose each other.
    shared : bool
        Whether both lie round the same poles.
    """

    names: tuple[str, str]
    in_phase: bool | None
    hum_cancels: bool
    shared: bool

    @property
    def sentence(self) -> str:
        """The same with a capital to begin with."""
        return self.words[0].upper() + self.words[1:]

    @property
    def words(self) -> str:
        """As a sentence."""
        strings = {True: "in phase (strings add)", False: "out of phase (strings subtract)",
                   None: "of no one phase (their poles differ)"}[self.in_phase]
        hum = "hum cancels" if self.hum_cancels else "hum adds"
        same = "; both hear through the same poles, the farther one less" if self.shared else ""
        return f"{self.names[0]} and {self.names[1]}: {strings}, {hum}{same}."


def ends_in_coils(case: Case) -> tuple[tuple[UpperEnd, ...], ...]:
    """For every coil the poles inside it, or where there are none the bodies through its middle."""
    ends, out = upper_ends(case), []
    for track in case.racetracks():
        inside = [e for e in ends if e.pole and track.goes_round(e.x, e.y)]
        bodies = [e for e in ends if not e.pole and e.sign and track.goes_round(e.x, e.y)]
        out.append(tuple(inside or bodies))
    return tuple(out)


def pairs(case: Case) -> tuple[Pair, ...]:
    """Every two of the connected coils."""
    names, how = case.coil_names(), case.connection
    if how.coils not in CONNECTIONS:
        return ()
    held, out = ends_in_coils(case), []
    turned = [t.sense * (-1 if name in how.reversed else 1)
              for t, name in zip(case.racetracks(), names, strict=True)]
    for i, j in combinations(range(len(names)), 2):
        signs = [{e.sign for e in held[k]} for k in (i, j)]
        known = all(len(s) == 1 and 0 not in s for s in signs)
        hum = turned[i] * turned[j]
        alike = hum * signs[0].pop() * signs[1].pop() > 0 if known else None
        if held[i] and held[i] == held[j]:
            alike = hum > 0  # the same poles, whatever their polarity
        out.append(Pair(names=(names[i], names[j]), in_phase=alike, hum_cancels=hum < 0,
                        shared=bool(held[i]) and held[i] == held[j]))
    return tuple(out)


COMPASS = ("Compass test, from above: over N up the needle's north end turns away from the pole, over S up it points "
           "to the pole.")
