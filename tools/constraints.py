"""Renew constraints.txt: one set of versions that has wheels for every Python we run on.

    make constraints

The newest versions that pip finds for the oldest Python hold for all the others, or the run stops and says which one
they don't hold for. Pins bind only what is installed anyway: what one system alone wants stays free.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[1]
PYTHONS = ("3.11", "3.12", "3.13", "3.14")
HEAD = """\
# The versions that stringflux is tested with, on Python {oldest} to {newest}. `make` installs these;
# `make constraints` renews them. With pip alone: pip install -c constraints.txt .
"""


def requirements() -> list[str]:
    """What pyproject.toml asks for, with all extras and the builder."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    extras = project["project"]["optional-dependencies"].values()
    return [*project["project"]["dependencies"], *(line for extra in extras for line in extra),
            *project["build-system"]["requires"]]


def resolved(python: str, pins: list[str]) -> list[str]:
    """``name==version`` of all that would be installed for one Python, from wheels alone."""
    with tempfile.TemporaryDirectory() as place:
        kept, report = Path(place, "pins.txt"), Path(place, "report.json")
        kept.write_text("\n".join(pins), encoding="utf-8")
        done = subprocess.run(
            [sys.executable, "-m", "pip", "install", "--dry-run", "--ignore-installed", "--quiet", "--no-input",
             "--only-binary=:all:", "--python-version", python, "--target", place, "--constraint", str(kept),
             "--report", str(report), *requirements()],
            check=False,
        )
        if done.returncode:
            raise SystemExit(f"constraints.txt stays as it was: there is no such set of wheels for Python {python}")
        found = [item["metadata"] for item in json.loads(report.read_text(encoding="utf-8"))["install"]]
    return sorted(f"{item['name'].lower().replace('_', '-')}=={item['version']}" for item in found)


def main() -> None:
    """Resolve for the oldest Python, hold the others against it, write."""
    pins: list[str] = []
    for python in PYTHONS:
        pins = sorted({*pins, *resolved(python, pins)})
        print(f"Python {python}: {len(pins)} packages pinned", flush=True)
    head = HEAD.format(oldest=PYTHONS[0], newest=PYTHONS[-1])
    (ROOT / "constraints.txt").write_text(head + "\n".join(pins) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
