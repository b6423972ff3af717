"""Cases: reading, computing and the command line. `from stringflux.cases import load_case, solve`."""

from __future__ import annotations

from importlib import import_module
from typing import Any

__all__ = ["Pickup", "load_case", "predict", "shipped_cases", "solve"]

_HOME = {"Pickup": ".pickup", "load_case": ".files.load", "predict": ".jobs.prediction",
         "shipped_cases": ".files.load", "solve": ".pickup"}


def __getattr__(name: str) -> Any:
    if name in _HOME:  # late, so that `stringflux --help` needs none of the numerics
        # kept under its name, which the import of a submodule called the same has just taken
        globals()[name] = value = getattr(import_module(_HOME[name], __name__), name)
        return value
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
