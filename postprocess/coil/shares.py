r"""What share each coil of a pickup has in its terminals' current, and so in its voltage.

    series      w_i = s_i,               s_i = −1 for a coil with its ends exchanged
    one alone   w_i = s_i for that one, 0 for the others
    parallel    w = S (S L S)⁻¹ 1 / (1ᵀ (S L S)⁻¹ 1),     S = diag(s)

The last is for frequencies where ωL is well over R (a few hundred Hz and more): coils in parallel have one voltage,
so their currents share out by the inverse of the inductance matrix L. By reciprocity the open-circuit voltage is then
Σ w_i e_i, b is Σ w_i b_i and the inductance wᵀ L w, in every connection.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from stringflux.geometry.arrays import Array


def static_weights(how: str, turned: Sequence[str], names: Sequence[str], inductance: Array) -> Array:
    """Shares of the coils (k,).

    Parameters
    ----------
    how : str
        "series", "parallel", or the name of the only coil that is connected.
    turned : sequence of str
        Names of coils with their ends exchanged.
    names : sequence of str
        Of all coils.
    inductance : array (k, k)
        Of the coils as they are wound, H.

    Examples
    --------
    >>> two = np.array([[2.0, 0.5], [0.5, 2.0]])
    >>> static_weights("series", ("b",), ("a", "b"), two)
    array([ 1., -1.])
    >>> static_weights("parallel", (), ("a", "b"), two)
    array([0.5, 0.5])
    """
    signs = np.array([-1.0 if name in turned else 1.0 for name in names])
    if how == "series":
        return signs
    if how == "parallel":
        shares = np.linalg.solve(inductance * np.outer(signs, signs), np.ones(len(names)))
        return np.asarray(signs * shares / shares.sum())
    return np.where(connected(how, names), signs, 0.0)


def connected(how: str, names: Sequence[str]) -> Array:
    """Which coils count (k,), bool; one alone leaves the others with open ends."""
    return np.array([how in ("series", "parallel", name) for name in names])


def joined_resistance(each: Array, parallel: bool) -> float:
    """R of connected coils at direct current, Ω: Σ R_i in series, 1/Σ(1/R_i) in parallel."""
    return float(1 / np.sum(1 / each) if parallel else np.sum(each))
