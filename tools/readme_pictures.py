"""The pictures of the README, small, from a results folder.

    python tools/readme_pictures.py results/baritone-six
"""

from __future__ import annotations

import sys
from pathlib import Path

from PIL import Image

WIDTH = {"scene": 800, "section": 640, "balance": 640}  # pixels
FEW_COLOURS = {"balance": 64}  # where that does no harm


def main() -> None:
    folder, docs = Path(sys.argv[1]), Path(__file__).parents[1] / "docs"
    docs.mkdir(exist_ok=True)
    for name, width in WIDTH.items():
        with Image.open(folder / f"{name}.png") as picture:
            height = round(picture.height * width / picture.width)
            small = picture.convert("RGB").resize((width, height), Image.Resampling.LANCZOS)
        if name in FEW_COLOURS:
            small = small.quantize(FEW_COLOURS[name], dither=Image.Dither.NONE)
        small.save(docs / f"{name}.png", optimize=True)


if __name__ == "__main__":
    main()
