"""What the magnet of one rod decides: magnets of the table side by side, and one rod weakened step by step.

    python tests/run.py magnets table    grades at equal geometry
    python tests/run.py magnets weaker   an alnico-5 rod from full charge down, by both models of the string's steel
"""

from __future__ import annotations

import math
import sys

from stringflux.cases import load_case, solve
from stringflux.postprocess.records.prediction import StringRecord

CASE = "bench-single"
GRADES = ("alnico-5", "alnico-2", "alnico-3", "alnico-4", "alnico-8", "ceramic-8", "ndfeb-38", "smco-5")
CHARGES = (1.0, 0.8, 0.65, 0.5, 0.4, 0.3, 0.2)
QUALITY = "normal"


def found(changes: dict[str, object]) -> tuple[StringRecord, float]:
    """The string, and the field half a millimetre over the face, T."""
    prediction = solve(load_case(CASE, changes), quality=QUALITY).prediction(maps=False)
    return prediction.strings[0], prediction.poles[0].field


def decibel(value: float, of: float) -> str:
    return f"{20 * math.log10(value / of):+.1f}"


def table() -> None:
    print("| rod | over the face, mT | at the string, mT | b, mT/A | S, mV per m/s (range) | dB | one curve, dB |")
    print("|---|--:|--:|--:|--:|--:|--:|")
    first: StringRecord | None = None
    for name in GRADES:
        s, face = found({"pole.1.part.1.material": name})
        first = first or s
        low, high = (1e3 * v for v in s.sensitivity_band)
        print(f"| {name} | {1e3 * face:.0f} | {1e3 * s.bias[2]:.1f} | {1e3 * s.reciprocal[2]:.0f} "
              f"| {1e3 * s.sensitivity:.1f} ({low:.1f}–{high:.1f}) | {decibel(s.sensitivity, first.sensitivity)} "
              f"| {decibel(s.sensitivity_curve, first.sensitivity_curve)} |")


def weaker() -> None:
    print("| charge | over the face, mT | at the string, mT | S, dB | ends of its range, dB | one curve, dB |")
    print("|--:|--:|--:|--:|--:|--:|")
    first: StringRecord | None = None
    for charge in CHARGES:
        s, face = found({"pole.1.part.1.charge": charge})
        first = first or s
        ends = " … ".join(decibel(a, b) for a, b in zip(s.sensitivity_band, first.sensitivity_band, strict=True))
        print(f"| {charge:.0%} | {1e3 * face:.0f} | {1e3 * s.bias[2]:.1f} "
              f"| {decibel(s.sensitivity, first.sensitivity)} | {ends} "
              f"| {decibel(s.sensitivity_curve, first.sensitivity_curve)} |")


def main() -> None:
    jobs = {"table": table, "weaker": weaker}
    for name in sys.argv[1:] or jobs:
        if name not in jobs:
            raise SystemExit(f"magnets: received {name!r}; write {', '.join(jobs)}")
        jobs[name]()


if __name__ == "__main__":
    main()
