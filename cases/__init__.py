"""Cases: reading, computing and the command line. `from stringflux.cases import load_case, solve`."""

from __future__ import annotations

from importlib import import_module
from typing import Any

__all__ = ["Damping", "Pickup", "Pluck", "load_case", "material", "predict", "shipped_cases", "solve"]

_HOME = {"Damping": "stringflux.postprocess.plucked.modes", "Pickup": ".pickup",
         "Pluck": "stringflux.postprocess.plucked.modes", "load_case": ".files.load", "material": ".jobs.material",
         "predict": ".jobs.prediction", "shipped_cases": ".files.load", "solve": ".pickup"}


def __getattr__(name: str) -> Any:
    if name in _HOME:  # late, so that `stringflux --help` needs none of the numerics
        # kept under its name, which the import of a submodule called the same has just taken
        globals()[name] = value = getattr(import_module(_HOME[name], __name__), name)
        return value
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
