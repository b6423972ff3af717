"""The figures of a pickup in one archive, each as PNG and as SVG."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING
from zipfile import ZIP_DEFLATED, ZipFile

from ..output.figure_files import save_figure

if TYPE_CHECKING:
    from ..pickup import Pickup


def figures_archive(pickup: Pickup, progress: Callable[[str, float], None] = lambda stage, share: None) -> bytes:
    """A ZIP archive with the drawing and the figures of `predict` and `impedance`."""
    made = {"drawing": pickup.drawing(), **pickup.prediction(progress=progress).figures(),
            **pickup.impedance(progress).figures(pickup.case.title)}
    out = BytesIO()
    with TemporaryDirectory() as folder, ZipFile(out, "w", ZIP_DEFLATED) as archive:
        for i, (name, figure) in enumerate(made.items()):
            progress("figures", i / len(made))
            paths = [Path(folder, f"{name}.{ending}") for ending in ("png", "svg")]
            save_figure(figure, *paths)
            for path in paths:
                archive.write(path, path.name)
    return out.getvalue()
