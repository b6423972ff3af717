"""One string of a case from its place over the row to its voltage: map, aperture, pull, modes and signal together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError
from stringflux.geometry.shapes import StringShape

from .aperture import aperture
from .linkage import linkage_map, rest_model
from .pull import pull_of
from .signal import SECONDS, Response, StringSignal, Surface, distortion, string_signal, surface, through
from .string_field import StringField
from .string_magnetisation import Layer
from .string_modes import Pluck, VibratingString, plucked

EXCURSIONS = np.geomspace(0.05e-3, 2e-3, 25)
"""Swings up and down for which H2 and H3 are given, m."""


_LEAST = 0.3  # of ∫ |w| dx that ∫ w dx has to be: what is left of a smaller one is no mean of the string's shape


@dataclass(frozen=True, kw_only=True, eq=False)
class SensedString:
    """What the row makes of a string, however it is plucked.

    Attributes
    ----------
    string : VibratingString
    bridge_distance : float
        From the row to the bridge, m.
    surface : Surface
        λ over displacements from rest.
    point, means : arrays (n,)
        φ_n of the modes over the row, and their means over the aperture.
    reversible_level : float
        ∂λ/∂z on the reversible slope against the static curve, dB.
    springs : (float, float)
        k_y and k_z of the magnets' pull, N/m.
    """

    string: VibratingString
    bridge_distance: float
    surface: Surface
    point: Array
    means: Array
    reversible_level: float
    springs: tuple[float, float]

    def play(self, pluck: Pluck, *, responses: Sequence[Response] = (), seconds: float = SECONDS,
             name: str = "the string") -> StringSignal:
        """The voltage after a pluck, through filters H(f) if any.

        Raises
        ------
        CaseError
            When the string swings out of the map.
        """
        vibration = plucked(self.string, pluck, springs=self.springs, spring_at=self.bridge_distance)
        signal = string_signal(self.surface, vibration, self.means, seconds=seconds, name=name)
        return replace(signal, voltage=through(signal.voltage, signal.rate, *responses))

    def distortion(self) -> tuple[Array, Array]:
        """Swings (k,) that the map holds, m, and H2 and H3 (2, k) as parts of H1."""
        reach = min(-self.surface.z[0], self.surface.z[1])
        swings = EXCURSIONS[reach * (1 + 1e-9) >= EXCURSIONS]
        return swings, distortion(self.surface, swings)


@dataclass(frozen=True, kw_only=True, eq=False)
class PlayedString:
    """A string, its number from 1, and its signal."""

    number: int
    string: SensedString
    signal: StringSignal


def sensed_string(field: StringField, shape: StringShape, layers: tuple[Layer, ...], string: VibratingString,
                  bridge_distance: float) -> SensedString:
    """Set a string over a solved row.

    Parameters
    ----------
    string : VibratingString
    bridge_distance : float
        From the row to the bridge, m. The bridge lies at positive x.
    """
    model = rest_model(field, shape, layers)
    table = linkage_map(field, model)
    w = aperture(model)
    if w.one_sided < _LEAST:
        raise CaseError("connection, reversed: these coils cancel each other over the string, and a signal made of "
                        "what is left is not computed yet; drop reversed, or connect one coil alone")
    over = surface(table.y - shape.y, table.z - shape.axis_height, table.linkage)
    _, slope = over.slopes(np.zeros(1), np.zeros(1))
    count = len(string.frequencies())
    pull = pull_of(model)
    return SensedString(
        string=string, bridge_distance=bridge_distance, surface=over,
        point=string.shapes(np.array([bridge_distance]), count)[:, 0],
        means=w.mean(lambda x: string.shapes(bridge_distance - x, count)),
        reversible_level=float(20 * np.log10(abs(w.slope_z / slope[0]))),
        springs=(pull.stiffness_y, pull.stiffness_z),
    )
