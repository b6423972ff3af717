"""What a balance came to, in sentences: how even it is, what remains, and why."""

from __future__ import annotations

import numpy as np

from stringflux.geometry.units import mm

from .moving_row import screws_that_stay
from .problem import STEP
from .result import EVEN, Balanced
from .search import PULL_PRECISION, hard_limits

COSTLY = 0.5
"""A string that loses less than this is not told as paying, dB."""
GAIN = EVEN
"""A limit without which strings would be nearer by less costs nothing, dB: what the model tells beyond a limit came
out within 0.1 dB where it was computed (baritone-six, poles within 0.3 mm)."""


def sentences(found: Balanced) -> list[str]:
    """What to say about a balance, most important first."""
    return [_result(found), *_remains(found), *_pulls(found), *_level(found), *_cost(found), *_moves(found)]


def how_read(found: Balanced) -> str:
    """How a setting is read off, as sentences."""
    screws = ways(found)
    if found.problem.request.by == "tilt":
        return " ".join(["A side is told by how far it moves at its screw." if screws else
                         "A side is read as the gap of its outermost string.",
                         "The whole pickup goes with it, coil and poles.", *screws])
    sides = " A side is told by how far it moves, with coil and poles." if found.problem.request.by == "both" else ""
    gap = ", leaving a gap at what it stood on" if found.problem.solid else ""
    return ("A pole is read as the height of its face over the top plate. It moves with all its parts"
            f"{gap}, and the strings stay.{sides}{''.join(f' {w}' for w in screws)}")


def ways(found: Balanced) -> list[str]:
    """Which way screws go, where the case gives their thread."""
    out = []
    for kind, what in (("pole", "a pole"), ("side", "a side of the pickup")):
        clockwise = [u.screw.clockwise for u in found.unknowns if u.kind == kind and u.screw is not None]
        if clockwise:
            way = "up, to the strings" if clockwise[0] > 0 else "down, from the strings"
            out.append(f"Clockwise, seen from the strings, takes {what} {way}.")
    if out:
        out.append("Turns count from where it stands, in eighths.")
    return out


def bounds(found: Balanced) -> list[str]:
    """In which limits the setting was looked for."""
    request = found.problem.request
    parts = []
    if request.by != "tilt":
        parts.append(f"poles {mm(request.travel)} either way")
    if request.by != "poles":
        parts.append(f"sides {mm(request.side_travel)} either way")
    gaps, least = found.gaps[0], request.least_gap
    closer = [str(i + 1) for i in np.flatnonzero(gaps < least - 1e-9)]
    parts.append(f"gaps at least {mm(least)}"
                 + (f" (string{_s(closer)} {_and(closer)} no less than now)" if closer else ""))
    parts.append("any pull" if request.pull is None else f"pull at most {request.pull:g} cent")
    measured = [] if found.case.strings.bridge_distance is not None else [
        "Measured at equal speed (sensitivity): equal pluck needs bridge_distance under [strings]."]
    return [f"Looked for within: {', '.join(parts)}.", *measured]


def _result(found: Balanced) -> str:
    before, after = np.max(np.abs(found.off_before)), np.max(np.abs(found.off_after))
    if not found.changes:
        return f"No setting is better than the present one: strings are up to {before:.2f} dB off what is wanted."
    price = ", the price of the limit of pull" if found.problem.request.pull is not None and after > before else ""
    return (f"Strings were up to {before:.2f} dB off what is wanted; at the setting below they are up to "
            f"{after:.2f} dB off{price}.")


def _remains(found: Balanced) -> list[str]:
    off, request = found.off_after, found.problem.request
    left = np.flatnonzero(np.abs(off) > EVEN)
    if left.size == 0:
        return []
    worst = sorted(left, key=lambda i: -abs(off[i]))
    strings = _and([f"string {i + 1} {abs(off[i]):.1f} dB too {'strong' if off[i] > 0 else 'weak'}" for i in worst])
    out = [f"What remains: {strings}."]
    if found.binding:
        out += _limited(found)
    elif request.by == "tilt" and len(off) > 2:
        can = "" if found.problem.fixed else "; --by poles or --by both can"
        out.append(f"Two sides cannot even out {len(off)} strings any more{can}.")
    elif np.max(np.abs(found.movement - found.unrounded)) > 1e-9:
        to = [mm(STEP)] if any(u.screw is None for u in found.unknowns) else []
        to += ["eighths of a turn"] if any(u.screw is not None for u in found.unknowns) else []
        out.append(f"That is what rounding to {_and(to)} costs.")
    if request.by != "tilt" and len(set(found.problem.own.tolist())) < len(off):
        out.append("Strings over one pole go up and down together.")
    return out


def _limited(found: Balanced) -> list[str]:
    """Each limit that binds, and how near strings would come without it; then without any; what the level costs."""
    cost, out, after = found.cost, [], float(np.max(np.abs(found.off_after)))
    for limit, without in zip(found.binding, cost.each, strict=True):
        gain = ""
        if cost.off - without > GAIN:
            gain = f"; without that {_about(without)} off instead of {after:.1f}"
        elif not np.isnan(without):
            gain = "; without that alone hardly nearer"
        out.append(f"Limited because {limit.words}{gain}.")
    if len(found.binding) > 1 and cost.off - cost.none > GAIN:
        out.append(f"Without all of these limits {_about(cost.none)} off.")
    if cost.level is not None and cost.off - cost.level > GAIN:
        out.append(f"If the mean level need not stay, {_about(cost.level)} off.")
    return out


def _about(off: float) -> str:
    """No finer than the model is beyond a limit."""
    return f"about {off:.1f} dB" if off > EVEN else f"under {EVEN:g} dB"


def _pulls(found: Balanced) -> list[str]:
    pull, limit = found.after.pull, found.problem.request.pull
    if pull is None or limit is None:
        return []
    over = np.flatnonzero(pull > limit * (1 + PULL_PRECISION))
    if over.size == 0:
        return []
    touched = [k for k in hard_limits(found.problem) if k.most - k.row @ found.movement < STEP]
    out = []
    for i in over:
        wider = found.problem.gap_map[i]
        why = [k.words for k in touched if k.row @ wider > 1e-9]
        out.append(f"The pull on string {i + 1} stays at {pull[i]:.2f} cent, over the {limit:g} asked for"
                   + (f": {_and(why)}." if why else "."))
    return out


def _level(found: Balanced) -> list[str]:
    if abs(found.louder) < 0.05 or not found.changes:
        return []
    return [f"All strings together come out {abs(found.louder):.1f} dB "
            f"{'stronger' if found.louder > 0 else 'weaker'} than before."]


def _cost(found: Balanced) -> list[str]:
    """What the setting takes from the string that loses most, beside the others."""
    if not found.changes:
        return []
    lost = found.before.level - found.after.level
    i = int(np.argmax(lost))
    if lost[i] < COSTLY:
        return []
    before, after = (f"{1e3 * gaps[i]:.2f}" for gaps in found.gaps)
    return [f"That costs string {i + 1} most, {lost[i]:.1f} dB of its level; its gap goes from {before} to "
            f"{after} mm."]


def _moves(found: Balanced) -> list[str]:
    out = []
    if found.problem.still:
        numbers = [str(n) for n in found.problem.still]
        out.append(f"Pole{_s(numbers)} {_and(numbers)} ha{'ve' if len(numbers) > 1 else 's'} no string and "
                   f"stay{'' if len(numbers) > 1 else 's'}.")
    if found.problem.request.by != "tilt" and (screws := screws_that_stay(found.case)):
        out.append(f"{screws}.")
    return out


def _s(words: list[str]) -> str:
    return "s" if len(words) > 1 else ""


def _and(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
