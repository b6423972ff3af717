"""Which program computes: its version and a checksum of its files."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.metadata import version
from pathlib import Path

ROOT = Path(__file__).parents[2]
FOLDERS = ("geometry", "solver", "postprocess", "cases")
KINDS = (".py", ".toml", ".csv")


@cache
def code_version() -> str:
    """Version and checksum, "0.1.0+1f0c9a2b3d4e": results of different ones may differ and are never mixed."""
    total = hashlib.sha256()
    for folder in FOLDERS:
        files = [path for path in (ROOT / folder).rglob("*") if path.suffix in KINDS]
        for path in sorted(files, key=lambda p: p.relative_to(ROOT).as_posix()):
            total.update(path.relative_to(ROOT).as_posix().encode() + b"\0")
            total.update(hashlib.sha256(path.read_bytes()).digest())
    return f"{version('stringflux')}+{total.hexdigest()[:12]}"
