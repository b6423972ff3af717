"""Over which length of a string the coils listen, and how that is drawn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..string.aperture import Aperture
from ..string.aperture_width import aperture_width

if TYPE_CHECKING:
    from matplotlib.axes import Axes


@dataclass(frozen=True, kw_only=True, eq=False)
class StringAperture:
    """The aperture of one string, all coils as they are connected: δλ = ∫ w(x) u(x) dx of a small bend u.

    Attributes
    ----------
    number : int
        Of the string, from 1.
    weights : Aperture
        w over places x along the string: `up` and `across` (n,), V·s/m².
    """

    number: int
    weights: Aperture

    @property
    def width(self) -> float:
        """Of the even window that loses 3 dB at the same wavelength, m."""
        return aperture_width(self.weights)

    def plot(self, ax: Axes | None = None, what: str = "up") -> Axes:
        """Draw w over the place along the string, of a bend "up" or "across".

        Parameters
        ----------
        ax : Axes, optional
            A new figure's if left out.

        Raises
        ------
        InputError
            For another panel.
        """
        from ..figures.fields import aperture
        from ..figures.panel import panel

        w = self.weights
        return panel(ax, {"up": lambda ax: aperture(ax, w.x, w.up, self.width),
                          "across": lambda ax: aperture(ax, w.x, w.across)}, what)
