"""What a comparison of designs hands out and draws is what came out of them."""

from __future__ import annotations

import numpy as np
import pytest

from rigs.cases.drawn import drawn, line_of
from stringflux.cases.studies.compare.command import CompareOptions, comparison
from stringflux.cases.studies.compare.result import ComparedDesigns
from stringflux.cases.studies.engine.task import Outcome
from stringflux.geometry.errors import InputError


def made_up(*vary: str, failed: int = -1) -> ComparedDesigns:
    """S and L of every design by a formula."""
    asked = comparison(CompareOptions(which="bench-single", vary=vary, rank=["sensitivity", "inductance"]))
    outcomes = [Outcome(number=i, values={"sensitivity": 0.06 / (i + 1), "inductance": 2.0 - 0.1 * i, "balance": 0.0})
                for i in range(len(asked.plan))]
    if failed >= 0:
        outcomes[failed] = Outcome(number=failed, failure="it did not settle")
    return ComparedDesigns(asked=asked, outcomes=tuple(outcomes))


def test_over_one_number() -> None:
    found = made_up("strings.gap=1.5mm:3mm:4", failed=2)
    assert found.order == [0, 1, 3]
    assert found.best == {0, 1, 3}
    assert np.isnan(found.values("sensitivity")[2])
    ax = drawn(found, "sensitivity")
    gap, S = line_of(ax)
    assert gap == pytest.approx([1.5, 2.0, 3.0])
    assert pytest.approx(1e3 * found.values("sensitivity")[[0, 1, 3]]) == S
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("gap of the strings (mm)", "mV per m/s")
    assert line_of(drawn(found, ""))[1] == pytest.approx(S)
    assert list(found.figures()) == ["trade_off"]


def test_trade_off() -> None:
    found = made_up("pole.part.material=alnico-2,alnico-5", "strings.gap=2mm,3mm")
    ax = drawn(found, "trade_off")
    points = np.vstack([np.asarray(c.get_offsets()) for c in ax.collections])
    assert sorted(points[:, 0]) == pytest.approx(sorted(found.values("inductance")))
    assert sorted(points[:, 1]) == pytest.approx(sorted(1e3 * found.values("sensitivity")))
    assert ax.get_xlabel() == "Inductance, poles in place (H)\nless is better"
    assert ax.get_ylabel() == "Sensitivity, mean of the strings (mV per m/s)\nmore is better"
    with pytest.raises(InputError, match='"sensitivity", but a figure is drawn over one varied number alone'):
        found.plot(what="sensitivity")
    with pytest.raises(InputError, match='what: received "nought"; write trade_off'):
        found.plot(what="nought")


def test_nothing_is_drawn_of_designs_that_failed() -> None:
    found = made_up("strings.gap=2mm", failed=0)
    assert found.figures() == {}
    assert found.best == frozenset()
    with pytest.raises(InputError, match="but no design could be computed"):
        found.plot()
