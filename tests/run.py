"""Runs a script of tests/measure: python tests/run.py settings baritone-six; without a name it lists them.

The folder of this file is on the path, so that the scripts find `rigs` and each other.
"""

from __future__ import annotations

import runpy
import sys
from pathlib import Path

MEASURE = Path(__file__).with_name("measure")


def scripts() -> dict[str, str]:
    """What can be run, and its module: `settings`, `bench` (a folder's own `run.py`), `bench.studies`."""
    found = {}
    for path in sorted(MEASURE.rglob("*.py")):
        module = ".".join(path.relative_to(MEASURE).with_suffix("").parts)
        if '__name__ == "__main__"' in path.read_text(encoding="utf-8"):
            found[module.removesuffix(".run")] = f"measure.{module}"
    return found


def main() -> None:
    name = sys.argv[1] if len(sys.argv) > 1 else ""
    if name not in scripts():
        sys.exit("\n".join([f"no script {name!r}; there are:" if name else "scripts:", *scripts()]))
    del sys.argv[0]
    runpy.run_module(scripts()[name], run_name="__main__", alter_sys=True)


if __name__ == "__main__":
    main()
