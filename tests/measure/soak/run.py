"""A long soak: what the suite tries a few times, tried at random for as long as you like.

    make soak MINUTES=60            python tests/run.py soak --minutes 60 --seed 7 --only laws --only kills

Each part draws a case by the seed and the number of the round, tries it, and says "good", "refused" (in one sentence,
as the program promises) or what broke. The counts are printed at the end, a broken round with the words that repeat
it. Exit code 1 if anything broke.

    mutants   a shipped case with its quantities changed, at times with rubbish in it, predicted at draft
    laws      rows of one to three poles: S = dλ/dz, and the row against the 3-D solver
    kills     a command stopped at a random moment by a random signal: what was there is whole, nobody is left running
    damage    the kept stages damaged at random: a study's table stays the same to the last byte
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path

from measure.soak import kills as soak_kills
from measure.soak import laws as soak_laws
from measure.soak import mutants as soak_mutants

Part = Callable[[random.Random, Path], str]
PARTS: dict[str, Part] = {
    "mutants": soak_mutants.one_round, "laws": soak_laws.one_round, "kills": soak_kills.one_kill,
    "damage": soak_kills.one_damage,
}
FINE = ("good", "refused")


def soak(names: Sequence[str], *, seconds: float, seed: int, rounds: int | None = None, start: int = 0,
         verbose: bool = False, say: Callable[[str], None] = print) -> Counter[str]:
    """Run the parts in turn; how often each said what.

    Parameters
    ----------
    names : sequence of str
        Of `PARTS`.
    seconds : float
        No round begins later.
    rounds : int, optional
        Rounds of every part at the most.
    start : int
        The first round, to repeat one that broke.
    verbose : bool
        Say of every round what it said, not of those alone that broke.
    """
    counts: Counter[str] = Counter()
    end, number = time.monotonic() + seconds, start
    while time.monotonic() < end and (rounds is None or number < start + rounds):
        for name in names:
            if time.monotonic() >= end:
                break
            with tempfile.TemporaryDirectory(prefix="soak-") as folder:
                said = PARTS[name](random.Random(f"{seed} {name} {number}"), Path(folder))
            told = next((word for word in FINE if said.startswith(word)), "BROKEN")
            counts[f"{name}: {told}"] += 1
            if told == "BROKEN" or verbose:
                say(f"{name}, --seed {seed} --start {number}: {said}")
        number += 1
    return counts


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="Try the program at random for a long time.")
    parser.add_argument("--minutes", type=float, default=30.0)
    parser.add_argument("--seed", type=int, default=int(time.time()))
    parser.add_argument("--rounds", type=int)
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--verbose", action="store_true")
    parser.add_argument("--only", action="append", choices=list(PARTS))
    asked = parser.parse_args(arguments)
    begin = time.monotonic()
    counts = soak(asked.only or list(PARTS), seconds=60 * asked.minutes, seed=asked.seed, rounds=asked.rounds,
                  start=asked.start, verbose=asked.verbose, say=lambda words: print(words, flush=True))
    print(f"Seed {asked.seed}, {(time.monotonic() - begin) / 60:.0f} minutes:")
    for told, n in sorted(counts.items()):
        print(f"  {told} {n}")
    return int(any("BROKEN" in told for told in counts))


if __name__ == "__main__":
    sys.exit(main())
