"""A moving picture as GIF, for slides that play no page: the views, and the traces with a cursor."""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING, Any

import matplotlib
import numpy as np
import numpy.typing as npt
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure

from .palette import LIGHT, Palette
from .quantities import scale
from .slides import DPI, slide_style, time_unit_of, trace_panel, view_panel, view_shapes

if TYPE_CHECKING:
    from .moving import MovingPicture

FRAMES = 32
COLOURS = 48
_WIDTH, _HEIGHT = 960, 540  # dots
_FONT = 10.0  # points; 14 dots
_HEAD = 36  # dots for the title
_SIZES: dict[Any, Any] = dict.fromkeys(("font.size", "axes.labelsize", "xtick.labelsize", "ytick.labelsize",
                                        "legend.fontsize", "axes.titlesize"), _FONT)

Image8 = npt.NDArray[np.uint8]


def gif_of(moving: MovingPicture, title: str, palette: Palette = LIGHT) -> bytes:
    """The file, which plays without end; some 0.3 to 2 MB."""
    from PIL import Image

    with slide_style(palette), matplotlib.rc_context(_SIZES):
        images = _images(moving, title, palette)
    frames = [Image.fromarray(image) for image in images]
    first = frames[len(frames) // 4].quantize(COLOURS, dither=Image.Dither.NONE)
    small = [frame.quantize(palette=first, dither=Image.Dither.NONE) for frame in frames]
    out = BytesIO()
    small[0].save(out, "GIF", save_all=True, append_images=small[1:], loop=0, optimize=False, disposal=1,
                  duration=round(1000 * moving.seconds / len(frames)))
    return out.getvalue()


def _images(moving: MovingPicture, title: str, palette: Palette) -> list[Image8]:
    """Every frame: the views drawn anew, the traces once, with a cursor over them."""
    left = round(_WIDTH * (0.42 if len(moving.views) == 1 else 0.54))
    head, (right, columns, rows) = _head(title), _traces(moving, palette, _WIDTH - left)
    figure, canvas = _empty(left, _HEIGHT - _HEAD)
    axes = np.atleast_1d(figure.subplots(1, len(moving.views)))
    cursor = np.asarray(255 * np.array(to_rgb(palette.curves[1])), dtype=np.uint8)
    images: list[Image8] = []
    for ax, view in zip(axes, moving.views, strict=True):
        view_panel(ax, view, palette)
        ax.set_axis_off()
        ax.set_title(view.title, y=1.0)  # else the axis is measured for it in every frame
    _drawn(canvas)
    figure.set_layout_engine("none")  # nothing jumps from frame to frame
    for k in np.linspace(0, moving.time.size - 1, FRAMES, endpoint=False).astype(int):
        for ax, view in zip(axes, moving.views, strict=True):
            for old in (*ax.lines, *ax.patches, *ax.texts, *ax.collections):
                old.remove()
            view_shapes(ax, view, palette, int(k))
        image = _drawn(canvas)
        told = right.copy()
        for top, bottom in rows:
            told[top:bottom, columns[k] - 1:columns[k] + 1] = cursor
        images.append(np.concatenate([head, np.concatenate([image, told], axis=1)]))
    return images


def _empty(width: int, height: int) -> tuple[Figure, FigureCanvasAgg]:
    figure = Figure(figsize=(width / DPI, height / DPI), dpi=DPI, layout="constrained")
    return figure, FigureCanvasAgg(figure)


def _drawn(canvas: FigureCanvasAgg) -> Image8:
    canvas.draw()  # type: ignore[no-untyped-call]
    return np.asarray(canvas.buffer_rgba())[..., :3].copy()  # type: ignore[no-untyped-call]


def _head(title: str) -> Image8:
    figure, canvas = _empty(_WIDTH, _HEAD)
    figure.text(0.015, 0.4, title, fontsize=14, fontweight="bold", va="center")
    return _drawn(canvas)


def _traces(moving: MovingPicture, palette: Palette,
            width: int) -> tuple[Image8, npt.NDArray[np.int64], list[tuple[int, int]]]:
    """The traces, the column of every time, and from which row to which each panel reaches."""
    figure, canvas = _empty(width, _HEIGHT - _HEAD)
    panels = np.atleast_1d(figure.subplots(len(moving.traces), 1, sharex=True))
    unit, told = time_unit_of(moving), list[list[str]]()
    for ax, trace in zip(panels, moving.traces, strict=True):
        trace_panel(ax, moving, trace, palette, time_unit=unit)
        ax.set(xlabel="", ylabel="")
        names = [c.name for c in trace.curves]
        fresh = len(names) > 1 and names not in told
        told.append(names)
        if ax.legend_ is not None:
            ax.legend_.remove()
        if fresh:  # over the panel, in a line of its own
            ax.legend(loc="lower right", bbox_to_anchor=(1.0, 1.0), ncols=len(names), borderaxespad=0.0,
                      borderpad=0.1, columnspacing=1.0, handlelength=1.6)
        head = f"{trace.name} ({trace.unit})" if trace.unit else trace.name
        ax.set_title(f"{head}\n " if fresh else head)
    panels[-1].set_xlabel(f"time ({unit})")
    image = _drawn(canvas)
    times = np.stack([moving.time * scale(unit), np.zeros(moving.time.size)], axis=1)
    at = panels[0].transData.transform(times)[:, 0]
    boxes = [ax.get_window_extent() for ax in panels]
    height = image.shape[0]
    return image, np.clip(at.round().astype(np.int64), 1, width - 1), [
        (height - round(b.y1), height - round(b.y0)) for b in boxes]
