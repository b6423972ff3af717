"""Numbers as words for the report."""

from __future__ import annotations

import math
from collections.abc import Sequence

NBSP = "\N{NO-BREAK SPACE}"
_COUNTS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


def figure(value: float, digits: int = 3) -> str:
    """A number with so many digits, no exponent, and a real minus.

    Examples
    --------
    >>> figure(0.01234), figure(1234.5), figure(-0.5, 2), figure(-0.0)
    ('0.0123', '1234', '−0.50', '0')
    """
    if not math.isfinite(value):
        return "–"
    if value == 0:
        return "0"
    places = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    return minus(f"{value:.{min(places, 9)}f}")


def fixed(value: float, places: int, *, sign: bool = False) -> str:
    """A number with so many places behind the point, a real minus and no negative zero.

    Examples
    --------
    >>> fixed(-0.01, 1), fixed(-1.25, 2), fixed(0.5, 1, sign=True)
    ('0.0', '−1.25', '+0.5')
    """
    if not math.isfinite(value):
        return "–"
    text = f"{value:{'+' if sign else ''}.{places}f}"
    if float(text) == 0:
        text = text.lstrip("+-")
    return minus(text)


def gauss(tesla: float, *, units: bool = False) -> str:
    """A flux density in gauss, and in mT in brackets.

    Examples
    --------
    >>> gauss(0.1265), gauss(-0.0475, units=True)
    ('1265 (126.5)', '−475 G (−47.5 mT)')
    """
    first, second = fixed(tesla * 1e4, 0), fixed(tesla * 1e3, 1)
    return f"{first} G ({second} mT)" if units else f"{first} ({second})"


def minus(text: str) -> str:
    """With the typographic minus."""
    return text.replace("-", "−")


def count(number: int, noun: str) -> str:
    """``six strings``, ``one pole``.

    Examples
    --------
    >>> count(6, "string"), count(1, "pole")
    ('six strings', 'one pole')
    """
    word = _COUNTS[number] if number < len(_COUNTS) else str(number)
    return f"{word} {noun}{'' if number == 1 else 's'}"


def hertz(value: float) -> str:
    """Hz below 1000, else kHz; three digits."""
    return f"{figure(value / 1e3)} kHz" if value >= 999.5 else f"{figure(value)} Hz"


def ohms(value: float) -> str:
    """Ω, kΩ or MΩ; three digits."""
    for size, unit in ((1e6, "MΩ"), (1e3, "kΩ")):
        if value >= size * 0.9995:
            return f"{figure(value / size)} {unit}"
    return f"{figure(value)} Ω"


def henries(value: float) -> str:
    """H, or mH where it is small."""
    return f"{figure(value)} H" if value >= 0.1 else f"{figure(value * 1e3)} mH"


def percent_range(low: float, nominal: float, high: float) -> str:
    """How far the ends are from the nominal: "−12 % to +5.0 %", or "± 4.0 %".

    Examples
    --------
    >>> percent_range(0.88, 1.0, 1.05), percent_range(0.9, 1.0, 1.1), percent_range(1, 1, 1)
    ('−12 % to +5.0 %', '± 10 %', 'none')
    """
    down, up = (100 * (end / nominal - 1) for end in (low, high))
    if max(abs(down), abs(up)) < 0.05:
        return "none"
    if abs(up + down) < 0.05 * (up - down):
        return f"± {figure((up - down) / 2, 2)} %"
    return f"{_signed(down)} % to {_signed(up)} %"


def _signed(value: float) -> str:
    text = figure(value, 2) if abs(value) >= 1 else fixed(value, 1)
    return text if value <= 0 or text == "0.0" else f"+{text}"


def number_list(numbers: Sequence[int]) -> str:
    """``1 to 6``, or ``1, 3, 4``.

    Examples
    --------
    >>> number_list((1, 2, 3)), number_list((1, 3, 4)), number_list((2,))
    ('1 to 3', '1, 3, 4', '2')
    """
    if len(numbers) > 2 and list(numbers) == list(range(numbers[0], numbers[-1] + 1)):
        return f"{numbers[0]} to {numbers[-1]}"
    return ", ".join(str(n) for n in numbers)


def sentence(text: str) -> str:
    """With a capital letter in front."""
    return text[:1].upper() + text[1:]
