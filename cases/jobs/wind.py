"""Turns on one coil of several for a wanted resistance or inductance at the terminals, the others kept as they are.

With L_ij per turn², signed turns N and the coils' shares w (:mod:`stringflux.postprocess.coil.shares`) ::

    L(N) = wᵀ diag(N) L diag(N) w,      R = Σ R_i of those connected in series, 1/R = Σ 1/R_i in parallel

Only the turns of one coil change; what they are is where L or R comes to the wanted value, next to what the coil has.
Where a coil's turns take the space that they take, R goes by the length of its wire, and L_ij is solved anew at the
turns that were found, until they stay.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.coil import Coil
from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import shown
from stringflux.postprocess.coil.shares import connected, joined_resistance, static_weights
from stringflux.postprocess.coil.winding import Winding, turns_that_fit

MOST = 3.0
"""Turns are looked for up to so many times what the window could hold."""
ROUNDS, SETTLED = 6, 2e-4


@dataclass(frozen=True, kw_only=True, eq=False)
class WoundCoils:
    """The coils of a case: its connection, their windings, and L of one turn each with what they go round, H (k, k).

    `inductance` may be None where only resistances are asked for; coils in series and alone do without it.
    """

    case: Case
    windings: tuple[Winding, ...]
    inductance: Array | None = None

    @property
    def connected(self) -> tuple[str, ...]:
        """Names of the coils that count."""
        names = self.case.coil_names()
        return tuple(name for name, there in zip(names, connected(self.case.connection.coils, names), strict=True)
                     if there)

    def coil(self, name: str | None) -> int:
        """Index of the coil whose turns are asked for.

        Raises
        ------
        CaseError
            If there is none of that name, if it is not connected, or if several could be meant.
        """
        names = self.case.coil_names()
        if name is None:
            if len(self.connected) == 1:
                return names.index(self.connected[0])
            raise CaseError(f"--for: this case has the coils {', '.join(names)}; add --coil and the name of the one "
                            "whose turns may change")
        if name not in names:
            raise CaseError(f"--coil: received {shown(name)}; write {' or '.join(names)}")
        return names.index(name)

    def resistance(self, at: int, turns: float) -> float:
        """At the terminals, with `turns` on coil `at`, Ω."""
        R = np.array([w.resistance for w in self.windings])
        R[at] *= wire_ratio(self.case.coils()[at], turns)
        how = self.case.connection.coils
        return joined_resistance(R[connected(how, self.case.coil_names())], how == "parallel")

    def inductance_with(self, at: int, turns: float) -> float:
        """At the terminals, with `turns` on coil `at`, H."""
        assert self.inductance is not None
        tracks = self.case.racetracks()
        signed = np.array([c.turns * c.sense for c in tracks])
        signed[at] = turns * tracks[at].sense
        L = self.inductance * np.outer(signed, signed)
        w = static_weights(self.case.connection.coils, self.case.connection.reversed, self.case.coil_names(), L)
        return float(w @ L @ w)

    def turns_for(self, kind: str, value: float, at: int) -> float:
        """Turns on coil `at` for a "resistance" in Ω or an "inductance" in H at the terminals.

        Raises
        ------
        CaseError
            Where no number of turns would do.
        """
        name = self.case.coil_names()[at]
        if name not in self.connected:
            raise CaseError(f"--coil: received {shown(name)}, which is not connected in this case; name "
                            f"{' or '.join(self.connected)}, or change connection.coils")
        reach: Callable[[int, float], float] = self.resistance if kind == "resistance" else self.inductance_with
        has, most = self.case.coils()[at].turns, MOST * turns_that_fit(self.windings[at])
        turns = np.geomspace(1.0, max(most, 2 * has), 200)
        off = np.array([reach(at, n) for n in turns]) - value
        at_roots = np.flatnonzero(np.sign(off[:-1]) != np.sign(off[1:]))
        if not at_roots.size:
            unit, size = ("kΩ", 1e-3) if kind == "resistance" else ("H", 1.0)
            low, high = (f"{size * (float(x) + value):.4g}" for x in (off.min(), off.max()))
            raise CaseError(f"--for: received {size * value:.4g} {unit}, which no number of turns on {name} gives: "
                            f"all else as it is, up to {turns[-1]:.0f} turns make {low} to {high} {unit}; change "
                            "another coil as well")
        from scipy.optimize import brentq  # it takes longer to load than all that is printed without it

        roots = [float(brentq(lambda n: reach(at, n) - value, turns[i], turns[i + 1])) for i in at_roots]
        return min(roots, key=lambda n: abs(np.log(n / has)))


def wire_ratio(coil: Coil, turns: float) -> float:
    """Wire of the coil wound to other turns over what it has."""
    return turns * coil.of_turns(turns).mean_turn / (coil.turns * coil.mean_turn)


def case_of_turns(case: Case, at: int, turns: float) -> Case:
    """The case with other turns on coil `at`; whether they fit is not looked at."""
    if at == 0:
        return case.model_copy(update={"coil": case.coil.of_turns(turns)})
    others = list(case.second_coil)
    one = others[at - 1]
    others[at - 1] = one.model_copy(update={"coil": one.coil.of_turns(turns)})
    return case.model_copy(update={"second_coil": tuple(others)})


def case_wound_on(case: Case, share: float, *, whole: bool = False) -> Case:
    """The case with that share of its turns on every coil, `whole` numbers if asked; they need not fit."""
    for at, coil in enumerate(case.coils()):
        turns = coil.turns * share
        case = case_of_turns(case, at, max(round(turns), 1) if whole else turns)
    return case


def settled_turns(coils: WoundCoils, wanted: float, at: int, quality: str,
                  progress: Callable[[str], None] = lambda stage: None) -> float:
    """Turns on coil `at` for an inductance in H, its winding as thick as they make it.

    Raises
    ------
    CaseError
        Where no number of turns would do.
    """
    turns = coils.turns_for("inductance", wanted, at)
    if not coils.case.coils()[at].moves_with_turns:
        return turns
    for _ in range(ROUNDS):
        if turns > turns_that_fit(coils.windings[at]):
            break
        anew = solved_coils(case_of_turns(coils.case, at, turns), coils.windings, quality, progress)
        held, turns = turns, anew.turns_for("inductance", wanted, at)
        if abs(turns - held) < SETTLED * turns:
            break
    return turns


def solved_coils(case: Case, windings: Sequence[Winding], quality: str,
                 progress: Callable[[str], None] = lambda stage: None) -> WoundCoils:
    """The coils with their inductances, from the solution of the case."""
    from ..solved.solve import solved_case

    return WoundCoils(case=case, windings=tuple(windings), inductance=solved_case(case, quality).per_turn(progress))
