"""What wax or epoxy between the turns does to κ: sections wound turn by turn, potted, by finite elements.

    python tests/run.py potting     the table of docs/measured.md, some two minutes
"""

from __future__ import annotations

from rigs.fields.laid_wires import Feed, kappa, laid
from stringflux.postprocess.coil.capacitance import POTTING

from .laying import BARE, ENAMEL

FEEDS = tuple(Feed(step=step, stays=stays) for stays in (0.3, 0.5) for step in (2.3, 6.1, 15.3))
WIDTH, TURNS, DEPTH, SIZE = 20, 800, 6.0, 0.07


def table() -> None:
    print("\n| moves on by, wires a turn | stays where it touches | fill % | κ in air | in wax, over that "
          "| in epoxy |")
    print("|--:|--:|--:|--:|--:|--:|")
    for feed in FEEDS:
        for seed in (1, 2):
            section = laid(TURNS, WIDTH, feed, seed)
            air, *potted = (kappa(section, bare=BARE, enamel=ENAMEL, between=e, depth=DEPTH, size=SIZE)
                            for e in (1.0, *(p.permittivity[1] for p in POTTING.values())))
            over = " | ".join(f"{found / air:.3f}" for found in potted)
            print(f"| {feed.step:g} | {feed.stays:g} | {100 * section.fill():.0f} | {air:.2f} | {over} |", flush=True)


if __name__ == "__main__":
    table()
