"""The figure of a study: for every mix of inputs it builds, stays on its canvas, and its words do not collide."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.text import Annotation

from stringflux.postprocess.study_figures.trade_off import Measure, Varied, front, study_figure

RNG = np.random.default_rng(1)
COUNT = 36
GAP = np.tile(np.linspace(1.5, 3.5, 6), 6)
TURNS = np.repeat(np.linspace(4000, 8000, 6), 6)
OUTPUT = Measure(title="Output at equal pluck, rms, mean of the strings", unit="mV", values=TURNS / GAP**1.5 / 40,
                 better="more")
PULL = Measure(title="Largest shift of a string's pitch by the magnets", unit="cent", better="less",
               values=9 / GAP + RNG.uniform(0, 2, COUNT))
STILL = Measure(title="Resistance of the winding", unit="kΩ", values=np.full(COUNT, 6.2))


def numeric(name: str, values: np.ndarray, unit: str = "") -> Varied:
    return Varied(name=name, numbers=values, unit=unit, texts=tuple(f"{v:g} {unit}".strip() for v in values))


def named(count: int) -> Varied:
    return Varied(name="pole.part.material", texts=tuple(f"alnico-{i % count + 1}" for i in range(COUNT)))


GAPS, MANY = numeric("strings.gap", GAP, "mm"), numeric("coil.turns", TURNS)


def check(fig: Figure) -> None:
    """All that is drawn lies on the canvas; names of designs, labels and headings do not cover each other."""
    fig.draw_without_rendering()
    box, (width, height) = fig.get_tightbbox(), fig.get_size_inches()
    assert min(box.x0, box.y0) >= -0.01
    assert box.x1 <= width + 0.01
    assert box.y1 <= height + 0.01
    texts = [t for ax in fig.axes for t in (ax.title, ax._left_title, ax.xaxis.label, ax.yaxis.label)]
    texts += [t for ax in fig.axes for t in ax.texts] + list(fig.texts)
    texts = [t for t in texts if t.get_visible() and t.get_text()]
    boxes = [t.get_window_extent() for t in texts]
    for i, a in enumerate(boxes):
        for b in boxes[:i]:
            assert min(min(a.x1, b.x1) - max(a.x0, b.x0), min(a.y1, b.y1) - max(a.y0, b.y0)) < 1.0


@pytest.mark.parametrize(
    "varied",
    [[named(9)], [named(12)], [named(4), GAPS], [GAPS, MANY], [MANY, GAPS, named(3)]],
    ids=["nine", "twelve", "name-number", "numbers", "three"],
)
def test_trade_off(varied: list[Varied]) -> None:
    fig = study_figure(varied, [OUTPUT, PULL, STILL], "A case")
    check(fig)
    ax = fig.axes[0]
    assert ax.get_xlabel() == f"{PULL.title} (cent)\nless is better"
    assert ax.get_ylabel() == f"{OUTPUT.title} (mV)\nmore is better"
    drawn = np.vstack([np.asarray(c.get_offsets()) for c in ax.collections])
    assert len(drawn) == COUNT
    # every name that is written belongs to a design on the front
    best = front(OUTPUT, PULL)
    places = set(zip(PULL.values[best], OUTPUT.values[best], strict=True))
    names = [t for t in ax.texts if isinstance(t, Annotation)]
    assert names
    assert {t.xy for t in names} <= places
    assert len(fig.axes) == (2 if varied[0].numbers is not None else 1)  # the scale of colours


def test_against_one_number() -> None:
    fig = study_figure([GAPS], [OUTPUT, PULL, STILL], "A case")
    check(fig)
    shown = [ax for ax in fig.axes if ax.axison]
    assert [ax.get_title(loc="left").replace("\n", " ") for ax in shown] == [OUTPUT.title, PULL.title]
    assert [ax.get_ylabel() for ax in shown] == ["mV", "cent"]
    assert {ax.get_xlabel() for ax in shown} == {"strings.gap (mm)"}
    assert "not changed: resistance of the winding" in fig.texts[1].get_text()
    (line,) = shown[0].lines
    assert (np.diff(line.get_xdata()) >= 0).all()


def test_a_figure_that_nothing_moves() -> None:
    check(study_figure([GAPS], [STILL, STILL], "A case"))
    check(study_figure([named(1)], [STILL, STILL], "A case"))


def test_designs_without_one_of_the_figures_are_left_out() -> None:
    values = PULL.values.copy()
    values[::2] = np.nan
    holes = Measure(title=PULL.title, unit=PULL.unit, values=values, better="less")
    fig = study_figure([GAPS, named(3)], [OUTPUT, holes])
    check(fig)
    assert sum(len(np.asarray(c.get_offsets())) for c in fig.axes[0].collections) == COUNT // 2


def test_front_against_its_definition() -> None:
    better = {"more": -1.0, "less": 1.0, "": 1.0}
    for first, second in (("more", "less"), ("less", "more"), ("", "less")):
        a, b = RNG.integers(0, 12, 80).astype(float), RNG.integers(0, 12, 80).astype(float)
        a[3] = np.nan
        found = front(Measure(title="a", unit="V", values=a, better=first),
                      Measure(title="b", unit="dB", values=b, better=second))
        costs = np.column_stack([better[first] * a, better[second] * b])
        for i, cost in enumerate(costs):
            over = (costs <= cost).all(axis=1) & (costs < cost).any(axis=1)
            assert found[i] == (np.isfinite(cost).all() and not over.any())
