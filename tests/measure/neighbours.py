"""What one of two strings does to the other, by 3-D with it in the mesh: for `test_neighbours.py`.

    python tests/run.py neighbours [DIAMETER APART RODS]     mm; minutes each; RODS 0: over a blade

λ and S of the first string, with the other as a body of its steel and without, the pickup's quick model beside it.
"""

from __future__ import annotations

import sys

from rigs.cases.string_pairs import StringPair
from stringflux.cases.jobs.verify import verify

PAIRS = (StringPair(1.0, 5.0, 1), StringPair(0.43, 5.0, 1), StringPair(0.43, 2.0, 1), StringPair(1.0, 2.0, 1),
         StringPair(1.5, 7.0, 2), StringPair(1.5, 10.4, 2), StringPair(1.0, 7.0, 0), StringPair(1.0, 10.0, 0),
         StringPair(0.43, 7.0, 0), StringPair(1.0, 7.0, 2, square=True))
WITHIN = 0.03


def line(pair: StringPair) -> str:
    alone, beside = (verify(pair.one(beside=there), string=1, quality="draft", within=WITHIN).solid
                     for there in (False, True))
    change = [100 * (getattr(beside, n) / getattr(alone, n) - 1) for n in ("bias", "linkage", "sensitivity")]
    square = ", square" if pair.square else ""
    return f"{pair.diameter:g} mm, {pair.apart:g} mm apart, rods {pair.rods}{square}: " + ", ".join(
        f"{n} {c:+.2f} %" for n, c in zip(("B₀", "λ", "S"), change, strict=True))


if __name__ == "__main__":
    given = [float(a) for a in sys.argv[1:]]
    for one in (StringPair(given[0], given[1], int(given[2])),) if given else PAIRS:
        print(line(one), flush=True)
