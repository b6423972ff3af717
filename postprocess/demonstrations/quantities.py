"""Numbers as a class reads them: three digits, a unit that keeps them between 1 and 1000.

A unit of a column is one of :data:`SCALES`; a number in a sentence is put by :func:`said` in the one that fits.
"""

from __future__ import annotations

import math

from stringflux.geometry.errors import InputError

SCALES = {
    "": 1.0, "s": 1.0, "ms": 1e3, "µs": 1e6, "m": 1.0, "cm": 1e2, "mm": 1e3, "µm": 1e6, "m²": 1.0, "cm²": 1e4,
    "mm²": 1e6, "°": 180 / math.pi, "V": 1.0, "mV": 1e3, "µV": 1e6, "Wb": 1.0, "mWb": 1e3, "µWb": 1e6, "nWb": 1e9,
    "pWb": 1e12, "T": 1.0, "mT": 1e3, "µT": 1e6, "nT": 1e9, "H": 1.0, "mH": 1e3, "Hz": 1.0, "kHz": 1e-3, "m/s": 1.0,
    "mm/s": 1e3, "mV per m/s": 1e3, "V per m/s": 1.0, "N": 1.0, "mN": 1e3, "dB": 1.0, "%": 1e2, "1/min": 60.0,
    "g": 1e3, "kΩ": 1e-3, "Ω": 1.0, "A": 1.0, "mA": 1e3, "J": 1.0, "mJ": 1e3, "kA/m": 1e-3, "A/m": 1.0,
    "Ω mm²/m": 1e6,
}
"""What one of the SI unit is in the shown one; of a speed of turning the SI unit is one turn a second."""

_LADDERS = {
    "Wb": ("Wb", "mWb", "µWb", "nWb", "pWb"), "V": ("V", "mV", "µV"), "T": ("T", "mT", "µT", "nT"),
    "s": ("s", "ms", "µs"), "m": ("m", "mm", "µm"), "H": ("H", "mH"), "Hz": ("kHz", "Hz"), "N": ("N", "mN"),
    "m/s": ("m/s", "mm/s"), "Ω": ("kΩ", "Ω"), "A": ("A", "mA"), "J": ("J", "mJ"), "A/m": ("kA/m", "A/m"),
    "m²": ("m²", "cm²", "mm²"),
    "V per m/s": ("V per m/s", "mV per m/s"),
}


def scale(unit: str) -> float:
    """What one of the SI unit is in a shown one.

    Raises
    ------
    InputError
        For a unit that is not known here.

    Examples
    --------
    >>> scale("mV")
    1000.0
    """
    if unit not in SCALES:
        raise InputError(f"unit: received {unit!r}; write one of {', '.join(u for u in SCALES if u)}")
    return SCALES[unit]


def digits(value: float, count: int = 3) -> str:
    """A number with so many significant digits, never with an exponent from 1e-6 to 1e7, and a real minus sign.

    >>> digits(0.0123456), digits(-98.76), digits(12345.0)
    ('0.0123', '−98.8', '12300')
    """
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else "–"
    places = count - 1 - math.floor(math.log10(abs(value)))
    rounded = round(value, places)
    text = f"{rounded:.{max(places, 0)}f}"
    if abs(rounded) >= 10 ** (math.floor(math.log10(abs(value))) + 1) and places > 0:  # 9.996 has become 10.00
        text = f"{rounded:.{places - 1}f}"
    return text.replace("-", "−")


_LEAST = {"mm": 0.00995, "m²": 0.0995, "µT": 0.00995, "m/s": 0.0995, "Hz": 0.0}
"""Under one of these another unit is better; under 1 of every other. Nobody reads a swing in µm."""


def best_unit(largest: float, si: str) -> str:
    """The unit in which a class reads the largest of some numbers: mostly between 1 and 1000.

    >>> best_unit(0.012, "V"), best_unit(3e-10, "Wb"), best_unit(0.0005, "m")
    ('mV', 'pWb', 'mm')
    """
    ladder = _LADDERS.get(si, (si,))
    return next((u for u in ladder if abs(largest) * scale(u) >= _LEAST.get(u, 0.9995)), ladder[-1])


def said(value: float, si: str, count: int = 3) -> str:
    """A number in SI with the unit that fits it.

    >>> said(0.0123, "V"), said(-2.5e-9, "Wb"), said(82.4, "Hz")
    ('12.3 mV', '−2.50 nWb', '82.4 Hz')
    """
    unit = best_unit(value, si) if value else si
    return f"{digits(value * scale(unit), count)} {unit}".rstrip()
