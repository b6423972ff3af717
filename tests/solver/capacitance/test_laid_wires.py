"""Sections laid turn by turn: how wires lie, and κ of neat layers and of a loose section by finite elements."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.distance import pdist

from rigs.fields.laid_wires import HAIR, Feed, contact_sum, kappa, laid, neat
from stringflux.postprocess.coil.capacitance import POTTING
from stringflux.solver.capacitance.cell import wire_cell

BARE, ENAMEL = 0.9, 3.6


@pytest.mark.parametrize("feed", [Feed(step=1.1), Feed(step=2.3), Feed(step=6.1, stays=0.4)])
def test_no_two_share_room(feed: Feed) -> None:
    section = laid(600, 15.0, feed)
    assert pdist(np.stack([section.along, section.out], axis=1)).min() > 1 - 1e-6
    assert section.along.min() >= 0.5 - 1e-9
    assert section.along.max() <= 14.5 + 1e-9
    assert section.out.min() >= 0.5 - 1e-9


def test_turns_that_stay_leave_more_room() -> None:
    fill = [laid(1500, 30.0, Feed(step=2.3, stays=s)).fill() for s in (0.0, 0.3, 0.6)]
    assert 0.85 > fill[0] > fill[1] > fill[2] > 0.5  # practice has 55 to 75 %


def test_neat_layers_are_the_layered_formula() -> None:
    """4/3 of the mean voltage squared along the layers, two neighbours each: (4/3) √3 of a hexagonal pair."""
    assert contact_sum(neat(60, 200)) == pytest.approx(4 / 3 * 3**0.5, rel=0.02)  # whole layers in its depth
    square = wire_cell(bare=BARE, overall=1.0, enamel=ENAMEL, lattice="square").pair
    hexagonal = wire_cell(bare=BARE, overall=1 - HAIR, enamel=ENAMEL, pitch=1.0).pair
    narrow = neat(24, 12)
    found = kappa(narrow, bare=BARE, enamel=ENAMEL, depth=2 * 3**0.5, size=0.05)
    assert found == pytest.approx(contact_sum(narrow) * hexagonal / square, rel=0.05)  # chords in place of arcs


def test_a_loose_section() -> None:
    """Half as many wires as in layers, as much capacitance: those that touch were wound longer apart."""
    section = laid(300, 12.0, Feed(step=6.1, stays=0.4))
    assert section.fill() < 0.7
    assert 1.4 < kappa(section, bare=BARE, enamel=ENAMEL, depth=4.0, size=0.06) < 3.0


@pytest.mark.slow
def test_the_same_section_potted() -> None:
    """κ of a loose section rises in wax and in epoxy, by 5 to 11 and 7 to 18 % in sections 20 wires wide: turns
    that do not touch count for more."""
    section = laid(300, 12.0, Feed(step=6.1, stays=0.4))
    air, *filled = (kappa(section, bare=BARE, enamel=ENAMEL, between=e, depth=4.0, size=0.06)
                    for e in (1.0, *(POTTING[p].permittivity[1] for p in ("wax", "epoxy"))))
    for found, p in zip(filled, ("wax", "epoxy"), strict=True):
        assert found / air == pytest.approx(POTTING[p].kappa, abs=0.06)  # from section to section, a narrow one
