"""What a balance draws is what it found."""

from __future__ import annotations

import numpy as np
import pytest

from rigs.cases.balance_formula import solved
from rigs.cases.drawn import drawn, line_of
from stringflux.cases.files.load import find_case, read_toml
from stringflux.cases.studies.balance.problem import BalanceRequest
from stringflux.cases.studies.balance.result import Balanced
from stringflux.geometry.errors import InputError


@pytest.fixture(scope="module")
def found() -> Balanced:
    """Four strings, one of which a limit holds back."""
    return solved(read_toml(find_case("bass-four")), [5.0, 0.0, 0.5, -6.0], BalanceRequest(by="poles", travel=1e-3))


def test_levels(found: Balanced) -> None:
    ax = drawn(found, "levels")
    heights = np.array([p.get_height() for p in ax.patches])  # type: ignore[attr-defined]
    assert heights[:8] == pytest.approx([*found.off_before, *found.off_after])
    assert ax.get_ylabel() == "over what is wanted (dB)"
    assert [t.get_text() for t in ax.get_legend().get_texts()][-1] == "after, held by a limit"
    gaps = [label.get_text().splitlines()[2] for label in ax.get_xticklabels()]
    assert gaps == [f"{1e3 * gap:.2f} mm" for gap in found.gaps[1]]


def test_movements(found: Balanced) -> None:
    ax = drawn(found, "movements")
    assert ax.get_ylabel() == "towards the strings (mm)"
    ends = [line_of(ax, 2 * i)[1][1] for i in range(len(found.movement))]
    assert ends == pytest.approx(1e3 * found.movement)
    for bar, movement, unknown in zip(ax.patches, found.movement, found.unknowns, strict=True):
        low = bar.get_y()  # type: ignore[attr-defined]
        high = low + bar.get_height()  # type: ignore[attr-defined]
        assert low - 1e-6 <= 1e3 * movement <= high + 1e-6
        assert max(-low, high) <= 1e3 * unknown.travel + 1e-9


def test_the_figure_is_made_of_both(found: Balanced) -> None:
    fig = found.figures()["setting"]
    fig.draw_without_rendering()
    marks = [drawn(found, what).get_ylabel() for what in ("levels", "movements")]
    assert [ax.get_ylabel() for ax in fig.axes] == marks
    with pytest.raises(InputError, match='what: received "tilt"; write levels, movements'):
        found.plot(what="tilt")
