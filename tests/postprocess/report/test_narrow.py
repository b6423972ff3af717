"""A figure for a phone has all its panels, one under the other, and nothing runs out of it or into another text."""

from __future__ import annotations

import pytest
from matplotlib.figure import Figure

from stringflux.postprocess.figures.style import heading, house_style, new_figure, room_for_heading
from stringflux.postprocess.report.narrow import WIDTH, narrowed


def wide(rows: int, columns: int) -> Figure:
    with house_style():
        fig = new_figure(8.0, 6.0)
        for i, ax in enumerate(fig.subplots(rows, columns, sharex=True, squeeze=False).flat):
            ax.plot([0, 1], [0, i], label=f"line {i}")
            ax.set(title=f"Panel {i}", xlabel="time (ms)", ylabel="voltage (mV)")
            ax.legend(loc="lower right", bbox_to_anchor=(1.0, 1.0))
        fig.supylabel("all panels")
        heading(fig, "A title", "a line under it that is far too long for a phone and goes on and on, on and on")
        room_for_heading(fig)
    return fig


@pytest.mark.parametrize(("rows", "columns"), [(3, 2), (3, 1), (1, 1)])
def test_panels_stand_under_each_other(rows: int, columns: int) -> None:
    fig = narrowed(wide(rows, columns))
    fig.draw_without_rendering()
    assert fig.get_size_inches()[0] == WIDTH
    assert len(fig.axes) == rows * columns
    boxes = [ax.get_tightbbox() for ax in fig.axes]
    for box in boxes:
        assert box is not None
        assert fig.bbox.x0 <= box.x0
        assert box.x1 <= fig.bbox.x1 + 1
    for upper, lower in zip(fig.axes, fig.axes[1:], strict=False):
        assert upper.get_window_extent().y0 > lower.get_window_extent().y1
    title, under = (text for text in fig.texts if text.get_text() != "all panels")
    first = boxes[0]
    assert first is not None
    assert title.get_window_extent().y0 > under.get_window_extent().y1 > under.get_window_extent().y0 > first.y1
    assert under.get_window_extent().x1 <= fig.bbox.x1
