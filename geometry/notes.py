"""Names of musical notes, both ways: twelve equal steps with A4 = 440 Hz. "F#3" everywhere, as one types it."""

from __future__ import annotations

import math
import re

_NAMES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
_STEPS = {name: step for step, name in enumerate(_NAMES) if len(name) == 1}
_NOTE = re.compile(r"([A-Ga-g])([#♯b♭]?)(-?[0-9])")
_CENTS = 5  # further off than this a pitch is no note but a number


def note_frequency(name: str) -> float | None:
    """Frequency of a note name in Hz; None if it is no note.

    Examples
    --------
    >>> round(note_frequency("E2"), 3), note_frequency("H2")
    (82.407, None)
    """
    match = _NOTE.fullmatch(name.strip())
    if match is None:
        return None
    letter, sign, octave = match.groups()
    step = _STEPS[letter.upper()] + (sign in ("#", "♯")) - (sign in ("b", "♭") and sign != "")
    return float(440.0 * 2 ** ((step - 9) / 12 + int(octave) - 4))


def note_name(frequency: float) -> str:
    """Name of the note within 5 cents of a frequency in Hz, or "".

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


def pitch_words(frequency: float) -> str:
    """The note, or the frequency where it is none.

    >>> pitch_words(185.0), pitch_words(84.0)
    ('F#3', '84.0 Hz')
    """
    return note_name(frequency) or f"{frequency:.1f} Hz"
