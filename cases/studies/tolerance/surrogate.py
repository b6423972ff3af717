"""A fast stand-in for the program over small deviations, made from designed runs.

For every response y_k > 0 (S and output of each string, field over each pole, R, L)::

    ln y_k(t) = ln y_k(0) + Σ_j (a_kj t_j + b_kj t_j²)

with t_j the deviation of part j over its limit. a and b come from two runs for each j. Nothing is left out but
products of two deviations in ln y; figures that are no smooth function of t, as the balance is (loudest over
quietest), are made of the y_k afterwards. How good it is, is measured: see :mod:`.study`.

Which parts one pair of runs moves together, and what then answers for which: :mod:`.groups`.

The output of a pluck takes a map of the string's linkage, in a row of poles three times the work of all else. So
there it is computed in the runs of one cause of each family (gaps and heights; magnets; places). The others of the
family move ln output by the same multiple of what they do to ln S of that string; turns by as much. In a build, whose
3-D solutions take longer than plucks, every run has it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError

from ..designs.outputs import figure_of
from .causes import Causes

NODES, NODES_BELOW = (-0.8, 0.8), (-0.5, -1.0)
"""Deviations over the limit of the two runs: most parts lie between, the quadratic goes a little beyond."""
_FAMILIES = (
    ("position", "position_each"),
    ("gap", "gap_each", "height"),
    ("coercivity", "remanence", "charge", "coercivity_each", "remanence_each", "charge_each"),
    ("pinning", "pinning_each"),
)
_SINGLE = re.compile(r"(string|pole)_([0-9]+)_.+")


@dataclass(frozen=True, kw_only=True, eq=False)
class Run:
    """A designed run.

    Attributes
    ----------
    t : array
        Deviations (size,).
    value : float
        The one that is not 0.
    columns : tuple of int
        Where it stands.
    """

    t: Array
    value: float
    columns: tuple[int, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class Surrogate:
    """ln y of all responses as a sum of squares of deviations.

    Attributes
    ----------
    names : tuple of str
        Of the responses.
    base : array
        ln y(0), (responses,).
    slope, bend : array
        a and b, (size, responses).
    """

    names: tuple[str, ...]
    base: Array
    slope: Array
    bend: Array

    def responses(self, t: Array) -> Array:
        """y (n, responses) at deviations t (n, size)."""
        return np.asarray(np.exp(self.base + t @ self.slope + t**2 @ self.bend))


def designed_runs(causes: Causes) -> list[Run]:
    """What to compute besides the case as it stands: two runs for each group that has its own."""
    below = [cause.one_sided for cause in causes.active for _ in cause.items]
    runs = []
    for group in causes.groups:
        if group.like is not None:
            continue
        for value in NODES_BELOW if below[group.columns[0]] else NODES:
            t = np.zeros(causes.size)
            t[list(group.columns)] = value
            runs.append(Run(t=t, value=value, columns=group.columns))
    return runs


def plucked_causes(causes: Causes) -> tuple[str, ...]:
    """Names of the causes whose runs have the output too: the first of each family, in a build all."""
    active = [c.name for c in causes.active]
    if causes.build:
        return tuple(active)
    first = [next((name for name in family if name in active), "") for family in _FAMILIES]
    return tuple(name for name in first if name)


def response_names(columns: Sequence[str]) -> tuple[str, ...]:
    """The responses among the columns of an outcome."""
    wanted = ("sensitivity", "output", "face_field")
    return tuple(c for c in columns if c in ("resistance", "inductance") or (
        (m := _SINGLE.fullmatch(c)) and c.removeprefix(f"{m[1]}_{m[2]}_") in wanted))


def responses_of(values: Mapping[str, float], names: Sequence[str]) -> Array:
    """The responses of an outcome, moduli, (responses,).

    Raises
    ------
    CaseError
        If one is 0, so that it has no relative scatter.
    """
    found = np.array([abs(values[name]) for name in names])
    for name, value in zip(names, found, strict=True):
        if not (value > 0 and np.isfinite(value)):
            raise CaseError(
                f"{figure_of(name).title}: it is {value:g} in the case as it stands, so nothing can be said about "
                "its scatter; mend the case first"
            )
    return found


def fitted(causes: Causes, runs: Sequence[Run], names: Sequence[str], base: Array,
           found: Sequence[Mapping[str, float]]) -> Surrogate:
    """The surrogate of designed runs.

    Parameters
    ----------
    causes : Causes
    runs : sequence of Run
        From :func:`designed_runs`, which pairs them.
    names : sequence of str
        Of the responses.
    base : array
        Responses of the case as it stands, (responses,).
    found : sequence of mapping of str to float
        Values of the runs; outputs only where :func:`plucked_causes` has them.
    """
    slope, bend = np.zeros((2, causes.size, len(names)))
    item = {column: key for key, column in causes.places().items()}
    shares = {group.columns: group.shares(names) for group in causes.groups}
    plucked = plucked_causes(causes)
    for first, second, v1, v2 in zip(runs[::2], runs[1::2], found[::2], found[1::2], strict=True):
        here = [k for k, name in enumerate(names) if "_output" not in name or item[first.columns[0]][0] in plucked]
        t1, t2 = first.value, second.value
        d1, d2 = (np.log(responses_of(v, [names[k] for k in here]) / base[here]) / t for v, t in ((v1, t1), (v2, t2)))
        b = (d2 - d1) / (t2 - t1)
        a = d1 - b * t1
        mine = shares[first.columns][:, here]
        slope[np.ix_(first.columns, here)], bend[np.ix_(first.columns, here)] = mine * a, mine * b
    for k, name in enumerate(names):
        if "_output" in name:
            source = names.index(name.replace("_output", "_sensitivity"))
            many = _multiples(causes, plucked, slope[:, k], slope[:, source])
            own = [item[c][0] in plucked for c in range(causes.size)]
            slope[:, k] = np.where(own, slope[:, k], many * slope[:, source])
            bend[:, k] = np.where(own, bend[:, k], many * bend[:, source])
    limits = causes.limits()
    for group in causes.groups:
        if group.like is not None:  # the runs of another cause, over another limit
            columns, ratio = list(group.columns), limits[list(group.columns)][:, None] / limits[group.like]
            slope[columns] = shares[group.columns] * ratio * slope[group.like]
            bend[columns] = shares[group.columns] * ratio**2 * bend[group.like]
    return Surrogate(names=tuple(names), base=np.log(base), slope=slope, bend=bend)


def _multiples(causes: Causes, plucked: Sequence[str], output: Array, sensitivity: Array) -> Array:
    """∂ ln output over ∂ ln S of one string for every column, (size,); 1 where the family has no run with both."""
    where, many = causes.columns(), np.ones(causes.size)
    for family in _FAMILIES:
        for name in set(family) & set(plucked):
            strongest = max(where[name], key=lambda c: abs(sensitivity[c]))
            if sensitivity[strongest] != 0:
                for other in set(family) & set(where):
                    many[where[other]] = output[strongest] / sensitivity[strongest]
    return many


def quantities_of(names: Sequence[str], y: Array) -> dict[str, Array]:
    """What a study reports, each (n,), from responses y (n, responses); SI, by the names of the study's figures."""
    out: dict[str, Array] = {}
    for base, balance, per in (("output", "output_balance", "string"), ("sensitivity", "balance", "string"),
                               ("face_field", "", "pole")):
        columns = [i for i, name in enumerate(names) if name.startswith(f"{per}_") and name.endswith(f"_{base}")]
        if not columns:
            continue
        part = y[:, columns]
        out[base] = part.mean(axis=1)
        if balance and len(columns) > 1:
            out[balance] = 20 * np.log10(part.max(axis=1) / part.min(axis=1))
    out |= {name: y[:, i] for i, name in enumerate(names) if name in ("resistance", "inductance")}
    out |= {name: y[:, i] for i, name in enumerate(names) if name.endswith("_sensitivity")}
    return out
