"""Names of musical notes, for tables."""

from __future__ import annotations

import math

_NAMES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
_CENTS = 5  # further off than this a pitch is no note but a number


def note_name(frequency: float) -> str:
    """Name of the note (A4 = 440 Hz) within 5 cents of a frequency in Hz, or "".

    Examples
    --------
    >>> note_name(82.407), note_name(185.0), note_name(84.0)
    ('E2', 'F#3', '')
    """
    exact = 69 + 12 * math.log2(frequency / 440)
    number = round(exact)
    if abs(exact - number) * 100 > _CENTS:
        return ""
    return f"{_NAMES[number % 12]}{number // 12 - 1}"
