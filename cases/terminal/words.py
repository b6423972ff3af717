"""What several commands say in the same words: a pluck, a load, what is hardly meant."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from .tables import digits

if TYPE_CHECKING:
    from rich.console import Console

    from stringflux.geometry.case.controls import Load
    from stringflux.geometry.case.model import Case
    from stringflux.postprocess.plucked.modes import Pluck
    from stringflux.postprocess.plucked.sine import Sine


def print_oddities(case: Case, to: Console, where: str = "") -> None:
    """Notes about what is possible and yet hardly meant; `where` says of which case."""
    from stringflux.geometry.reading.check_sense import oddities

    for oddity in oddities(case):
        to.print(f"Note: {where}{oddity}.", markup=False, soft_wrap=True)


def pluck_words(pluck: Pluck | Sine) -> str:
    """A pluck, or a sine, in words."""
    from stringflux.postprocess.plucked.sine import Sine

    if isinstance(pluck, Sine):
        at = "at its pitch" if pluck.frequency is None else f"at {pluck.frequency:g} Hz"
        return (f"driven by a sine of ± {1e3 * pluck.amplitude:g} mm {at}, "
                f"{math.degrees(pluck.angle):.0f}° to the plate")
    amount = f"{pluck.force:g} N" if pluck.force is not None else f"{1e3 * (pluck.displacement or 0):g} mm"
    return (f"plucked by {amount}, {pluck.at:.3g} of the string from the bridge, "
            f"{math.degrees(pluck.angle):.0f}° to the plate")


def load_words(load: Load) -> str:
    """The load in a line."""
    words = []
    if load.controls != "none":
        words.append(f"volume {load.volume / 1e3:g} kΩ ({load.volume_taper})")
    if load.controls == "volume and tone":
        words.append(f"tone {load.tone / 1e3:g} kΩ ({load.tone_taper}) with {load.tone_capacitor * 1e9:g} nF")
    words.append(f"cable {load.cable_length:g} m with {load.cable_length * load.cable_capacitance * 1e12:g} pF")
    words.append(f"input {digits(load.input_resistance / 1e6)} MΩ and {load.input_capacitance * 1e12:g} pF")
    return f"Load: {'; '.join(words)}."
