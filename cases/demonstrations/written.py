"""A demonstration as files in a folder.

    moving.html, moving.gif     the moving picture
    in-words.txt                the law with this case's numbers, line by line
    slide-NAME.png, .svg        16:9; slide-NAME-dark.png, .svg on a dark ground
    NAME.csv                    every series, its units in the head
    NAME.wav                    sound, where there is any
    demonstration.json          the numbers in SI
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from stringflux.geometry.errors import OutputError
from stringflux.postprocess.demonstrations.gif import gif_of
from stringflux.postprocess.demonstrations.palette import recoloured

from ..files.whole import beside
from ..output.csv_table import csv_text, head
from ..output.folder import FolderKind

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from stringflux.postprocess.demonstrations.parts import Series
    from stringflux.postprocess.demonstrations.record import Demonstration

MARK = "demonstration.json"
KIND = FolderKind(MARK, r"moving\.(html|gif)|in-words\.txt|slide-[a-z0-9-]+\.(png|svg)|[a-z0-9-]+\.(csv|wav)")
_PLAIN = str.maketrans({"µ": "u", "°": "deg", "²": "2", "Ω": "ohm"})


def write_demonstration(folder: Path, made: Demonstration, document: Callable[[list[str]], str],
                        progress: Callable[[str, float], None]) -> None:
    """Write a demonstration into an empty folder; `document` makes the text of its JSON from the names of the files.

    Raises
    ------
    OutputError
        When the disk refuses.
    """
    try:
        progress("words and tables", 0.6)
        (folder / "in-words.txt").write_text(made.text(), encoding="utf-8")
        (folder / "moving.html").write_text(made.page(), encoding="utf-8")
        for series in made.series:
            (folder / f"{series.name}.csv").write_text(series_csv(series), encoding="utf-8", newline="")
        if made.sounds:
            from stringflux.postprocess.plucked.wav import write_sounds

            write_sounds(folder, made.sounds, made.rate)
        for dark in (False, True):
            progress("slides", 0.75 if dark else 0.65)
            for name, figure in made.figures(dark=dark).items():
                if dark:
                    save_slide(figure, folder / f"slide-{name}-dark.png")
                    light = (folder / f"slide-{name}.svg").read_text(encoding="utf-8")
                    (folder / f"slide-{name}-dark.svg").write_text(recoloured(light), encoding="utf-8")
                else:
                    save_slide(figure, folder / f"slide-{name}.png", folder / f"slide-{name}.svg")
        progress("moving picture", 0.9)
        (folder / "moving.gif").write_bytes(gif_of(made.moving, made.title))
        names = [*(p.name for p in folder.iterdir()), MARK]
        (folder / MARK).write_text(document(names), encoding="utf-8")
    except OSError as error:
        raise OutputError(f"--out: the results cannot be written ({error.strerror or error})") from None


def series_csv(series: Series) -> str:
    """A series as text; units in plain letters in its head."""
    heads = [head(c.name, c.unit.translate(_PLAIN)) for c in series.columns]
    rows = [[float(v) for v in row] for row in zip(*(c.shown for c in series.columns), strict=True)]
    return csv_text(heads, rows)


def save_slide(figure: Figure, *paths: Path) -> None:
    """Save a slide: 1280 × 720 as PNG, text that stays text as SVG."""
    import matplotlib

    with matplotlib.rc_context({"svg.hashsalt": "stringflux", "svg.fonttype": "none", "savefig.facecolor": "auto"}):
        figure.set_layout_engine("none")
        for path in paths:
            with beside(path) as temp:
                figure.savefig(temp, metadata={"Date": None} if path.suffix == ".svg" else None)
