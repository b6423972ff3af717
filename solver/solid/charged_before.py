r"""Magnets that were charged one by one and then put together: each remembers what it went through alone.

Alone in air a magnet comes down to the induction b₀ along its easy axis, point by point; where the build lets b rise
again, it does so on the recoil line

    h = h(b₀) + (b − b₀)/(μ0 μ_rec)     until that meets the curve again,

and where the build demagnetises it further it goes on down the curve (Parker & Studders). A pole is charged with
all its parts, as :mod:`.row.coupling` has it, any other body by itself.

References
----------
Recoil lines: R. J. Parker, R. J. Studders, *Permanent Magnets and Their Application*, Wiley 1962 (memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.bodies import SolidBody

from ..constants import MU0
from ..materials.b_of_h import EasyCurve, MagnetLaw, solid_law
from ..materials.kinds import BodyMaterial
from .bias import TOLERANCE, Law, solve_static
from .halves import charged_together
from .space import SolidSpace


@dataclass(frozen=True, kw_only=True, eq=False)
class Recoil:
    """b(h) of points that have been as low as `b`, T, at `h`, A/m; `slope` μ0 μ_rec."""

    curve: EasyCurve
    b: Array
    h: Array
    slope: float

    def __call__(self, h: Array) -> tuple[Array, Array]:
        """b in T and db/dh in H/m."""
        found, slope = self.curve(h)
        line = self.b + self.slope * (h - self.h)
        on_line = (h > self.h) & (line < found)
        return np.where(on_line, line, found), np.where(on_line, self.slope, slope)

    def field(self, b: Array) -> tuple[Array, Array]:
        """h in A/m and dh/db in m/H."""
        found, slope = self.curve.field(b)
        line = self.h + (b - self.b) / self.slope
        on_line = (b > self.b) & (line > found)
        return np.where(on_line, line, found), np.where(on_line, 1.0 / self.slope, slope)


def laws_of(space: SolidSpace, bodies: Sequence[SolidBody], materials: Sequence[BodyMaterial], history: str,
            odd: tuple[int, ...], *, tolerance: float = TOLERANCE,
            progress: Callable[[str], None] = lambda stage: None) -> list[Law]:
    """B(H) of every body of a space, with what its magnets went through.

    Parameters
    ----------
    materials : sequence
        Of each body.
    history : {"before", "after"}
        Whether the magnets were charged before or after assembly.
    odd : tuple of int
        Planes about which the potential is odd; with "before" every group has to be its own image in the space's
        planes (:func:`.halves.halving`).
    """
    laws: list[Law] = [solid_law(b, m) for b, m in zip(bodies, materials, strict=True)]
    if history == "after":
        return laws
    alone = list(laws)
    groups = charged_together(bodies, materials)
    for k, group in enumerate(groups, start=1):
        progress(f"magnet {k} of {len(groups)} alone")
        only = [laws[i] if i in group else _air for i in range(len(bodies))]
        state = solve_static(space, only, odd=odd, tolerance=tolerance)
        for i in group:
            law = laws[i]
            if isinstance(law, MagnetLaw):
                lowest = np.tensordot(law.axis, state.b[i], 1), np.tensordot(law.axis, state.h[i], 1)
                alone[i] = replace(law, easy=Recoil(curve=law.easy, b=lowest[0], h=lowest[1],
                                                    slope=MU0 * law.mu_recoil))
    return alone


def _air(h: Array) -> tuple[Array, Array]:
    one = np.eye(3).reshape(3, 3, *(1,) * (h.ndim - 1))
    return MU0 * h, MU0 * np.broadcast_to(one, (3, *h.shape))
