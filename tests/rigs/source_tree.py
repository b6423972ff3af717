"""The project's own folders and files, for the tests that look at the source itself."""

from __future__ import annotations

from pathlib import Path

ROOT = Path(__file__).parents[2]
CLOSE_BASS = str(ROOT / "tests/rigs/cases/close-bass.toml")
"""A harder case than what is shipped: close strings, poles of both polarities, charged before assembly."""

TOP = ("geometry", "solver", "postprocess", "cases")


def sources() -> list[Path]:
    """Every Python file of the four packages, relative to the root."""
    return sorted(path.relative_to(ROOT) for top in TOP for path in (ROOT / top).rglob("*.py"))


def packages() -> list[str]:
    """Import names of the folders with an ``__init__.py``."""
    return [dotted(path) for path in sources() if path.name == "__init__.py"]


def modules() -> list[str]:
    """Import names of all modules, packages included."""
    return [dotted(path) for path in sources()]


def dotted(path: Path) -> str:
    """``geometry/units.py`` → ``stringflux.geometry.units``."""
    parts = path.with_suffix("").parts
    return ".".join(("stringflux", *(parts[:-1] if parts[-1] == "__init__" else parts)))
