"""The force of magnets and direct currents on bodies of a case, from the static field in 3-D."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.case.keys import near
from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.kernel.overlaps import cuts_winding
from stringflux.geometry.kernel.touching import touching, way_off
from stringflux.geometry.shapes.bodies import SolidBody
from stringflux.geometry.units import mm, shown
from stringflux.solver.solid.doubt.force import doubt_force
from stringflux.solver.solid.force import Forces

from ..solved.abstract import SolvedCase, Stage, quiet
from ..solved.solid_inputs import solid_inputs
from ..solved.solve_build import solve_magnet_inputs
from ..solved.solve_row import one_thread
from ..solved.thin_gaps import RESOLVED
from ..solved.unmagnetised import UNMAGNETISED

STRONG = 20.0
"""From this force on a caution is due, N: common practice, no source."""

_FARTHEST = 50e-3  # m
_POLE = re.compile(r"(pole \d+), part \d+")


@dataclass(frozen=True, kw_only=True, eq=False)
class BodyForce:
    """The force of everything else in a pickup on some of its bodies; strings are not there.

    Attributes
    ----------
    bodies : tuple of str
        On which together.
    lifted : array (3,)
        How far they stand off what they touch in the case, m.
    off : tuple of str
        Off which bodies.
    force : array (3,)
        N; x along the strings, y across, z up.
    error : float
        How far `force` may be off because of the mesh, N.
    by : {"charges", "stress"}
        Which of the two ways it comes from, that with the smaller error: the bodies' magnetic charges in the field of
        all others, or in thin gaps Maxwell's stress in the air.
    other : array (3,)
        By the other way, N.
    """

    bodies: tuple[str, ...]
    lifted: Array
    off: tuple[str, ...]
    force: Array
    error: float
    by: str
    other: Array

    @property
    def size(self) -> float:
        """N."""
        return float(np.linalg.norm(self.force))

    @property
    def is_strong(self) -> bool:
        """Whether it takes care to hold."""
        return self.size >= STRONG


def force_of(solved: SolvedCase, names: Sequence[str], lift: float = 0.0, stage: Stage = quiet) -> BodyForce:
    """The force on the bodies of these names together, lifted off what they touch by `lift`, m.

    Raises
    ------
    CaseError
        Where there is no such body or magnet, or where the bodies touch others and are not lifted.
    SolveError
        Where the field does not settle.
    """
    case = solved.case
    if not case.is_magnetised:
        raise CaseError(f"force: {UNMAGNETISED}, so there is no force; give a part or a body a magnet's material and "
                        "a direction, or a coil a direct_current")
    bodies = case.magnetic_bodies()
    chosen = chosen_bodies(case, bodies, names)
    group, others = [b for b in bodies if b.name in chosen], [b for b in bodies if b.name not in chosen]
    if not others and not case.has_direct_current:
        raise CaseError(f"--body: {listed(told(group))}: nothing else in this case is magnetic, and nothing pulls "
                        "it")
    by, off = _lift(group, others, lift)
    _keeps_off_currents([b.moved(*by) for b in group], case)
    inputs = replace(solid_inputs(case, solved.quality, solved.materials, solved.numerics), history=solved.history)
    moved = replace(inputs, bodies=tuple(b.moved(*by) if b.name in chosen else b for b in inputs.bodies))
    magnets = solve_magnet_inputs(moved, stage, solved.keep)
    members = [i for i, b in enumerate(magnets.bodies) if b.name in chosen]
    with one_thread():
        stage("force")
        forces = Forces(magnets)
        found = forces.on(members)
        stage("error")
        doubt = doubt_force(magnets, forces, members, found)
    force, other = (found.charges, found.stress) if doubt.by == "charges" else (found.stress, found.charges)
    return BodyForce(bodies=told(group), lifted=np.array(by), off=off, force=force, error=doubt.error, by=doubt.by,
                     other=other)


def chosen_bodies(case: Case, bodies: Sequence[SolidBody], names: Sequence[str], *,
                  unpulled: str = "and a field that stands still does not pull it") -> set[str]:
    """The names of bodies that names mean: their own, or "pole 3" for all parts of a pole."""
    if not bodies:
        raise CaseError("--body: nothing in this case is magnetic; name a magnet or a body of steel of another case")
    own = [b.name for b in bodies]
    poles = list(dict.fromkeys(_POLE.sub(r"\1", n) for n in own if _POLE.fullmatch(n)))
    known = [*poles, *(n for n in own if not _POLE.fullmatch(n))]
    found: set[str] = set()
    for name in names:
        meant = {n for n in own if n == name or (name in poles and n.startswith(f"{name}, "))}
        if not meant and any(b.name == name for b in case.solid_bodies()):
            raise CaseError(f"--body: {shown(name)} is not magnetic, {unpulled}; "
                            "name a magnet or a body of steel")
        if not meant:
            raise CaseError(f"--body: received {shown(name)}{near(name, known)}; write {', '.join(known)}")
        found |= meant
    if not found:
        raise CaseError(f"--body: it is missing; write the name of a body: {', '.join(known)}")
    return found


def _lift(group: Sequence[SolidBody], others: Sequence[SolidBody],
          lift: float) -> tuple[tuple[float, float, float], tuple[str, ...]]:
    """How far the bodies are moved, m, and off which others."""
    touched = touching(group, others, RESOLVED * (1 - 1e-6))
    own, off = listed(told(group)), told([b for _, b in touched])
    if not touched:
        if lift:
            raise CaseError(f"--lift: {own} touches nothing magnetic, and there is nothing to lift it off; leave it "
                            "out")
        return (0.0, 0.0, 0.0), ()
    if not lift:
        raise CaseError(f"--body: {own} touches {listed(off)}, and the force between what touches is not told by the "
                        "field round it; write --lift 0.1mm for the pull across a gap of that width, or name with "
                        "another --body all that holds together")
    if not RESOLVED * (1 - 1e-6) <= lift <= _FARTHEST:
        raise CaseError(f"--lift: received {mm(lift)}; write {mm(RESOLVED)} to {mm(_FARTHEST)}")
    way = way_off(touched, RESOLVED)
    if way is None:
        raise CaseError(f"--lift: no straight way along x, y or z takes {own} off {listed(off)}; name with another "
                        "--body what comes off together")
    axis, sign = way
    by = [0.0, 0.0, 0.0]
    by[axis] = sign * lift
    hit = touching([b.moved(*by) for b in group], others, RESOLVED * (1 - 1e-6))
    if hit:
        raise CaseError(f"--lift: {mm(lift)} off {listed(off)}, {own} runs into {listed(told([b for _, b in hit]))}; "
                        "write less, or name that too with another --body")
    return (by[0], by[1], by[2]), off


def _keeps_off_currents(moved: Sequence[SolidBody], case: Case) -> None:
    for coil, name, track in zip(case.coils(), case.coil_names(), case.racetracks(), strict=True):
        if coil.direct_current and any(cuts_winding(b.form, track) for b in moved):
            raise CaseError(f"--lift: so lifted, {listed(told(moved))} runs into the winding of {name}, which has "
                            "a direct current; write less")


def told(bodies: Sequence[SolidBody]) -> tuple[str, ...]:
    """Their names, a pole's parts as one."""
    return tuple(dict.fromkeys(_POLE.sub(r"\1", b.name) for b in bodies))


def listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
