"""What the laying of a winding makes of its capacitance: κ of sections wound turn by turn, by finite elements.

    python tests/run.py laying     the table of docs/measured.md, some ten minutes
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from rigs.fields.laid_wires import Feed, Laid, contact_sum, kappa, laid, neat

FEEDS = tuple(Feed(step=step, stays=stays) for stays in (0.0, 0.3, 0.5) for step in (2.3, 6.1, 15.3))
WIDTH, TURNS, WIDE, WIDE_TURNS = 24, 800, 150, 6000
BARE = 0.06334 / 0.071  # 42 AWG, single build
ENAMEL = 3.6


def table(feeds: Sequence[Feed] = FEEDS, seeds: int = 2) -> None:
    print("\n| moves on by, wires a turn | stays where it touches | fill % | κ, one section and another "
          "| pairs that touch alone | the same 150 wires wide |")
    print("|--:|--:|--:|--:|--:|--:|")
    row("neat layers", "", [neat(TURNS // WIDTH, WIDTH)], neat(WIDE_TURNS // WIDE, WIDE))
    for feed in feeds:
        row(f"{feed.step:g}", f"{feed.stays:g}", [laid(TURNS, WIDTH, feed, seed) for seed in range(seeds)],
            laid(WIDE_TURNS, WIDE, feed))


def row(step: str, stays: str, sections: Sequence[Laid], wide: Laid) -> None:
    """One way of laying."""
    fill = np.mean([s.fill() for s in sections])
    found = ", ".join(f"{kappa(s, bare=BARE, enamel=ENAMEL):.2f}" for s in sections)
    alone = ", ".join(f"{contact_sum(s):.2f}" for s in sections)
    print(f"| {step} | {stays} | {100 * fill:.0f} | {found} | {alone} | {contact_sum(wide):.2f} |", flush=True)


if __name__ == "__main__":
    table()
