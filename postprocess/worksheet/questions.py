r"""The questions: from the turns of a coil to the voltage of a string.

    ℓ = R π d²/(4ρ)      N = ℓ/ℓ₁      λ = N Φ      e = −Δλ/Δt      S = Δλ/Δz      v = 2π f A      e = S v

References
----------
Derived here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ..demonstrations.quantities import best_unit
from .answers import Given, KeyAnswer, Question, answered, half_digit, tolerance
from .swung import STEPS, SheetFigures

Work = tuple[Given, ...]


@dataclass(frozen=True, kw_only=True)
class Cell:
    """A cell of the table that is to be filled in: its number and tolerance, SI."""

    value: float
    tolerance: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Worksheet:
    """A sheet and its key.

    Attributes
    ----------
    figures : SheetFigures
    given : tuple of Given
    time, place, change : tuples of Given
        The table's columns that are printed.
    linkage, voltage : tuples of Cell
        Those to be filled in: N ΔΦ of each row, and e from each row to the next.
    linkage_unit, voltage_unit : str
    answers : tuple of KeyAnswer
    """

    figures: SheetFigures
    given: tuple[Given, ...]
    time: tuple[Given, ...]
    place: tuple[Given, ...]
    change: tuple[Given, ...]
    linkage: tuple[Cell, ...]
    voltage: tuple[Cell, ...]
    linkage_unit: str
    voltage_unit: str
    answers: tuple[KeyAnswer, ...]


def sheet_of(figures: SheetFigures) -> Worksheet:
    """The sheet of what was computed."""
    given = _given(figures)
    known = {g.symbol: g for g in given}
    change = _column("ΔΦ", "flux through one turn, less that at rest", figures.change, "Wb")
    ends = {f"ΔΦ{_low(k + 1)}": x for k, x in enumerate(change)}
    answers = answered(_questions(figures, known), {**known, **ends})
    turns = next(a for a in answers if a.question.symbol == "N")
    linkage, voltage = _filled(figures, turns, known["f"], change)
    return Worksheet(
        figures=figures, given=given, change=change, answers=answers, linkage=linkage, voltage=voltage,
        time=_column("t", "time", figures.time, "s"), place=_column("z", "place of the string", figures.place, "m"),
        linkage_unit=best_unit(max(abs(c.value) for c in linkage), "Wb"),
        voltage_unit=best_unit(max(abs(c.value) for c in voltage), "V"))


def _given(f: SheetFigures) -> tuple[Given, ...]:
    flux = () if f.magnet_flux is None else (
        Given(symbol="Φₘ", words="flux of the magnets through one turn", value=abs(f.magnet_flux),
              unit=best_unit(f.magnet_flux, "Wb")),)
    ohms = best_unit(f.resistance, "Ω")
    return (
        Given(symbol="R", words="resistance of the coil at 20 °C", value=f.resistance, unit=ohms),
        Given(symbol="d", words="diameter of its bare copper wire", value=f.bare, unit="mm"),
        Given(symbol="ρ", words="resistivity of copper at 20 °C", value=f.resistivity, unit="Ω mm²/m"),
        Given(symbol="ℓ₁", words="length of a mean turn", value=f.mean_turn, unit="mm"),
        *flux,
        Given(symbol="g", words="gap at rest, pole to string", value=f.gap, unit="mm"),
        Given(symbol="f", words="frequency of the string", value=f.frequency, unit="Hz"),
        Given(symbol="A", words="amplitude of the string, up and down", value=f.amplitude, unit="mm"),
    )


def _column(symbol: str, words: str, values: np.ndarray, si: str) -> Work:
    unit = best_unit(float(np.max(np.abs(values))), si)
    return tuple(Given(symbol=symbol, words=words, value=float(v) if abs(v) > 1e-12 * np.max(np.abs(values)) else 0.0,
                       unit=unit) for v in values)


def _filled(f: SheetFigures, turns: KeyAnswer, frequency: Given,
            change: Work) -> tuple[tuple[Cell, ...], tuple[Cell, ...]]:
    at = [float(x) for x in f.turns * f.change]
    unit = best_unit(max(map(abs, at)), "Wb")
    linkage = tuple(Cell(value=v, tolerance=tolerance(lambda n, p: n * p, [turns, x], v, unit) if v else 0.0)
                    for v, x in zip(at, change, strict=True))
    steps = [-(b - a) * 2 * STEPS * f.frequency for a, b in pairwise(at)]
    volts, written = best_unit(max(map(abs, steps)), "V"), _written(f)
    voltage = tuple(
        Cell(value=e, tolerance=tolerance(lambda n, a, b, h: -n * (b - a) * 2 * STEPS * h,
                                          [turns, change[k], change[k + 1], frequency], e, volts)
             + (written[k] + written[k + 1]) * 2 * STEPS * f.frequency) for k, e in enumerate(steps))
    return linkage, voltage


def _written(f: SheetFigures) -> list[float]:
    """By how much N ΔΦ of each row may be off as it is written into the table, Wb."""
    at = f.turns * f.change
    unit = best_unit(float(np.max(np.abs(at))), "Wb")
    return [half_digit(float(v), unit) for v in at]


def _questions(f: SheetFigures, known: dict[str, Given]) -> tuple[Question, ...]:
    low, high = "ΔΦ₁", f"ΔΦ{_low(STEPS + 1)}"
    below, above = f"ΔΦ{_low(STEPS // 2)}", f"ΔΦ{_low(STEPS // 2 + 2)}"
    change = f.change
    linkage = f.turns * change
    steps = -np.diff(linkage) * 2 * STEPS * f.frequency
    k = int(np.argmax(np.abs(steps)))
    end = "its end" if f.at_rest > 0 else "its start"
    written, middle = _written(f), STEPS // 2
    span = float(abs(linkage[0] - linkage[-1]))
    slope = float(abs(linkage[STEPS // 2 - 1] - linkage[STEPS // 2 + 1])) / f.amplitude
    share = () if "Φₘ" not in known else (Question(
        symbol="part", asks="What part of the magnets' flux is it that moves, in one turn, from lowest to highest?",
        formula=f"part = |{low} − {high}| / Φₘ", uses=(low, high, "Φₘ"), work=lambda a, b, m: abs(a - b) / m,
        value=float(abs(change[0] - change[-1])) / abs(f.magnet_flux or 1.0), unit="%",
        remark="All the voltage comes from this small part; the rest stands still."),)
    return (
        Question(symbol="ℓ", asks="How much wire is on the coil?", formula="ℓ = R × π d² / (4 × ρ)",
                 uses=("R", "d", "ρ"), work=lambda r, d, p: r * math.pi * d**2 / (4 * p),
                 value=f.turns * f.mean_turn, unit="m", remark="The copper's section is π d²/4."),
        Question(symbol="N", asks="How many turns are that?", formula="N = ℓ / ℓ₁", uses=("ℓ", "ℓ₁"),
                 work=lambda a, b: a / b, value=f.turns, unit=""),
        Question(symbol="Δλ", asks="Fill in the column N ΔΦ. By how much does N Φ change from the lowest place to "
                 "the highest?", formula=f"Δλ = N × |{low} − {high}|", uses=("N", low, high),
                 work=lambda n, a, b: n * abs(a - b), value=span, unit="Wb",
                 written=written[0] + written[-1]),
        *share,
        Question(symbol="ê", asks="One row lasts Δt = 1/(12 f). Fill in the column e. What is its largest value, "
                 "without its sign?", formula=f"ê = N × |ΔΦ{_low(k + 1)} − ΔΦ{_low(k + 2)}| × 12 × f",
                 uses=("N", f"ΔΦ{_low(k + 1)}", f"ΔΦ{_low(k + 2)}", "f"),
                 work=lambda n, a, b, h: n * abs(a - b) * 12 * h, value=float(abs(steps[k])), unit="V",
                 written=(written[k] + written[k + 1]) * 2 * STEPS * f.frequency,
                 remark="It is the mean over one row."),
        Question(symbol="v", asks="How fast is the string as it passes its place of rest?", formula="v = 2π × f × A",
                 uses=("f", "A"), work=lambda h, a: 2 * math.pi * h * a,
                 value=2 * math.pi * f.frequency * f.amplitude, unit="m/s"),
        Question(symbol="S", asks="By how much does N Φ change per metre there? Use the rows just before and just "
                 "after; they are A apart.", formula=f"S = N × |{below} − {above}| / A",
                 uses=("N", below, above, "A"), written=(written[middle - 1] + written[middle + 1]) / f.amplitude,
                 work=lambda n, a, b, z: n * abs(a - b) / z, value=slope, unit="V per m/s",
                 remark="1 Wb/m is the same as 1 V per m/s."),
        Question(symbol="e", asks="So what is the voltage as the string passes its rest? Which end of the coil is + "
                 "on the way up?", formula="e = S × v", uses=("S", "v"), work=lambda s, v: s * v,
                 value=abs(f.at_rest), unit="V",
                 remark=f"On the way up N Φ {'falls' if f.at_rest > 0 else 'rises'}, so e = −dλ/dt is "
                        f"{'positive' if f.at_rest > 0 else 'negative'}: {end} is +. The tolerance holds that the "
                        "chord of question "
                        f"{7 if share else 6} is not quite the tangent."),
        Question(symbol="U", asks="What does a voltmeter for alternating voltage (true rms) show?",
                 formula="U = e / √2", uses=("e",), work=lambda e: e / math.sqrt(2), value=f.rms, unit="V",
                 remark="The true swing of e is not quite a sine; the tolerance holds that."),
        Question(symbol="e′", asks="The coil is wound anew into the same room with 2N turns of finer wire. What is "
                 "the voltage now, as the string passes its rest?", formula="e′ = 2 × e", uses=("e",),
                 work=lambda e: 2 * e, value=2 * abs(f.at_rest), unit="V",
                 remark="Each turn has the same Φ as before, and there are twice as many. The wire is twice as long "
                        "and has half the section, so the resistance is four times as large."),
    )


def _low(number: int) -> str:
    """A number below the line.

    >>> _low(7)
    '₇'
    """
    return "".join(chr(ord("₀") + int(c)) for c in str(number))
