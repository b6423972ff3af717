r"""How evenly the strings come out, in dB against the loudest.

e = S v at the pickup, so with the same place of plucking on every string (its shape along the string is
then the same and cancels)::

    by S:                         S
    equal pluck displacement d:   v ∝ 2π f d                      →  S f
    equal pluck force F:          d ∝ F L / T, T = μ (2 L f)²      →  S f L / T

(ideal string; T from the case's mass, length and pitch).

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from stringflux.geometry.arrays import Array

from .prediction import StringRecord


def decibels(values: Array) -> Array:
    """20 log10 of values (n,) against the largest; nan for those that are 0."""
    heard = values > 0
    return np.asarray(20 * np.log10(np.where(heard, values, np.nan) / np.max(values))) if np.any(heard) else (
        np.full(len(values), np.nan))


def with_balance(strings: Sequence[StringRecord], scales: Sequence[float],
                 models: Array) -> tuple[StringRecord, ...]:
    """Fill in the balance of every string.

    Parameters
    ----------
    strings : sequence of StringRecord (n)
    scales : sequence of float
        Sounding lengths, m.
    models : array (k, n)
        S of every string on each model of the string's steel; the balance is taken within each model.
    """
    S = np.array([s.sensitivity for s in strings])
    f = np.array([s.pitch for s in strings])
    force = S * f * np.asarray(scales) / np.array([s.tension for s in strings])
    by_model = np.stack([decibels(m) for m in models])
    low, high = by_model.min(axis=0), by_model.max(axis=0)
    columns = zip(strings, decibels(S), decibels(force), decibels(S * f), low, high, strict=True)
    return tuple(
        replace(s, balance=float(b), balance_force=float(bf), balance_displacement=float(bd),
                balance_band=(float(lo), float(hi)))
        for s, b, bf, bd, lo, hi in columns
    )
