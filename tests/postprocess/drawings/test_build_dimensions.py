"""Sizes of a build are those of its case, each once, inside the picture; strings have their numbers."""

from __future__ import annotations

import pytest
from matplotlib.axes import Axes

from stringflux.cases import load_case
from stringflux.postprocess.drawings.to_scale import drawing

ABOVE, ALONG, ACROSS = range(3)
# What a ruler reads on the parts as the case writes them, mm.
SIZES = {
    "side-by-side-six": ([("10.4", ABOVE), ("18", ABOVE), ("62", ALONG), ("3.2", ALONG), ("16", ALONG),
                          ("1.6", ALONG), ("12.6", ACROSS), ("∅ 4.8", ACROSS)]),
    "bar-screws-six": [("16.4", ABOVE), ("5.6", ABOVE), ("9.4", ALONG), ("13.2", ALONG), ("4", ALONG), ("62", ALONG),
                       ("64", ALONG), ("9", ACROSS), ("14", ACROSS)],
    "stacked-six": [("65.8", ABOVE), ("7.6", ALONG), ("20", ALONG)],
    "blade-six": [("75", ABOVE), ("12", ALONG), ("8.6", ALONG), ("5", ALONG), ("3", ACROSS), ("10", ACROSS)],
}


def texts(ax: Axes) -> list[str]:
    return [t.get_text() for t in ax.texts if t.get_text().strip()]


@pytest.mark.parametrize("name", SIZES)
def test_a_build_tells_its_sizes_and_its_strings(name: str) -> None:
    case = load_case(name)
    fig = drawing(case)
    views = fig.axes[:3]
    for size, view in SIZES[name]:
        assert size in texts(views[view]), (size, texts(views[view]))
    for view in (ABOVE, ALONG):
        assert [t for t in texts(views[view]) if t in "123456"][:6] == list("123456")
    assert "from south to north pole" in [t.get_text() for t in fig.legends[0].get_texts()]
    fig.draw_without_rendering()
    for ax in views:
        inside = ax.get_window_extent()
        for t in ax.texts:
            if t.get_text().strip():
                box = t.get_window_extent()
                assert inside.x0 <= box.x0 <= box.x1 <= inside.x1, t.get_text()
                assert inside.y0 <= box.y0 <= box.y1 <= inside.y1, t.get_text()


@pytest.mark.parametrize("name", SIZES)
def test_no_size_lies_on_another(name: str) -> None:
    fig = drawing(load_case(name))
    fig.draw_without_rendering()
    for ax in fig.axes[:3]:
        boxes = [(t.get_text(), t.get_window_extent()) for t in ax.texts if t.get_text().strip()]
        for i, (text, box) in enumerate(boxes):
            for other, second in boxes[i + 1:]:
                assert not box.overlaps(second), (name, text, other)
