r"""What readings do not determine, and why, in sentences.

With the Jacobian J in units of plausible half-widths (and of the readings' σ) a parameter k is determined if

    ‖J_k‖ ≥ 1       a change by its half-width moves all readings together by at least one σ
    (JᵀJ)⁻¹_kk ≤ 1  what stays open, everything else left free, is less than that half-width

A charge needs more, since the readings may answer to it below some value and not at all above: NEARLY and FULL
have to lie two σ apart where it is fitted in that region.

References
----------
Derived here.
"""

from __future__ import annotations

import numpy as np

from stringflux.geometry.arrays import Array

from .problem import Parameter, Problem

FULL, NEARLY = 1.0, 0.8
"""From NEARLY upwards a charge may not be told from a full one."""
_TELLS = 2.0  # σ in all between two charges that readings tell apart
_CLOSELY = 0.8  # correlation from which two parameters are said to trade


def faults(problem: Problem, x: Array, asked: int) -> list[tuple[int, str]]:
    """What of the asked parameters is not determined, the worst first, with sentences."""
    if asked == 0:
        return []
    parameters, out = problem.parameters, []
    J = problem.jacobian(x)
    n = len(problem.readings)
    for k, p in enumerate(parameters[:asked]):
        if p.name.startswith("charge") and p.start + x[k] * p.scale >= NEARLY - 0.02:
            moved = _between(problem, x, k)
            size = float(np.linalg.norm(J[:n, k]))
            if moved < _TELLS or size < 1.0:
                seen = (f"between {NEARLY:g} and {FULL:g} all readings together move by {moved:.1g} times their "
                        "uncertainty" if moved < _TELLS else
                        f"{_by(p)} there all readings together move by {size:.1g} times their uncertainty")
                out.append((np.inf, k, f"{p.words} above {NEARLY:g}: {seen}; a nearly full magnet shows its "
                            "coercivity and hardly its charge, so fit coercivity instead"))
    struck = {k for _, k, _ in out}
    for k, p in enumerate(parameters[:asked]):
        size = float(np.linalg.norm(J[:n, k]))
        if k not in struck and size < 1.0:
            out.append((1e9 / (size + 1e-9), k, f"{p.words}: {_by(p)} all readings together move by {size:.1g} times "
                        f"their uncertainty; {advice(p)}"))
            struck.add(k)
    keep = [k for k in range(len(parameters)) if k not in struck]
    covariance = covariance_of(J[:, keep])
    for i, k in enumerate(keep):
        spread = float(np.sqrt(covariance[i, i]))
        if k < asked and spread > 1.0:
            p, other = parameters[k], _partner(covariance, i)
            against = "" if other is None else f", as it trades against {parameters[keep[other]].words}"
            width = "any value would do" if spread > 20 else f"± {amount(p, spread)} stay open"
            out.append((spread, k, f"{p.words}: {width}{against}; {advice(p)}"))
    return [(k, sentence) for _, k, sentence in sorted(out, key=lambda item: -item[0])]


def _between(problem: Problem, x: Array, k: int) -> float:
    """How far apart a charge of NEARLY and a full one put the readings, σ."""
    p, ends = problem.parameters[k], []
    for charge in (NEARLY, FULL):
        at = x.copy()
        at[k] = (charge - p.start) / p.scale
        ends.append(problem.data(at))
    return float(np.linalg.norm(ends[1] - ends[0]))


def covariance_of(J: Array) -> Array:
    """(JᵀJ)⁻¹, huge where JᵀJ is singular."""
    w, V = np.linalg.eigh(J.T @ J)
    return np.asarray((V / np.maximum(w, 1e-12)) @ V.T)


def _partner(covariance: Array, i: int) -> int | None:
    """The parameter that goes with i the most, if it does so closely."""
    d = np.sqrt(np.diag(covariance))
    with_i = np.abs(covariance[i] / d[i] / d)
    with_i[i] = 0.0
    best = int(np.argmax(with_i))
    return best if with_i[best] > _CLOSELY else None


def _by(p: Parameter) -> str:
    return f"when it changes by {amount(p, 1.0)}"


def amount(p: Parameter, spread: float) -> str:
    """A change of a parameter by so many half-widths, in words."""
    if p.name == "probe" or p.name.startswith("gap"):
        return f"{spread * p.scale * 1e3:.2g} mm"
    if p.name == "turns":
        return f"{spread * p.scale:.0f} turns"
    if p.name == "capacitance":
        return f"{spread * p.scale * 1e12:.2g} pF"
    return f"{spread * p.scale:.2g}"


def advice(p: Parameter) -> str:
    """Which readings would help."""
    kind = p.name.split()[0]
    return {
        "coercivity": "add readings of the field over its poles, or smaller uncertainties",
        "charge": "add readings of the field over its poles, or keep it as it is",
        "turns": "add the inductance at a low frequency, or the resistance",
        "capacitance": "add the resonance with nothing connected and with a known capacitor",
        "gap": "add outputs of one string over a wider range of gaps",
        "probe": "add fields at several distances over one pole",
    }.get(kind, "add readings that depend on it")
