"""How a magnet's grade changes with temperature: its coefficients, counted from 20 °C."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Thermal:
    """Reversible changes of a magnet per kelvin, as shares of the values at 20 °C.

    Attributes
    ----------
    remanence : float or None
        Of Br, 1/K; None where nobody said it.
    remanence_range : (float, float)
        What it may be, 1/K.
    coercivity : float or None
        Of the intrinsic coercivity, 1/K; None where it goes with Br.
    range : (float, float)
        Between which temperatures that holds, °C.
    """

    remanence: float | None = None
    remanence_range: tuple[float, float] = (0.0, 0.0)
    coercivity: float | None = None
    range: tuple[float, float] = (-50.0, 150.0)


UNSAID = Thermal()
"""Of a magnet of which nobody said it."""
