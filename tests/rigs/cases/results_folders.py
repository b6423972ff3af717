"""Results folders that tests replace, and what is in them."""

from __future__ import annotations

import json
from pathlib import Path

OURS = {"program": "stringflux", "files": ["prediction.json", "scene.png", "../outside", "mine.txt"]}


def old_results(target: Path) -> None:
    """Results of an earlier run, and files of the person's; one of them is said to be ours."""
    target.mkdir()
    (target / "prediction.json").write_text(json.dumps(OURS), encoding="utf-8")
    (target / "scene.png").write_text("old picture", encoding="utf-8")
    (target / "mine.txt").write_text("the person's own", encoding="utf-8")


def contents(folder: Path) -> dict[str, str]:
    return {p.name: p.read_text(encoding="utf-8") for p in folder.iterdir()}
