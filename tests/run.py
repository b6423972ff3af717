"""Runs a script of tests/measure: python tests/run.py settings baritone-six; without a name it lists them.

With --list a script is only loaded, all that it names with it, and says what it prints.

The folder of this file is on the path, so that the scripts find `rigs` and each other.
"""

from __future__ import annotations

import runpy
import sys
from importlib import import_module
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


def loaded(name: str) -> str:
    """Load a script, and give the first line of its docstring."""
    return (import_module(scripts()[name]).__doc__ or "").strip().splitlines()[0]


def main() -> None:
    name = sys.argv[1] if len(sys.argv) > 1 else ""
    if name not in scripts():
        sys.exit("\n".join([f"no script {name!r}; there are:" if name else "scripts:", *scripts()]))
    if "--list" in sys.argv:
        print(loaded(name))
        return
    del sys.argv[0]
    runpy.run_module(scripts()[name], run_name="__main__", alter_sys=True)


if __name__ == "__main__":
    main()
