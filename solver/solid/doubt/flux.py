r"""How far a flux is off because of the mesh.

A flux is J = ∫ B·g dV over the bodies (or of B − μ0 H in place of B): see :mod:`.weighted`. z is the answer to a
search coil of one ampere turn there.
"""

from __future__ import annotations

from collections.abc import Sequence

from ...materials.b_of_h import SoftLaw
from ..bias import gradients_in
from ..flux import FluxFound, rise_across, weighed, wide_rise
from ..solve import SolvedMagnets
from .weighted import MeshDoubt

FAR = 1e-4  # of the flux: φ = 0 on the far boundary; measured 0.3 to 0.8e-4 round magnets at fine
_BY_WIDTH = 1 / 3  # of what twice the width changes: twice as far is three times as far off again
_SAME_PLACE = 1e-6  # m, of two middles
_AT_END = 50e-6  # m
_SPARE = 1.2  # flux is no parabola: 1.0 to 1.1 of it was found in blocks


def doubt_within(solved: SolvedMagnets, members: Sequence[int], axis: int, at: float) -> float:
    """How far :func:`~..flux.flux_within` may be off, Wb, as a mean over sections beside the one at the place too.

    That is off as the square of how far they reach, so three times as far in twice the width; at the end of a body,
    where all lie on one side, by how far their middle does.

    Raises
    ------
    SolveError
        Where the answer does not settle.
    """
    rise, wide = (way(solved, members, axis, at) for way in (rise_across, wide_rise))
    if not rise.area:
        return 0.0
    flux = weighed(solved, rise.weights)
    apart = abs(wide.middle - rise.middle)
    share = max(_BY_WIDTH, abs(rise.middle - at) / apart if apart > _SAME_PLACE else 0.0)
    beside = _SPARE * share * abs(weighed(solved, wide.weights) * rise.area / wide.area - flux)
    flat = 0.0 if apart > _AT_END else abs(wide.area / rise.area - 1)  # a round body's elements may be straightened
    return MeshDoubt(solved).of(rise.weights) + beside + (flat + FAR) * abs(flux)


def doubt_through(solved: SolvedMagnets, found: FluxFound) -> float:
    """How far a flux through a rim may be off, Wb.

    Raises
    ------
    SolveError
        Where the answer does not settle.
    """
    weights = gradients_in(solved.space, found.weights, [isinstance(law, SoftLaw) for law in solved.laws])
    return MeshDoubt(solved).of(weights, of_moments=True) + FAR * abs(found.flux)
