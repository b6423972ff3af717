r"""A permanent magnet along its easy axis: H(B) with partial charge and history.

The state lies on the major curve or on a recoil line of slope μ0 μrec inside it. At a given H the B is
the smaller of the two, so at a given B the H is the larger::

    H = max(H_major(B), (B − c Br)/(μ0 μrec), H(B_low) + (B − B_low)/(μ0 μrec))

c is the charge: a magnet charged to c < 1 rests at c Br without a field and follows the recoil line from
there down to the major curve. B_low is the lowest B the point has been at. Across the easy axis
H = B/(μ0 μ_⊥).

A recoil line is the chord of a loop over some 0.1 T. A signal of microteslas moves no wall: it meets the reversible
permeability, which is less.

References
----------
Recoil lines: R. J. Parker, R. J. Studders, *Permanent Magnets and Their Application*, Wiley 1962 (memory). The larger
of three: derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError

from ..constants import MU0
from ._continuation import go_on
from .demagnetisation import Demagnetisation, Points, Straight
from .thermal import UNSAID, Thermal

_SLACK = 0.01  # tables are rounded: dB/dH may fall short of μ0 by this much of μ0


@dataclass(frozen=True, kw_only=True)
class MagnetCurve:
    """Permanent magnet material.

    Attributes
    ----------
    name : str
    remanence : float
        Br, T.
    coercivity : float
        Hc where B = 0, A/m, positive.
    mu_recoil : float
        Relative recoil permeability, at least 1.
    mu_recoil_range : (float, float)
        What mu_recoil may be.
    mu_reversible : float, optional
        What a small signal meets along the easy axis, relative; that of the recoil line when not given.
    mu_reversible_range : (float, float), optional
        What that may be.
    mu_transverse : float
        Relative permeability across the easy axis, of bias and signals.
    mu_transverse_range : (float, float)
        What mu_transverse may be.
    law : Demagnetisation
        Shape of the major curve.
    resistivity : float
        Ω·m; infinite for an insulator.
    thermal : Thermal
        How it changes with temperature.
    source : str
        Where the numbers come from.

    Raises
    ------
    CaseError
        If Br or Hc is not positive, a permeability below 1, or the major curve does not rise.
    """

    name: str
    remanence: float
    coercivity: float
    mu_recoil: float
    law: Demagnetisation
    mu_recoil_range: tuple[float, float] = (1.0, 1.0)
    mu_reversible: float | None = None
    mu_reversible_range: tuple[float, float] | None = None
    mu_transverse: float = 1.0
    mu_transverse_range: tuple[float, float] = (1.0, 1.0)
    resistivity: float = float("inf")
    thermal: Thermal = UNSAID
    source: str = ""

    def __post_init__(self) -> None:
        for value, what in ((self.remanence, "remanence"), (self.coercivity, "coercivity")):
            if not 0.0 < value < float("inf"):
                raise CaseError(f"material {self.name!r}: {what}: must be positive, got {value:g}")
        for value, what in (
            (self.mu_recoil, "recoil permeability"),
            (self.mu_signal, "reversible permeability"),
            (self.mu_transverse, "transverse permeability"),
        ):
            if not 1.0 <= value < float("inf"):
                raise CaseError(f"material {self.name!r}: {what}: must be at least 1, got {value:g}")
        check_magnet(self)

    def major(self, b: npt.ArrayLike) -> tuple[Array, Array]:
        """H in A/m and dH/dB in m/H on the major curve, for every real B in T."""
        b = np.asarray(b, dtype=float)
        low, Br = self.law.lowest, self.remanence
        (h_low, s_low), s_top = self._ends
        s_far = 1.0 / (MU0 * self.mu_recoil)
        h, s = self.law.h(np.clip(b, low, Br))
        # above Br and below the known curve: over to the recoil slope
        up, s_up = go_on(np.maximum(b - Br, 0.0), s_top, s_far, 0.02 * Br)
        down, s_down = go_on(np.maximum(low - b, 0.0), s_low, s_far, 0.25 * Br)
        above, below = b > Br, b < low
        h = np.where(above, up, np.where(below, h_low - down, h))
        return h, np.where(above, s_up, np.where(below, s_down, s))

    def field(
        self, b: npt.ArrayLike, charge: npt.ArrayLike = 1.0, b_low: npt.ArrayLike | None = None
    ) -> tuple[Array, Array]:
        """H along the easy axis.

        Parameters
        ----------
        b : array
            B along the direction of magnetisation, T; any real number, any shape.
        charge : float or array
            How fully it is magnetised, 0…1.
        b_low : array, optional
            The lowest B each point has been at, T.

        Returns
        -------
        h : array
            H, A/m.
        dh_db : array
            Its derivative along the branch the state is on, m/H, positive.

        Examples
        --------
        >>> h, _ = linear_magnet(name="plain", remanence=1.0, mu_recoil=4.0).field(0.5)
        >>> round(float(h))  # −Br/(2 μ0 μrec)
        -99472
        """
        b = np.asarray(b, dtype=float)
        s = 1.0 / (MU0 * self.mu_recoil)
        h, slope = self.major(b)
        c = np.asarray(charge, dtype=float)
        line = (b - c * self.remanence) * s
        on_line = (c < 1.0) & (line > h)  # fully charged: the major curve as it stands
        h, slope = np.where(on_line, line, h), np.where(on_line, s, slope)
        if b_low is not None:
            b_low = np.asarray(b_low, dtype=float)
            line = self.field(b_low, charge)[0] + (b - b_low) * s
            on_line = (b > b_low) & (line > h)
            h, slope = np.where(on_line, line, h), np.where(on_line, s, slope)
        return h, slope

    @property
    def mu_signal(self) -> float:
        """What a small signal meets along the easy axis, relative."""
        return self.mu_recoil if self.mu_reversible is None else self.mu_reversible

    @property
    def mu_signal_range(self) -> tuple[float, float]:
        """What that may be."""
        if self.mu_reversible_range is not None:
            return self.mu_reversible_range
        return self.mu_recoil_range if self.mu_reversible is None else (self.mu_signal, self.mu_signal)

    @property
    def magnetic(self) -> bool:
        """Whether a static field knows of it."""
        return True

    @property
    def straight(self) -> bool:
        """Whether the major curve is the recoil line, without a knee."""
        return isinstance(self.law, Straight)

    @property
    def energy_product(self) -> float:
        """Largest −B·H on the major curve, J/m³."""
        b = np.linspace(0.0, self.remanence, 2001)
        return float(np.max(-b * self.major(b)[0]))

    def curve_points(self, n: int = 200) -> tuple[Array, Array]:
        """H (A/m, ascending from −Hc to 0) and B (T) of the second quadrant, for drawing; each (n,)."""
        b = np.linspace(0.0, self.remanence, n)
        return self.major(b)[0], b

    @cached_property
    def _ends(self) -> tuple[tuple[float, float], float]:
        h, s = self.law.h(np.array([self.law.lowest, self.remanence]))
        return (float(h[0]), float(s[0])), float(s[1])


def check_magnet(m: MagnetCurve) -> None:
    """Refuse a major curve that does not rise, or whose polarisation rises on demagnetising.

    Raises
    ------
    CaseError
    """
    b = np.linspace(0.0, m.remanence, 257)
    h, s = m.major(b)
    if not (np.all(np.isfinite(h)) and np.all(np.diff(h) > 0.0) and np.all(s > 0.0)):
        raise CaseError(f"material {m.name!r}: demagnetisation curve: B must rise steadily with H")
    # by secants: between points of a table the cubic may dip a little
    worst = float(np.min(np.diff(b) / np.diff(h))) / MU0
    if worst < 1.0 - _SLACK and not isinstance(m.law, Points):
        raise CaseError(
            f"material {m.name!r}: demagnetisation curve: its slope dB/dH must be at least μ0 everywhere, "
            f"got {worst:.3g} μ0"
        )


def linear_magnet(
    *,
    name: str,
    remanence: float,
    mu_recoil: float,
    mu_reversible: float | None = None,
    mu_transverse: float | None = None,
    resistivity: float = float("inf"),
    thermal: Thermal = UNSAID,
    source: str = "given in the case",
) -> MagnetCurve:
    """B = Br + μ0 μrec H; μ_⊥ and what a signal meets are μrec unless given."""
    across = mu_recoil if mu_transverse is None else mu_transverse
    return MagnetCurve(
        name=name,
        remanence=remanence,
        coercivity=remanence / (MU0 * max(mu_recoil, 1.0)),
        mu_recoil=mu_recoil,
        mu_recoil_range=(mu_recoil, mu_recoil),
        mu_reversible=mu_reversible,
        mu_transverse=across,
        mu_transverse_range=(across, across),
        law=Straight(remanence=remanence, mu_recoil=mu_recoil),
        resistivity=resistivity,
        thermal=thermal,
        source=source,
    )


def magnet_from_points(
    *,
    name: str,
    points: Sequence[tuple[float, float]],
    mu_recoil: float | None = None,
    mu_reversible: float | None = None,
    mu_transverse: float | None = None,
    resistivity: float = float("inf"),
    thermal: Thermal = UNSAID,
    source: str = "given in the case",
) -> MagnetCurve:
    """Measured second-quadrant curve.

    Parameters
    ----------
    points : sequence of (H, B)
        A/m and T, in any order, from H = 0 (the remanence) towards B = 0. H all negative, or all
        positive as demagnetising field.
    mu_recoil : float, optional
        Relative; the slope at H = 0 when not given.

    Raises
    ------
    CaseError
        If the points are too few, or no demagnetisation curve.
    """
    where = f"material {name!r}: points"
    table = sorted((-abs(h), b) for h, b in points)
    if len(table) < 3:
        raise CaseError(f"{where}: a curve needs at least 3 points, got {len(table)}")
    if any(h < 0 for h, _ in points) and any(h > 0 for h, _ in points):
        raise CaseError(f"{where}: H must be all negative or all positive (demagnetising), got both signs")
    H, B = np.array(table).T
    if not (np.all(np.isfinite(H)) and np.all(np.isfinite(B))):
        raise CaseError(f"{where}: every number must be finite")
    if abs(H[-1]) > 1e-6 * abs(H[0]):
        raise CaseError(f"{where}: the first point must be the remanence at H = 0, got H = {H[-1]:g} A/m")
    H[-1] = 0.0
    if B[-1] <= 0.0:
        raise CaseError(f"{where}: the remanence (B at H = 0) must be positive, got {B[-1]:g} T")
    for i in range(len(H) - 1, 0, -1):
        dH, dB = H[i] - H[i - 1], B[i] - B[i - 1]
        if not (dH > 0.0 and dB > 0.0):
            raise CaseError(
                f"{where}: B must fall as the demagnetising field grows, got {B[i]:g} T at {H[i]:g} A/m "
                f"and {B[i - 1]:g} T at {H[i - 1]:g} A/m"
            )
        if dB < MU0 * dH * (1.0 - _SLACK):
            raise CaseError(
                f"{where}: between {H[i]:g} and {H[i - 1]:g} A/m B falls by less than μ0·ΔH, so the "
                "polarisation would rise while the magnet is demagnetised; check the units of H and B"
            )
    if B[0] > 0.05 * B[-1]:
        raise CaseError(f"{where}: the curve must reach down to B = 0, got {B[0]:g} T at its last point")
    law = Points(fields=tuple(H.tolist()), inductions=tuple(B.tolist()))
    secant = float((B[-1] - B[-2]) / (H[-1] - H[-2])) / MU0
    recoil = max(1.0, secant) if mu_recoil is None else mu_recoil
    across = recoil if mu_transverse is None else mu_transverse
    # where the table stops a little short of B = 0, on along its last chord
    chord = float(H[0] - B[0] * (H[1] - H[0]) / (B[1] - B[0]))
    zero = float(law.h(np.array(0.0))[0]) if B[0] <= 0.0 else chord
    return MagnetCurve(
        name=name,
        remanence=float(B[-1]),
        coercivity=-zero,
        mu_recoil=recoil,
        mu_recoil_range=(recoil, recoil),
        mu_reversible=mu_reversible,
        mu_transverse=across,
        mu_transverse_range=(across, across),
        law=law,
        resistivity=resistivity,
        thermal=thermal,
        source=source,
    )
