"""The figure of a body's shape is read on a phone: no text is too small there, and none is cut off."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.text import Text

from stringflux.postprocess.study_figures.shaped_body import BodyLook, body_figure

PHONE, LEAST = 360.0, 9.0  # px of its width, px of letters


def look(name: str, top: float, strings: int) -> BodyLook:
    """A blade as high as that, m."""
    def rim(half: float) -> tuple[np.ndarray]:
        return (np.array([(-half, -10e-3), (half, -10e-3), (half, top), (-half, top)]),)

    number = np.arange(strings)
    return BodyLook(name=name, side=rim(31e-3), end=rim(1.5e-3), strings=np.array(
        [10e-3 * (number - (strings - 1) / 2), np.full(strings, 4e-3), np.sin(number), 0.1 + 0.01 * number]))


@pytest.mark.parametrize("strings", [1, 6, 12])
def test_it_is_read_on_a_phone(strings: int) -> None:
    fig = body_figure([look("before", 1.6e-3, strings), look("after", 1.1e-3, strings)],
                      "Two coils side by side: screws, slugs and a bar magnet between their feet",
                      "aperture 5.93 mm → 5.71 mm, output S 104.5 mV per m/s → 108.6 mV per m/s")
    fig.draw_without_rendering()
    texts = [text for text in fig.findobj(Text) if text.get_visible() and text.get_text()]
    ticks = {label for ax in fig.axes for label in (*ax.get_xticklabels(), *ax.get_yticklabels())}  # some outside
    assert len(texts) > 20
    for text in texts:
        assert float(text.get_fontsize()) / 72 * PHONE / fig.get_size_inches()[0] >= LEAST, text.get_text()
        box = text.get_window_extent()
        if text not in ticks:
            assert box.x0 >= 0, text.get_text()
            assert box.x1 <= fig.bbox.width, text.get_text()
            assert box.y1 <= fig.bbox.height, text.get_text()
