"""Figures as files: the same figure gives the same SVG."""

from __future__ import annotations

from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import IO, TYPE_CHECKING

from ..files.whole import beside

if TYPE_CHECKING:
    from collections.abc import Iterator

    from matplotlib.figure import Figure

DPI = 150


def save_figure(figure: Figure, *paths: Path) -> None:
    """Save a figure in the formats that the names ask for."""
    with _settled(figure):
        for path in paths:
            with beside(path) as temp:
                _write(figure, temp, path.suffix[1:])


def figure_contents(figure: Figure, *formats: str) -> dict[str, bytes]:
    """What the files of a figure would hold, by format: "png", "svg" and others of matplotlib's."""
    contents = {}
    with _settled(figure):
        for kind in formats:
            data = BytesIO()
            _write(figure, data, kind)
            contents[kind] = data.getvalue()
    return contents


@contextmanager
def _settled(figure: Figure) -> Iterator[None]:
    """Places are found once, not anew for every file, and nothing is drawn for it: that is half the work."""
    import matplotlib

    with matplotlib.rc_context({"svg.hashsalt": "stringflux", "svg.fonttype": "none"}):
        if (layout := figure.get_layout_engine()) is not None:
            layout.execute(figure)
        figure.set_layout_engine("none")
        yield


def _write(figure: Figure, to: Path | IO[bytes], kind: str) -> None:
    figure.savefig(to, format=kind or None, dpi=DPI, metadata={"Date": None} if kind == "svg" else None)
